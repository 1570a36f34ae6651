"""What the page shows, as plain records: every choice is made here, so that the templates only set type."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from cel_check.faults import CATALOGUE, Fault, FaultInfo, ModelMatch, Verdict
from cel_check.report.pictures import CelPictures, Pictures, Shown, ShownCrop, cels_to_show, faults_to_show
from cel_check.report.tiles import Tile
from cel_check.report.words import (
    DEPARTMENTS,
    KIND_TITLES,
    NO_REASON,
    frames_phrase,
    how_sure,
    how_visible,
)
from cel_check.scene.names import number_runs
from cel_check.scene.results import CelResult, SceneResult

REEL = 250
"""Tiles that stand open at once; the rest of a longer scene is folded away by as many."""
ROWS = 500
"""Rows of a plain list; what is left out is counted and stands in report.csv."""


@dataclass(frozen=True)
class Swatches:
    """The color found beside the color that should be there; `should` is None where the model has none."""

    found: str | None
    lab: str
    should: ModelMatch | None
    should_label: str


@dataclass(frozen=True)
class FaultView:
    """One fault as the page shows it."""

    anchor: str
    number: int
    fault: Fault
    title: str
    place: str
    send_to: str
    sure: str
    seen: str
    frames: str
    swatches: Swatches | None
    crop: ShownCrop | None
    right: ShownCrop | None


@dataclass(frozen=True)
class CelView:
    """One faulty or unchecked cel as the page shows it; `left_out` counts the faults it has no room for."""

    anchor: str
    cel: CelResult
    frames: str
    error: str
    pictures: CelPictures
    faults: tuple[FaultView, ...]
    left_out: int


@dataclass(frozen=True)
class LevelMark:
    """One cel of a tile: its verdict is None where the sheet calls a drawing that is not there."""

    level: str
    drawing: str
    verdict: Verdict | None
    href: str


@dataclass(frozen=True)
class TileView:
    """One tile of the strip."""

    label: str
    tile: Tile
    picture: Shown | None
    href: str
    marks: tuple[LevelMark, ...]
    no_picture: tuple[str, ...]


@dataclass(frozen=True)
class Reel:
    """A run of tiles that is folded away as one; `tally` counts its frames that do not pass."""

    span: str
    tally: tuple[tuple[Verdict, int], ...]
    tiles: tuple[TileView, ...]


@dataclass(frozen=True)
class Page:
    """Everything on the page, in the order in which it stands there."""

    reels: tuple[Reel, ...]
    unchecked: tuple[CelView, ...]
    scene_faults: tuple[FaultView, ...]
    retakes: tuple[CelView, ...]
    queries: tuple[CelView, ...]
    briefly: tuple[CelResult, ...]
    passed: tuple[tuple[str, str], ...]
    notes: tuple[tuple[str, str], ...]
    left_out: Mapping[str, int]
    kinds: tuple[FaultInfo, ...]
    looked_for: tuple[FaultInfo, ...]
    not_looked_for: tuple[FaultInfo, ...]


def loose_faults(result: SceneResult) -> tuple[Fault, ...]:
    """Return the faults that no cel of the scene carries (a missing cel, flashing frames)."""
    carried = {fault for cel in result.cels for fault in cel.faults}
    return tuple(fault for fault in result.faults if fault not in carried)


def fault_anchor(cel: int, fault: int) -> str:
    """Return where the page tells a fault of a cel; both are indexes."""
    return f"cel-{cel + 1}-{fault + 1}"


def loose_anchor(number: int) -> str:
    """Return where the page tells a fault that no cel carries; numbers count from 1."""
    return f"scene-fault-{number}"


def build_page(result: SceneResult, tiles: tuple[Tile, ...], pictures: Pictures) -> Page:
    """Return what the page shows of a scene's results."""
    loose = loose_faults(result)
    views = {i: _cel_view(result, i, pictures) for i in _described(result)}
    briefly = tuple(cel for i, cel in enumerate(result.cels) if cel.faults and i not in views)
    notes = tuple(_conversions(result))
    kinds = {fault.kind for cel in result.cels for fault in cel.faults} | {fault.kind for fault in loose}
    return Page(
        reels=_reels(_tile_views(result, tiles, pictures, frozenset(views))),
        unchecked=_of(views, Verdict.NOT_CHECKED),
        scene_faults=tuple(_fault_view(loose_anchor(n), n, fault) for n, fault in enumerate(loose[:ROWS], 1)),
        retakes=_of(views, Verdict.RETAKE),
        queries=_of(views, Verdict.QUERY, Verdict.PASS),
        briefly=briefly[:ROWS],
        passed=tuple(_passed(result)),
        notes=notes[:ROWS],
        left_out=_left_out(result, loose, briefly, notes),
        kinds=tuple(CATALOGUE[kind] for kind in CATALOGUE if kind in kinds),
        looked_for=tuple(info for info in CATALOGUE.values() if info.checked),
        not_looked_for=tuple(info for info in CATALOGUE.values() if not info.checked),
    )


