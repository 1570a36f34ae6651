"""Puts an episode's summary together: scenes, runs, pace against the camera date, breaks of continuity."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from itertools import pairwise

from cel_check.episode.folder import Episode
from cel_check.scene.names import shown
from cel_check.scene.summary import Break, Pace, RunLine, SceneState, SceneSummary

_SECONDS_A_DAY = 86400.0


def pace_of(
    scenes: Sequence[SceneSummary], runs: Sequence[RunLine], camera_date: date | None, now: datetime
) -> Pace:
    """Return the pace needed and the pace kept.

    Args:
        scenes: as they stand now.
        runs: finished runs, the first first.
        camera_date: the day by which all must pass, or None.
        now: aware of its zone; its day counts as a whole one.
    """
    passed = sum(scene.state is SceneState.PASSED for scene in scenes)
    left = len(scenes) - passed
    days = None if camera_date is None else (camera_date - now.date()).days + 1
    needed = left / days if days is not None and days > 0 else None
    text = None if camera_date is None else camera_date.isoformat()
    return Pace(text, days, left, needed, _kept(passed, runs, now))


def _kept(passed: int, runs: Sequence[RunLine], now: datetime) -> float | None:
    if not runs:
        return None
    days = (now - datetime.fromisoformat(runs[0].finished)).total_seconds() / _SECONDS_A_DAY
    before = dict(runs[0].tally.states).get(SceneState.PASSED, 0)
    return (passed - before) / days if days >= 1.0 else None


def breaks_of(episode: Episode, scenes: Iterable[SceneSummary]) -> tuple[Break, ...]:
    """Return where neighbors in a sequence use other conditions, or other versions of a model.

    Without sequences in episode.toml the whole episode is one. Scenes that could not be read are left out.
    """
    by_name = dict(zip((entry.name for entry in episode.scenes), scenes, strict=True))
    sequences = episode.sequences or (("", tuple(by_name)),)
    found: list[Break] = []
    for name, members in sequences:
        there = [by_name[member] for member in members if member in by_name]
        known = [scene for scene in there if scene.models]
        for before, after in pairwise(known):
            found += [
                Break(shown(name), before.name, after.name, text) for text in _differences(before, after)
            ]
    return tuple(found)


def _differences(before: SceneSummary, after: SceneSummary) -> Iterator[str]:
    shared = {use.character: use for use in before.models}
    common = [(shared[use.character], use) for use in after.models if use.character in shared]
    if common and before.condition != after.condition:
        who = ", ".join(one.character for one, _ in common)
        yield (
            f"{before.name} is painted for {_condition(before)} and {after.name} for {_condition(after)}, "
            f"and both show {who}."
        )
    for one, other in common:
        if one.version != other.version:
            yield (
                f"{one.character} is held against {one.file} in {before.name} and against another version, "
                f"{other.file}, in {after.name}."
            )


def _condition(scene: SceneSummary) -> str:
    return scene.condition or "no condition (base colors)"
