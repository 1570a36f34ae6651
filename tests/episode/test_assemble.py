"""Pace against the camera date, and continuity between neighbors."""

from datetime import UTC, date, datetime, timedelta

import pytest

from cel_check.episode.assemble import breaks_of, pace_of
from cel_check.episode.folder import Episode, EpisodeScene
from cel_check.episode.runs import tally_of
from cel_check.scene.summary import ModelUse, RunLine, SceneState, SceneSummary

NOW = datetime(2027, 2, 20, 9, 0, tzinfo=UTC)


def scenes(passed, left):
    states = [SceneState.PASSED] * passed + [SceneState.RETAKE] * left
    return tuple(SceneSummary(f"sc{n:03}", f"{n:03}", state) for n, state in enumerate(states))


def run(days_ago, passed):
    ended = (NOW - timedelta(days=days_ago)).isoformat()
    return RunLine(1, ended, ended, tally_of(scenes(passed, 10)))


@pytest.mark.parametrize(
    ("camera", "days", "needed"),
    [
        (date(2027, 2, 20), 1, 12.0),
        (date(2027, 2, 23), 4, 3.0),
        (date(2027, 2, 19), 0, None),
        (None, None, None),
    ],
)
def test_the_pace_needed_counts_today_as_a_day(camera, days, needed):
    pace = pace_of(scenes(3, 12), (), camera, NOW)
    assert (pace.days_left, pace.scenes_left, pace.needed) == (days, 12, needed)


def test_the_pace_kept_is_known_after_a_day():
    assert pace_of(scenes(9, 3), (), None, NOW).kept is None
    assert pace_of(scenes(9, 3), (run(0.9, 3),), None, NOW).kept is None
    assert pace_of(scenes(9, 3), (run(4, 3), run(1, 8)), None, NOW).kept == pytest.approx(1.5)
    assert pace_of(scenes(2, 3), (run(4, 3),), None, NOW).kept == pytest.approx(-0.25)


def scene(name, condition=None, version="1", character="Tilda"):
    use = ModelUse(character, f"../{character}.toml", version)
    return SceneSummary(name, name, SceneState.PASSED, condition=condition, models=(use,))


def breaks(*found, sequences=()):
    entries = tuple(EpisodeScene(one.name, None) for one in found)
    episode = Episode(None, "ep", "1", None, None, sequences, entries)
    return [(one.before, one.after) for one in breaks_of(episode, found)]


def test_neighbors_that_differ_in_condition_or_model_are_told():
    assert breaks(scene("a"), scene("b"), scene("c")) == []
    assert breaks(scene("a"), scene("b", condition="night")) == [("a", "b")]
    assert breaks(scene("a"), scene("b", version="2")) == [("a", "b")]
    assert breaks(scene("a"), scene("b", condition="night", version="2")) == [("a", "b")] * 2


def test_neighbors_that_share_no_character_have_nothing_to_go_on():
    assert breaks(scene("a"), scene("b", condition="night", character="Rook")) == []


def test_only_neighbors_in_a_sequence_count_and_broken_scenes_are_stepped_over():
    broken = SceneSummary("b", "b", SceneState.NOT_CHECKED)
    assert breaks(scene("a"), broken, scene("c", version="2")) == [("a", "c")]
    three = (scene("a"), scene("b", version="2"), scene("c"))
    assert breaks(*three, sequences=(("harbor", ("a", "c")),)) == []
    assert breaks(*three, sequences=(("hill", ("b", "c", "absent")),)) == [("b", "c")]