def _left_out(result: SceneResult, *lists: tuple[object, ...]) -> Mapping[str, int]:
    """Return how much of each list (loose faults, briefly told cels, notes) the page has no room for."""
    unchecked = sum(cel.verdict is Verdict.NOT_CHECKED for cel in result.cels)
    left = {name: len(items[ROWS:]) for name, items in zip(("scene", "briefly", "notes"), lists, strict=True)}
    return MappingProxyType(left | {"unchecked": max(0, unchecked - ROWS)})


def _described(result: SceneResult) -> tuple[int, ...]:
    """Return the indexes of the cels that have a place of their own on the page."""
    unchecked = [i for i, cel in enumerate(result.cels) if cel.verdict is Verdict.NOT_CHECKED][:ROWS]
    # An unchecked cel past the last row is counted, not shown: its faults stand in report.csv.
    shown = [i for i in cels_to_show(result) if result.cels[i].verdict is not Verdict.NOT_CHECKED]
    return tuple(sorted((*shown, *unchecked)))


def _of(views: Mapping[int, CelView], *verdicts: Verdict) -> tuple[CelView, ...]:
    return tuple(view for view in views.values() if view.cel.verdict in verdicts)


def _cel_view(result: SceneResult, index: int, pictures: Pictures) -> CelView:
    cel = result.cels[index]
    made = dict(pictures.cels).get(index, CelPictures())
    crops, rights = dict(made.crops), dict(made.rights)
    chosen = faults_to_show(cel)
    faults = tuple(
        _fault_view(fault_anchor(index, i), i + 1, cel.faults[i], (crops.get(i), rights.get(i)))
        for i in chosen
    )
    error = (cel.error or NO_REASON) if cel.verdict is Verdict.NOT_CHECKED else cel.error or ""
    return CelView(
        f"cel-{index + 1}", cel, frames_phrase(cel.frames), error, made, faults, len(cel.faults) - len(chosen)
    )


def _fault_view(
    anchor: str, number: int, fault: Fault, shown: tuple[ShownCrop | None, ShownCrop | None] = (None, None)
) -> FaultView:
    return FaultView(
        anchor=anchor,
        number=number,
        fault=fault,
        title=KIND_TITLES[fault.kind],
        place=_place(fault),
        send_to=DEPARTMENTS[fault.send_to],
        sure=how_sure(fault.confidence),
        seen=how_visible(fault.visibility),
        frames=frames_phrase(fault.frames),
        swatches=_swatches(fault),
        crop=shown[0],
        right=shown[1],
    )


def _place(fault: Fault) -> str:
    if fault.box is None:
        return ""
    x, y, width, height = fault.box
    area = "" if fault.area_px is None else f", {fault.area_px:,} px of it at fault"
    return f"{width} × {height} px, from {x} px right and {y} px down{area}"


def _swatches(fault: Fault) -> Swatches | None:
    if fault.found is None and fault.expected is None:
        return None
    lab = "" if fault.found is None else "L* {:.1f}  a* {:.1f}  b* {:.1f}".format(*fault.found.lab)
    label = "should be" if fault.expected else "nearest on the model"
    found = fault.found.srgb if fault.found else None
    return Swatches(found, lab, fault.expected or fault.nearest, label)


