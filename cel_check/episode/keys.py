"""What a stored result depends on, as digests: whatever changes none of them is not checked again."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path, PurePath

from cel_check.model.colormodel import ModelColor, Palette
from cel_check.scene.tasks import CelTask
from cel_check.settings import DEFAULTS, Settings
from cel_check.version import VERSION

LIMITS = ("max_megapixels", "max_side", "seconds_per_megapixel", "seconds_at_least")
"""Settings that decide whether a cel is checked, not what is found on it: they touch no stored result."""

_ROOT = Path(__file__).parents[1]
_ROOMS = ("checks", "color", "drawing", "model", "picture", "scan")
_CHECKING = (*_ROOMS, "scene/cel.py", "scene/scan_cel.py", "scene/measure.py", "faults.py")
_CONCLUDING = (*_CHECKING, "scene", "report", "episode/conclude.py")
_LIBRARIES = ("numpy", "opencv-python-headless", "imagecodecs", "kornia-rs", "tifffile", "pillow")


@dataclass(frozen=True)
class CelKey:
    """Everything that a cel's result depends on, but for tolerances and names.

    Attributes:
        sha256: of the picture.
        ending: of its file's name, in lower case.
        colors: digest of the model's colors as resolved for the cel's level.
        settings: fingerprint of the thresholds, and of how a scan is taken.
        program: digest of the code and libraries that check a cel.
    """

    sha256: str
    ending: str
    colors: str
    settings: str
    program: str


@dataclass(frozen=True)
class Terms:
    """By what a color is allowed: tolerances, and the names that sentences use.

    Attributes:
        digest: of `text`.
        text: JSON, `{"MODEL/ID": [tolerance, name, paint number]}`.
    """

    digest: str
    text: str


def key_of(task: CelTask, sha256: str) -> CelKey:
    """Return the key of a cel whose picture's content is known."""
    return CelKey(
        sha256,
        PurePath(task.file).suffix.lower(),
        colors_of(task.palette),
        judging(task.settings) + ("" if task.scan is None else task.scan.digest),
        checking_program(),
    )


def color_key(color: ModelColor) -> str:
    """Return a color's name through all models."""
    return f"{color.model}/{color.id}"


def colors_of(palette: Palette) -> str:
    """Return a digest of a palette's colors: order, use and values."""
    return _said(_ByIdentity(palette.colors))[0]


def terms_of(palette: Palette) -> Terms:
    """Return by what a palette's colors are allowed."""
    return _said(_ByIdentity(palette.colors))[1]


class _ByIdentity:
    """Colors that are known again by being the same object: to hash them costs more than all the rest."""

    def __init__(self, colors: tuple[ModelColor, ...]) -> None:
        self.colors = colors

    def __hash__(self) -> int:
        return id(self.colors)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _ByIdentity) and other.colors is self.colors


@lru_cache(maxsize=256)
def _said(known: _ByIdentity) -> tuple[str, Terms]:
    colors = known.colors
    digest = _digest([[color_key(c), c.use.value, c.srgb, c.lab] for c in colors])
    text = json.dumps({color_key(c): [c.tolerance, c.name, c.paint] for c in colors}, sort_keys=True)
    return digest, Terms(hashlib.sha256(text.encode()).hexdigest()[:16], text)


@cache
def judging(settings: Settings) -> str:
    """Return the fingerprint of the settings that decide what is found."""
    return replace(settings, **{name: getattr(DEFAULTS, name) for name in LIMITS}).fingerprint()


def within_limits(size: tuple[int | None, int | None], settings: Settings) -> bool:
    """Return whether a picture of that size would be checked at all under these settings."""
    width, height = size[0] or 0, size[1] or 0
    return max(width, height) <= settings.max_side and width * height / 1e6 <= settings.max_megapixels


@cache
def checking_program() -> str:
    """Return a digest of the version, the code and the libraries that check a cel."""
    return _program(_CHECKING)


@cache
def concluding_program() -> str:
    """Return a digest of all that makes a scene's report of its cels' results."""
    return _program(_CONCLUDING)


def _program(parts: Iterable[str]) -> str:
    sources = {
        path.relative_to(_ROOT).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for part in parts
        for path in ([_ROOT / part] if part.endswith(".py") else sorted((_ROOT / part).rglob("*")))
        if path.is_file() and path.suffix != ".pyc"
    }
    return _digest([VERSION, sorted(sources.items()), [_version(name) for name in _LIBRARIES]])


def _version(library: str) -> str:
    try:
        return version(library)
    except PackageNotFoundError:
        return ""


def digest_of_all(parts: object) -> str:
    """Return a digest of plain data of any kind, by its `repr`: names may hold lone surrogates."""
    return hashlib.sha256(repr(parts).encode("utf-8", "surrogatepass")).hexdigest()


def _digest(value: object) -> str:
    return hashlib.sha256(json.dumps(value).encode()).hexdigest()[:16]
