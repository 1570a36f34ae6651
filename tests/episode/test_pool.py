"""The pool loses at most the one task that kills, hangs or fills its worker, and leaves no process behind."""

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from cel_check.episode.pool import AHEAD, START_METHOD, Plan, Pool, PoolBrokenError, Stop, run_here

HERE = Path(__file__).resolve().parent


def die_once(number):
    """Die the first time, and leave a mark so that the second try is well."""
    mark = Path(number)
    if not mark.exists():
        mark.touch()
        os._exit(9)
    return "second try"


def fill(number):
    raise MemoryError


def refuse(number):
    raise ValueError("no good")


DEEDS = {
    "say": lambda number: number,
    "die": lambda number: os.kill(os.getpid(), signal.SIGKILL),
    "segfault": lambda number: os.kill(os.getpid(), signal.SIGSEGV),
    "leave": lambda number: os._exit(3),
    "hang": lambda number: time.sleep(600),
    "fill": fill,
    "raise": refuse,
    "unsendable": lambda number: lambda: number,
    "once": die_once,
    "note": lambda number: Path(number).write_text(str(os.getpid()), encoding="utf-8"),
    "method": lambda number: multiprocessing.get_start_method(allow_none=True),
}


def act(task):
    """Do what a task says; tasks are (deed, number)."""
    deed, number = task
    return DEEDS[deed](number)


def lost(task, reason):
    return f"lost {task[0]}: {reason}"


def plan(jobs=2, seconds=60.0, **more):
    return Plan(function=act, lost=lost, seconds=lambda task: seconds, jobs=jobs, **more)


def run_in_workers(tasks, the_plan):
    with Pool(the_plan) as pool:
        yield from pool.run(tasks)


def results(tasks, the_plan):
    done = dict(run_in_workers(tasks, the_plan))
    assert sorted(done) == list(range(len(tasks)))
    return [done[place] for place in range(len(tasks))]


def numbers(count):
    return [("say", number) for number in range(count)]


@pytest.mark.parametrize(
    ("deed", "reason"),
    [
        ("die", "SIGKILL"),
        ("segfault", "SIGSEGV"),
        ("leave", "exit status 3"),
        ("fill", "ran out of memory"),
        ("raise", "ValueError: no good"),
        ("unsendable", "cannot be sent"),
    ],
)
def test_a_bad_task_costs_only_itself(deed, reason):
    tasks = numbers(12)
    tasks[5] = (deed, 5)
    answers = results(tasks, plan())
    assert answers[:5] + answers[6:] == [number for number in range(12) if number != 5]
    assert answers[5].startswith(f"lost {deed}: ")
    assert reason in answers[5]


def test_a_hung_task_costs_only_itself():
    tasks = numbers(6)
    tasks[2] = ("hang", 2)
    the_plan = Plan(function=act, lost=lost, seconds=lambda task: 0.5 if task[0] == "hang" else 60.0, jobs=2)
    answers = results(tasks, the_plan)
    assert answers[2] == "lost hang: it took longer than 0.5 s"
    assert answers[3:] == [3, 4, 5]


def test_many_bad_tasks_and_one_worker():
    tasks = [(deed, 0) for deed in ("die", "leave", "fill", "raise")] * 2 + numbers(4)
    answers = results(tasks, plan(jobs=1))
    assert all(answer.startswith("lost") for answer in answers[:8])
    assert answers[8:] == [0, 1, 2, 3]


def test_a_task_that_dies_once_is_tried_again(tmp_path):
    answers = results([("once", str(tmp_path / "mark")), *numbers(3)], plan())
    assert answers == ["second try", 0, 1, 2]


@pytest.mark.parametrize("jobs", [1, 2, 5])
def test_the_answer_does_not_depend_on_the_number_of_workers(jobs):
    assert results(numbers(20), plan(jobs=jobs)) == list(range(20))


def test_one_pool_serves_batch_after_batch():
    with Pool(plan()) as pool:
        first = dict(pool.run(numbers(4)))
        before = {child.pid for child in multiprocessing.active_children()}
        second = dict(pool.run([("say", "a"), ("die", 0), ("say", "b")]))
        third = dict(pool.run(numbers(3)))
    assert first == {0: 0, 1: 1, 2: 2, 3: 3}
    assert before
    assert second[0] == "a"
    assert second[2] == "b"
    assert "SIGKILL" in second[1]
    assert third == {0: 0, 1: 1, 2: 2}
    assert multiprocessing.active_children() == []


