"""A Dask cluster gives the same report as this machine's cores, also when a worker is lost on the way."""

import os
import signal

import pytest
from distributed import LocalCluster
from episodes import PAINTED_WRONG, everything_in, make_episode, paint_cel

from cel_check.cli.guard import guarded
from cel_check.cli.main import group
from cel_check.episode.cluster import _Engine, cluster_engine
from cel_check.episode.codec import CelAnswer
from cel_check.episode.pool import Stop
from cel_check.errors import BadInput
from cel_check.model.colormodel import Palette
from cel_check.scene.tasks import CelTask
from cel_check.settings import DEFAULTS


@pytest.fixture(scope="module")
def cluster():
    """A real scheduler and two worker processes that it starts again when they die."""
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as started:
        yield started


@pytest.fixture(scope="module")
def episode(tmp_path_factory):
    folder = make_episode(tmp_path_factory.mktemp("night") / "ep01", scenes=2, drawings=12)
    paint_cel(folder / "sc001/A/A-0002.png", PAINTED_WRONG, 2)
    (folder / "sc002/A/A-0004.png").write_bytes((folder / "sc002/A/A-0004.png").read_bytes()[:200])
    local = folder.parent / "local"
    assert guarded(group, ["episode", str(folder), "--out", str(local), "--jobs", "2", "--quiet"]) == 1
    return folder, everything_in(local)


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX's")
@pytest.mark.parametrize("lose", [False, True])
def test_the_report_is_that_of_one_machine(cluster, episode, tmp_path, lose, monkeypatch):
    folder, expected = episode
    killed = []

    def send(engine, place, task):
        handed_out(engine, place, task)
        if lose and place == 6:  # both workers have cels in hand and more to follow
            killed.append(next(iter(cluster.workers.values())).pid)
            os.kill(killed[0], signal.SIGKILL)

    handed_out = _Engine._send
    monkeypatch.setattr(_Engine, "_send", send)
    arguments = ["--out", str(tmp_path), "--cluster", cluster.scheduler_address, "--quiet"]
    assert guarded(group, ["episode", str(folder), *arguments]) == 1
    assert everything_in(tmp_path) == expected
    assert len(killed) == lose


def test_a_file_that_only_the_workers_cannot_read_is_not_checked(cluster, tmp_path, monkeypatch):
    there = tmp_path / "A-0001.png"
    there.write_bytes(b"nothing a picture is made of")
    task = CelTask("A", "1", "A/A-0001.png", tmp_path / "gone.png", Palette((), ()), DEFAULTS, 60.0)
    stop = Stop()
    with cluster_engine(cluster.scheduler_address, tmp_path, stop) as engine:
        monkeypatch.setattr("pathlib.Path.is_file", lambda path: True)
        ((place, answer),) = list(engine([task]))
    assert place == 0
    assert isinstance(answer, CelAnswer)
    assert answer.result.error == "a worker of the cluster could not read the file, which is there"


def test_a_cluster_that_is_not_there_or_sees_another_disk_is_one_line(cluster, tmp_path, monkeypatch):
    monkeypatch.setattr("cel_check.episode.cluster._CONNECT_SECONDS", 1)
    with (
        pytest.raises(BadInput, match="the cluster does not answer"),
        cluster_engine("tcp://127.0.0.1:9", tmp_path, Stop()),
    ):
        pass
    with (
        pytest.raises(BadInput, match="does not see"),
        cluster_engine(cluster.scheduler_address, tmp_path / "nowhere", Stop()),
    ):
        pass
    monkeypatch.setattr("cel_check.episode.cluster.checking_program", lambda: "another")
    with (
        pytest.raises(BadInput, match="another version of cel-check"),
        cluster_engine(cluster.scheduler_address, tmp_path, Stop()),
    ):
        pass


def test_a_stop_leaves_out_what_is_in_hand(cluster, episode):
    folder, _ = episode
    task = CelTask("A", "1", "A/A-0001.png", folder / "sc001/A/A-0001.png", Palette((), ()), DEFAULTS, 60.0)
    stop = Stop()
    with cluster_engine(cluster.scheduler_address, folder, stop) as engine:
        answers = []
        for answer in engine([task] * 50):
            answers.append(answer)
            stop.request()
    assert 1 <= len(answers) < 50
