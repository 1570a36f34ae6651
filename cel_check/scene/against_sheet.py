"""The faults of files, not of paint: missing and uncalled cels, pictures of another size than their level."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace

from cel_check.faults import CATALOGUE, Fault, FaultKind, Verdict
from cel_check.scene.frames import Exposures
from cel_check.scene.names import frames_of, listed, number_order, shown
from cel_check.scene.results import CelResult
from cel_check.scene.scene import DrawingFile, Level, Scene
from cel_check.scene.sheet import Sheet

Size = tuple[int, int]

# PNG stores whole pixels a meter, so 72 dpi comes back as 72.009: half a percent is no other resolution.
_DPI_RATIO = 1.005


def missing_cels(scene: Scene, exposures: Exposures) -> tuple[Fault, ...]:
    """Return one fault for each drawing that the sheet calls and that is not there.

    A level of the sheet without a folder is one fault, however many drawings it calls: the cause is one.
    """
    if scene.sheet is None:
        return ()
    there = {(level.name, file.drawing) for level in scene.levels for file in level.drawings}
    lone = set(scene.sheet.lone)
    faults = [_missing_level(level, exposures) for level in scene.sheet.lone]
    for (level, drawing), frames in exposures.shown_on.items():
        if level in lone or (level, drawing) in there:
            continue
        text = (
            f"The sheet calls drawing {drawing} of level {shown(level)} on {frames_of(frames)}, and its "
            f"folder has no such drawing. Find it and put it there, or correct the sheet."
        )
        faults.append(
            replace(_fault(FaultKind.MISSING_CEL, Verdict.RETAKE, text, (level, drawing)), frames=frames)
        )
    return tuple(faults)


def _missing_level(level: str, exposures: Exposures) -> Fault:
    called = {drawing: frames for (name, drawing), frames in exposures.shown_on.items() if name == level}
    frames = tuple(sorted(frame for shown_on in called.values() for frame in shown_on))
    drawings = tuple(sorted(called, key=number_order))
    count = f"{len(drawings)} drawings" if len(drawings) > 1 else "drawing"
    text = (
        f"The sheet calls {count} {listed(drawings)} of level {shown(level)} on {frames_of(frames)}, and no "
        f"folder {shown(level)} holds drawings. Put the level there; if the column is a remark and no level, "
        f"name it so, as in notes."
    )
    return replace(_fault(FaultKind.MISSING_CEL, Verdict.RETAKE, text, (level, None)), frames=frames)


def uncalled_cels(scene: Scene) -> dict[tuple[str, str], Fault]:
    """Return a query for each drawing that the sheet never calls, or that no sheet could call, by its key."""
    if scene.loose:
        return {}
    called = _called(scene.sheet) if scene.sheet else None
    faults = {}
    for level in scene.levels:
        for file in level.drawings:
            text = _why_uncalled(file, level, scene.sheet, called)
            if text:
                key = (level.name, file.drawing)
                faults[key] = _fault(FaultKind.UNCALLED_CEL, Verdict.QUERY, text, key)
    return faults


def _called(sheet: Sheet) -> set[tuple[str, str]]:
    return {
        (level, cel)
        for row in sheet.rows
        for level, cel in zip(sheet.levels, row.cels, strict=True)
        if cel is not None
    }


def _why_uncalled(
    file: DrawingFile, level: Level, sheet: Sheet | None, called: set[tuple[str, str]] | None
) -> str:
    name = shown(file.path.name)
    if file.twin:
        mend = "Keep the one that goes to camera and take the other out of the level's folder"
        return f"{name} bears the same drawing number as {shown(file.twin)}. {mend}."
    if not file.numbered:
        mend = "Number it, or take it out of the level's folder"
        return f"{name} bears no drawing number, so no sheet can call it. {mend}."
    if called is None or sheet is None or (level.name, file.drawing) in called:
        return ""
    if level.name not in sheet.levels:
        mend = "Give the level a column, or take its folder out of the scene"
        wrong = (
            f"The sheet has no column for level {shown(level.name)}, so it never calls drawing {file.drawing}"
        )
        return f"{wrong}. {mend}."
    mend = "Take it out of the level's folder, or correct the sheet"
    return f"The sheet never calls drawing {file.drawing} of level {shown(level.name)}. {mend}."


def wrong_sizes(scene: Scene, cels: Sequence[CelResult]) -> dict[tuple[str, str], Fault]:
    """Return a fault for each picture whose size or resolution differs from most of its level, by its key."""
    if scene.loose:
        return {}
    by_level: dict[str, list[CelResult]] = defaultdict(list)
    for cel in cels:
        by_level[cel.level].append(cel)
    scene_sizes = Counter(size for cel in cels if (size := _size(cel)))
    faults: dict[tuple[str, str], Fault] = {}
    for level in by_level.values():
        faults |= _other_resolutions(level)
        faults |= _other_sizes(level, scene_sizes)
    return faults


def _size(cel: CelResult) -> Size | None:
    return (cel.width, cel.height) if cel.width and cel.height else None


def _other_sizes(level: Sequence[CelResult], scene_sizes: Counter[Size]) -> dict[tuple[str, str], Fault]:
    sizes = Counter(size for cel in level if (size := _size(cel)))
    if len(sizes) < 2:
        return {}
    # Where a level is split evenly, the size that most of the scene has is taken for the right one.
    usual = max(sizes, key=lambda size: (sizes[size], scene_sizes[size], size))
    share = sizes[usual] / sizes.total()
    return {
        (cel.level, cel.drawing): _size_fault(cel, size, usual, share)
        for cel in level
        if (size := _size(cel)) and size != usual
    }


def _size_fault(cel: CelResult, size: Size, usual: Size, share: float) -> Fault:
    # Wider or higher in one direction only is what a pan cel looks like; an even split names no culprit.
    pan = (size[0] == usual[0] and size[1] > usual[1]) or (size[1] == usual[1] and size[0] > usual[0])
    sure = share > 0.5 and not pan
    mend = "Send it again at the level's size" + ("" if sure else "; pass it if it is meant so (a pan cel)")
    rest = f"{'most' if share > 0.5 else 'the rest'} of level {shown(cel.level)} is {usual[0]} x {usual[1]}"
    text = f"Drawing {shown(cel.drawing)} is {size[0]} x {size[1]} pixels, and {rest}. {mend}."
    verdict = Verdict.RETAKE if sure else Verdict.QUERY
    confidence = round(share, 2) if sure else 0.5
    return _fault(FaultKind.WRONG_SIZE, verdict, text, (cel.level, cel.drawing), confidence)


def _other_resolutions(level: Sequence[CelResult]) -> dict[tuple[str, str], Fault]:
    stated = [(cel, cel.dpi) for cel in level if cel.dpi]
    usual = Counter(round(dpi) for _, dpi in stated).most_common(1)
    if not usual or usual[0][1] * 2 <= len(stated):
        return {}
    right = usual[0][0]
    faults = {}
    for cel, dpi in stated:
        if max(dpi / right, right / dpi) <= _DPI_RATIO or abs(dpi - right) <= 0.5:
            continue
        text = (
            f"Drawing {shown(cel.drawing)} states {dpi:g} dpi, and most of level {shown(cel.level)} states "
            f"{right}. Pass it if its art is as large as its neighbors'; else send it again."
        )
        key = (cel.level, cel.drawing)
        faults[key] = _fault(FaultKind.WRONG_SIZE, Verdict.QUERY, text, key, 0.5)
    return faults


def _fault(
    kind: FaultKind, verdict: Verdict, text: str, key: tuple[str, str | None], confidence: float = 1.0
) -> Fault:
    level, drawing = key
    send_to = CATALOGUE[kind].send_to
    return Fault(kind, verdict, text, send_to, confidence, level=level, drawing=drawing)