def test_no_tasks_no_workers():
    assert list(run_in_workers([], plan())) == []


def test_tasks_are_taken_as_workers_come_free_and_some_while_the_first_start():
    taken = 0

    def endless():
        nonlocal taken
        while True:
            taken += 1
            yield ("say", taken)

    answers = run_in_workers(endless(), plan(jobs=2))
    for _ in range(10):
        next(answers)
    assert taken <= AHEAD
    for _ in range(AHEAD):
        next(answers)
    # All these are answered; two may be in hand and one waits.
    assert taken <= 10 + AHEAD + 3
    answers.close()


def test_a_worker_has_its_next_task_before_its_last_answer_is_taken_in(tmp_path):
    answers = run_in_workers([("say", 1), ("note", str(tmp_path / "next"))], plan(jobs=1))
    assert next(answers) == (0, 1)
    until = time.monotonic() + 60.0
    while not (tmp_path / "next").exists() and time.monotonic() < until:
        time.sleep(0.01)
    assert (tmp_path / "next").exists()
    answers.close()


def test_an_error_in_the_list_of_tasks_loses_no_answer():
    def short():
        yield from numbers(AHEAD + 3)
        raise ValueError("the list cannot be read on")

    got = []
    with pytest.raises(ValueError, match="read on"):
        got.extend(run_in_workers(short(), plan(jobs=1)))
    assert len(got) >= AHEAD + 1


def test_workers_are_spawned():
    assert START_METHOD == "spawn"
    assert results([("method", 0)], plan(jobs=1)) == ["spawn"]


def broken_preparation():
    raise ImportError("no such library")


def test_workers_that_never_start_end_the_run(capfd):
    with pytest.raises(PoolBrokenError, match="no worker process can be started"):
        list(run_in_workers(numbers(3), plan(prepare=broken_preparation)))


def test_closing_the_results_ends_the_workers():
    answers = run_in_workers([("say", 1), ("hang", 2), ("hang", 3)], plan(jobs=2))
    assert next(answers) == (0, 1)
    answers.close()
    assert multiprocessing.active_children() == []


def test_a_stop_keeps_what_is_finished_and_ends_the_workers():
    stop = Stop()
    kept = []
    for place, answer in run_in_workers([("say", 0), ("hang", 1), ("say", 2), ("hang", 3)], plan(stop=stop)):
        kept.append((place, answer))
        if len(kept) == 2:
            stop.request()
    assert kept == [(0, 0), (2, 2)]
    assert multiprocessing.active_children() == []


def test_a_stop_before_the_start_runs_nothing():
    stop = Stop()
    stop.request()
    stop.request()
    assert list(run_in_workers(numbers(3), plan(stop=stop))) == []
    assert list(run_here(numbers(3), plan(stop=stop))) == []


def test_in_this_process_an_exception_costs_only_its_task():
    done = dict(run_here([("say", 0), ("raise", 1), ("fill", 2), ("say", 3)], plan()))
    assert done[0] == 0
    assert done[3] == 3
    assert done[1] == "lost raise: ValueError: no good"
    assert done[2].startswith("lost fill: MemoryError")


def gone(pid):
    """Return whether a process is gone (or only waits to be buried)."""
    status = Path(f"/proc/{pid}/stat")
    try:
        return status.read_text(encoding="utf-8").rpartition(")")[2].split()[0] == "Z"
    except (FileNotFoundError, ProcessLookupError):
        return True


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="reads /proc")
def test_a_killed_supervisor_leaves_no_worker_behind(tmp_path):
    note = tmp_path / "pid"
    script = tmp_path / "run.py"
    script.write_text(
        "import sys\n"
        f"sys.path[:0] = [{str(HERE)!r}, {str(HERE.parents[1])!r}]\n"
        "import test_pool\n"
        "if __name__ == '__main__':\n"
        f"    tasks = [('note', {str(note)!r}), ('hang', 0)]\n"
        "    for done in test_pool.run_in_workers(tasks, test_pool.plan(jobs=1)):\n"
        "        print(done, flush=True)\n",
        encoding="utf-8",
    )
    run = subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE)
    assert run.stdout is not None
    run.stdout.readline()
    worker = int(note.read_text(encoding="utf-8"))
    assert not gone(worker)
    run.kill()
    run.communicate()
    deadline = time.monotonic() + 30
    while not gone(worker) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert gone(worker)
