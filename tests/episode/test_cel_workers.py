"""Cels run in workers of one core each, and a cel that kills its worker still has a result."""

import multiprocessing
import os
import sys
from pathlib import Path

import cv2
import pytest
from PIL import Image

from cel_check.episode.cel_workers import CelPool, cel_plan, cores
from cel_check.episode.pool import Plan, Pool
from cel_check.episode.prepare import prepare_worker
from cel_check.faults import Verdict
from cel_check.model.colormodel import ModelColor, Palette, Use
from cel_check.scene.tasks import CelTask
from cel_check.settings import DEFAULTS

PALETTE = Palette(
    (ModelColor("white", "White", Use.PAINT, (255,) * 3, (100.0, 0.0, 0.0), 2.0, None, "m"),), ()
)


def state(_):
    import resource  # noqa: PLC0415 - not on Windows

    soft, _hard = resource.getrlimit(resource.RLIMIT_AS)
    return cv2.getNumThreads(), soft, os.environ["OMP_NUM_THREADS"]


def fill(_):
    return len(bytearray(1 << 62))


def lost(_task, reason):
    return reason


def plan(function):
    cel_plan(1, None)  # sets what the workers inherit
    return Plan(function, lost, lambda task: 60.0, 1, prepare_worker)


@pytest.mark.skipif(sys.platform == "win32", reason="limits are POSIX's")
def test_a_worker_keeps_to_one_core_and_its_share_of_the_memory():
    with Pool(plan(state)) as pool:
        ((_, (threads, limit, omp)),) = pool.run([0])
    assert threads == 1
    assert omp == "1"
    assert 0 < limit < 1 << 50


def named(name):
    return os.environ.get(name)


def test_workers_keep_their_memory_in_large_pages_unless_the_user_says_otherwise(monkeypatch):
    names = ("GLIBC_TUNABLES", "MALLOC_MMAP_THRESHOLD_", "MALLOC_TRIM_THRESHOLD_")
    for name in names:
        monkeypatch.setenv(name, "")  # so that it is taken away again afterwards
        monkeypatch.delenv(name)
    monkeypatch.setenv("MALLOC_TRIM_THRESHOLD_", "1000000")
    with Pool(plan(named)) as pool:
        found = dict(pool.run(names))
    assert found == {0: "glibc.malloc.hugetlb=1", 1: str(32 << 20), 2: "1000000"}


def test_a_task_that_asks_for_too_much_memory_is_lost_and_the_pool_is_not():
    with Pool(plan(fill)) as pool:
        ((_, reason),) = pool.run([0])
    assert reason == "it ran out of memory"


def test_cels_are_checked_in_workers(tmp_path):
    Image.new("RGBA", (40, 30), (0, 0, 0, 0)).save(tmp_path / "1.png")
    tasks = [
        CelTask("A", name, f"A/{name}.png", tmp_path / f"{name}.png", PALETTE, DEFAULTS, seconds=60.0)
        for name in ("1", "2")
    ]
    with CelPool(cel_plan(2, None)) as pool:
        results = dict(pool.run(tasks))
    assert [results[place].drawing for place in (0, 1)] == ["1", "2"]
    assert results[0].error is None
    assert results[1].verdict is Verdict.RETAKE
    assert multiprocessing.active_children() == []


def test_a_lost_cel_says_so():
    task = CelTask("A", "1", "A/1.png", Path("1.png"), PALETTE, DEFAULTS, 1.0)
    result = cel_plan(1, None).lost(task, "its worker was killed (SIGKILL)")
    assert result.verdict is Verdict.NOT_CHECKED
    assert result.error == "the check did not finish: its worker was killed (SIGKILL)"


def test_there_is_at_least_one_core():
    assert cores() >= 1