def _tile_views(
    result: SceneResult, tiles: tuple[Tile, ...], pictures: Pictures, described: frozenset[int]
) -> tuple[TileView, ...]:
    shown = pictures.tiles or (None,) * len(tiles)
    hrefs = {
        (cel.level, cel.drawing): f"#cel-{i + 1}" if i in described else ""
        for i, cel in enumerate(result.cels)
    }
    cels = {(cel.level, cel.drawing): cel for cel in result.cels}
    scene_hrefs = {
        fault.id: f"#{loose_anchor(n)}" for n, fault in enumerate(loose_faults(result)[:ROWS], 1) if fault.id
    }
    views = []
    for tile, picture in zip(tiles, shown, strict=True):
        marks = tuple(_level_mark(key, cels.get(key), hrefs.get(key, "")) for key in tile.cels)
        views.append(
            _tile_view(tile, picture, marks, [scene_hrefs.get(fault, "") for fault in tile.faults], cels)
        )
    return tuple(views)


def _tile_view(
    tile: Tile,
    picture: Shown | None,
    marks: tuple[LevelMark, ...],
    scene_hrefs: Iterable[str],
    cels: Mapping[tuple[str, str], CelResult],
) -> TileView:
    worst_first = sorted(marks, key=lambda mark: mark.verdict is not tile.verdict)
    href = next((h for h in (*(mark.href for mark in worst_first), *scene_hrefs) if h), "")
    absent = tuple(
        f"{level} {drawing}" for level, drawing in tile.cels if not _has_picture(cels.get((level, drawing)))
    )
    label = _tile_label(tile)
    return TileView(label, tile, picture, href, marks, absent)


def _has_picture(cel: CelResult | None) -> bool:
    return cel is not None and bool(cel.thumbnail)


def _tile_label(tile: Tile) -> str:
    if not tile.frames:
        return " ".join(tile.cels[0])
    return ", ".join(number_runs(tile.frames))


def _level_mark(key: tuple[str, str], cel: CelResult | None, href: str) -> LevelMark:
    return LevelMark(*key, verdict=None if cel is None else cel.verdict, href=href)


def _reels(views: tuple[TileView, ...]) -> tuple[Reel, ...]:
    pieces = [views[i : i + REEL] for i in range(0, len(views), REEL)]
    return tuple(Reel(f"{piece[0].label} to {piece[-1].label}", _tally(piece), piece) for piece in pieces)


def _tally(views: tuple[TileView, ...]) -> tuple[tuple[Verdict, int], ...]:
    """Return how many frames of some tiles do not pass, so that no fault is folded away unseen."""
    counts = Counter(dict.fromkeys(Verdict, 0))
    for view in views:
        counts[view.tile.verdict] += max(1, len(view.tile.frames))
    return tuple((verdict, n) for verdict, n in counts.items() if n and verdict is not Verdict.PASS)


def _passed(result: SceneResult) -> Iterable[tuple[str, str]]:
    """Yield each level with the drawings that pass, as `1–6, 8, 12b`."""
    for level in dict.fromkeys((*result.levels, *(cel.level for cel in result.cels))):
        drawings = [c.drawing for c in result.cels if c.level == level and c.verdict is Verdict.PASS]
        if drawings:
            plain = [int(drawing) for drawing in drawings if drawing.isascii() and drawing.isdigit()]
            lettered = [drawing for drawing in drawings if not (drawing.isascii() and drawing.isdigit())]
            yield level, ", ".join((*number_runs(plain), *lettered))


def _conversions(result: SceneResult) -> Iterable[tuple[str, str]]:
    """Yield each remark on how files were read, with the cels that it holds for."""
    gathered: dict[str, list[str]] = {}
    for cel in result.cels:
        for note in cel.notes:
            gathered.setdefault(note, []).append(f"{cel.level} {cel.drawing}")
    for note, cels in gathered.items():
        more = f" and {len(cels) - 40:,} more" if len(cels) > 40 else ""
        yield note, ", ".join(cels[:40]) + more
