"""The reference cels of a level's color models, taken apart once as its drawings are."""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from cel_check.drawing.place import Place
from cel_check.drawing.places import places_of
from cel_check.drawing.separate import take_apart
from cel_check.errors import BadPicture, Refused
from cel_check.model.colormodel import Palette
from cel_check.picture.reader import read_picture
from cel_check.scene.names import shown
from cel_check.scene.scene import Level
from cel_check.settings import Settings


@dataclass(frozen=True)
class ReferenceCel:
    """A painted model cel: its file's name, its places by a drawing's palette numbers, and its file."""

    name: str
    places: tuple[Place, ...]
    file: str = ""


def reference_cels(level: Level, settings: Settings) -> tuple[tuple[ReferenceCel, ...], tuple[str, ...]]:
    """Return a level's reference cels that can be read, and a note on each that cannot.

    A cel that is not there is no news: the model's own notes tell of it.
    """
    if level.base is None:
        return (), ()
    cels, notes = [], []
    for path in level.references:
        try:
            found = path.stat()
            places = _places(path, (found.st_size, found.st_mtime_ns), level.base, settings)
            cels.append(ReferenceCel(shown(path.name), places, str(path.absolute())))
        except FileNotFoundError:
            continue
        except (BadPicture, Refused, OSError, ValueError) as error:
            notes.append(f"The reference cel {shown(path.name)} cannot be read ({shown(str(error))}).")
    return tuple(cels), tuple(notes)


@lru_cache(maxsize=32)
def _places(path: Path, _state: tuple[int, int], base: Palette, settings: Settings) -> tuple[Place, ...]:
    """Take a cel apart, or return what was found when another level or scene asked."""
    return places_of(take_apart(read_picture(path, settings), base, settings))
