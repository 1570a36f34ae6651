"""What only the assembled frame can show, from the cels' results: no picture but the background is opened."""

from collections.abc import Sequence
from dataclasses import dataclass

from cel_check.faults import CATALOGUE, Fault, FaultKind, Verdict
from cel_check.scene.composite import Compositor
from cel_check.scene.cuts import seen_rects, with_seen_cuts
from cel_check.scene.flashing import CAUTION, flashes
from cel_check.scene.frames import Exposures
from cel_check.scene.level_queries import level_queries
from cel_check.scene.names import listed, shown
from cel_check.scene.results import CelResult
from cel_check.scene.scene import Scene
from cel_check.scene.short_of_field import short_of_field
from cel_check.scene.sinking import sinking
from cel_check.scene.stacking import Mask, Stacking
from cel_check.scene.titles import titles_outside


@dataclass(frozen=True)
class Looked:
    """What came of looking at the frames.

    Attributes:
        cels: the scene's cels, without what no frame shows.
        faults: those that no single cel carries.
        notes: what the report should note.
        whole: whether all of the frames could be looked at, with their background.
    """

    cels: tuple[CelResult, ...]
    faults: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()
    whole: bool = True


def before_camera(scene: Scene, cels: Sequence[CelResult], exposures: Exposures) -> Looked:
    """Look at the frames of a scene as camera will see them.

    Args:
        scene: as loaded. Without a sheet nobody knows the frames, and there are none.
        cels: its cels as checked, with their thumbnails.
        exposures: its frames.

    Returns:
        What was found. Where the check itself fails, a query says so.
    """
    try:
        return _looked(scene, cels, exposures)
    except Exception as error:
        # A defect of the program or of a library: the cels' own faults must not be lost to it.
        return Looked(tuple(cels), (_not_looked_at(error),), whole=False)


def _looked(scene: Scene, cels: Sequence[CelResult], exposures: Exposures) -> Looked:
    camera = Compositor(scene, cels)
    seen = with_seen_cuts(scene, cels, exposures, camera)
    if scene.loose or scene.sheet is None:
        return Looked(seen, whole=camera.whole)
    faults, notes = flashes(exposures.frames, scene.fps, camera, seen_rects(scene, camera.size))
    stack = Stacking(camera)
    asked = level_queries(cels, exposures, stack)
    notes += (*_hiding(exposures, stack), *sinking(exposures, camera, stack))
    notes += titles_outside(scene, exposures, camera)
    short = short_of_field(scene, exposures, camera)
    return Looked(seen, (*asked, *short, *faults), notes, camera.whole)


def _hiding(exposures: Exposures, stack: Stacking) -> tuple[str, ...]:
    """Say which levels hide all others: pictures on a card are laid as they are."""
    upper = dict.fromkeys(key for exposure in exposures.frames for key in exposure.cels[1:])
    levels = dict.fromkeys(key[0] for key in upper if _is_opaque(stack.mask(key)))
    if not levels:
        return ()
    many = "s" if len(levels) > 1 else ""
    named = listed(tuple(shown(level) for level in levels))
    return (
        f"Level{many} {named} of pictures without clear cel: on the frames that were looked at, they hide "
        f"what lies below them.",
    )


def _is_opaque(mask: Mask | None) -> bool:
    return mask is not None and bool(mask.all())


def _not_looked_at(error: Exception) -> Fault:
    reason = f"{type(error).__name__}: {shown(str(error))[:300]}"
    return Fault(
        kind=FaultKind.FLASH,
        verdict=Verdict.QUERY,
        text=f"The frames could not be looked at ({reason}). Look yourself, for flashes too. {CAUTION}",
        send_to=CATALOGUE[FaultKind.FLASH].send_to,
        confidence=0.1,
    )
