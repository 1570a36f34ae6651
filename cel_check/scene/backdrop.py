"""Does a figure stand out from its background: luminances of its paints, and of what is behind it."""

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from cel_check.color.contrast import contrast_ratio, relative_luminance
from cel_check.color.spaces import srgb_to_linear
from cel_check.errors import BadPicture, Refused
from cel_check.model.colormodel import Use
from cel_check.model.finding import Finding, Kind, Severity
from cel_check.model.looks import Looks
from cel_check.picture.reader import read_picture
from cel_check.scene.borders import Figure, merged_areas
from cel_check.scene.scene import Scene

Floats = NDArray[np.float64]

ALIKE = 1.25
"""Luminance contrast below which a paint does not part from what is behind it without its line (a house
choice)."""

MOST_LOST = 0.5
"""Share of a figure, over all places of the background, that may be so: a house choice."""

_BINS = 256


def find_lost_figures(
    scenes: Iterable[Scene], looks: Looks, keys: Mapping[Path, str], figures: Mapping[str, Figure | None]
) -> Iterator[Finding]:
    """Yield a finding for each model and background in whose luminances most of its figure is lost.

    Args:
        scenes: all scenes of the episode.
        looks: the models' colors.
        keys: the models' keys by resolved path.
        figures: by key, what the model's reference cels show.
    """
    seen: dict[tuple[str, Path, str | None], None] = {}
    for scene in scenes:
        if scene.background is None:
            continue
        path = scene.folder / scene.background
        try:
            behind = luminances(path)
        except (BadPicture, Refused, OSError, ValueError):
            continue  # the check of the scene tells of it
        for _, file in scene.models:
            key = keys.get((scene.folder / file).resolve())
            if key is None or (key, path.resolve(), scene.condition) in seen:
                continue
            seen[key, path.resolve(), scene.condition] = None
            yield from _finding(scene, looks, key, figures.get(key), behind)


def luminances(path: Path) -> Floats:
    """Return the `(256,)` shares of a background's pixels by the cube root of luminance, from 0 to 1."""
    rgba = read_picture(path).rgba[::4, ::4]
    rgb = rgba[rgba[..., 3] > 127][:, :3]
    light = np.cbrt(relative_luminance(srgb_to_linear(rgb / 255.0)))  # equal steps are of lightness
    counts, _ = np.histogram(light, _BINS, (0.0, 1.0))
    return np.asarray(counts / max(counts.sum(), 1), np.float64)


def lost_share(paint: Floats, weight: Floats, behind: Floats) -> float:
    """Return the share of a figure that lies on its own luminance, over all places of a background.

    Args:
        paint: `(n,)` relative luminances of the figure's paints.
        weight: `(n,)` their shares of the figure.
        behind: `(256,)` the background, as `luminances` returns it.
    """
    centers = ((np.arange(_BINS) + 0.5) / _BINS) ** 3
    alike = contrast_ratio(paint[:, None], centers) < ALIKE
    return float(weight @ (alike @ behind))


def _finding(
    scene: Scene, looks: Looks, key: str, figure: Figure | None, behind: Floats
) -> Iterator[Finding]:
    look = looks.names.index(scene.condition) if scene.condition in looks.names else 0
    own = [n for n, color in enumerate(looks.colors) if color.model == key and color.use is not Use.INK]
    if not own:
        return
    paint = relative_luminance(looks.linear[look, own])
    weight = merged_areas(figure, [looks.colors[n].id for n in own])
    share = lost_share(paint, weight, behind)
    if share > MOST_LOST:
        yield Finding(
            Severity.WARNING,
            Kind.BACKGROUND,
            key,
            f"{looks.character(own[0])} hardly stands out from {scene.background} of {scene.name}: "
            f"{share:.0%} of its paint has the luminance of what is behind it (within {ALIKE} to 1).",
            "Lighten or darken the background around it, or the condition's paints.",
            tuple(looks.key(n) for n in own), scene.condition or "", share * 100, MOST_LOST * 100, "%",
        )  # fmt: skip
