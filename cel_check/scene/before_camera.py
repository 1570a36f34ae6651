"""What only the assembled frame can show, from the cels' results: no picture but the background is opened."""

from collections.abc import Sequence

from cel_check.faults import CATALOGUE, Fault, FaultKind, Verdict
from cel_check.scene.composite import Compositor
from cel_check.scene.flashing import CAUTION, flashes
from cel_check.scene.frames import Exposures
from cel_check.scene.names import shown
from cel_check.scene.results import CelResult
from cel_check.scene.scene import Scene


def before_camera(
    scene: Scene, cels: Sequence[CelResult], exposures: Exposures
) -> tuple[tuple[Fault, ...], tuple[str, ...]]:
    """Look at the frames of a scene as camera will see them.

    Args:
        scene: as loaded.
        cels: its cels as checked, with their thumbnails.
        exposures: its frames.

    Returns:
        The faults that no single cel carries, and what the report should note. Without a sheet nobody knows
        the frames, and there are none. Where the check itself fails, a query says so.
    """
    if scene.loose or scene.sheet is None:
        return (), ()
    try:
        return flashes(exposures.frames, scene.fps, Compositor(scene, cels))
    except Exception as error:
        # A defect of the program or of a library: the cels' own faults must not be lost to it.
        return (_not_looked_at(error),), ()


def _not_looked_at(error: Exception) -> Fault:
    reason = f"{type(error).__name__}: {shown(str(error))[:300]}"
    return Fault(
        kind=FaultKind.FLASH,
        verdict=Verdict.QUERY,
        text=f"The frames could not be looked at for flashes ({reason}). Look at them yourself. {CAUTION}",
        send_to=CATALOGUE[FaultKind.FLASH].send_to,
        confidence=0.1,
    )
