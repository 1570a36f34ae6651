"""A cel: paint and ink laid down part by part, rendered to straight-alpha RGBA."""

import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import cv2
import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import Image

from drawing_kit.brush import Pen, outline, widths
from drawing_kit.curves import Array, Curve, Warp, depth_inside

WIDTH, HEIGHT = 1920, 1080
CORNER = 24  # pixels; a painter's brush would not get in
Pixels = NDArray[np.uint8]


class Cel:
    """Collects SVG. Curves arrive in the drawer's units and pass through `warp`; pens are in pixels."""

    def __init__(self, colors: Mapping[str, str], inks: frozenset[str], hard: bool = False) -> None:
        self.colors, self.inks, self.hard = colors, inks, hard
        self.warp: Warp = lambda p: p
        self.pen_scale = 1.0
        self._svg: list[str] = []
        self._clips = 0
        self._strokes = 0

    @contextmanager
    def placed(self, warp: Warp) -> Iterator[None]:
        """Everything inside is drawn through `warp` first, then through the place that held before."""
        outer = self.warp
        self.warp = lambda p: outer(warp(p))
        yield
        self.warp = outer

    def pixels_of(self, shape: Curve) -> Curve:
        return shape.warped(self.warp)

    def fill(self, *shapes: Curve, paint: str) -> None:
        """Several shapes are one area with holes (even-odd)."""
        data = "".join(self.pixels_of(shape).path() for shape in shapes)
        self._svg.append(f'<path d="{data}" fill="{self.colors[paint]}" fill-rule="evenodd"{self._edge()}/>')

    def ink(self, shape: Curve, ink: str, pen: Pen | None = None) -> None:
        real = self.pixels_of(shape)
        self._line(real.samples(), ink, pen or Pen(), real.closed)

    def part(self, shape: Curve, paint: str, ink: str = "outline", pen: Pen | None = None) -> None:
        """A closed part: paint up to the middle of its line, ink over it."""
        self.fill(shape, paint=paint)
        self.ink(shape, ink, pen)

    def joined(self, shape: Curve, body: Curve, ink: str, pen: Pen, overlap: int) -> None:
        """The line of a part that grows out of `body`, left out where it lies in the body, near its start.

        `overlap` points at both ends of its chain (see `limb`) may lose their line.
        """
        real, around = self.pixels_of(shape), self.pixels_of(body).samples()
        points = np.concatenate([real.part(i, i + 1).samples()[:-1] for i in range(len(real.pieces))])
        count = [len(real.part(i, i + 1).samples()) - 1 for i in range(len(real.pieces))]
        owner = np.repeat(np.arange(len(real.pieces)), count)
        near = (owner < overlap) | (owner >= len(real.pieces) - 1 - overlap)
        shown = ~(near & (depth_inside(points, around) > 3.0))
        if shown.all():
            self._line(np.concatenate([points, points[:1]]), ink, pen, closed=True)
            return
        first = int(np.flatnonzero(~shown)[0])
        points, shown = np.roll(points, -first, axis=0), np.roll(shown, -first)
        for run in np.split(np.arange(len(points)), np.flatnonzero(np.diff(shown)) + 1):
            if shown[run[0]] and len(run) > 3:
                self._line(points[run], ink, pen, closed=False)

    @contextmanager
    def inside(self, shape: Curve) -> Iterator[None]:
        """What is drawn inside ends at the middle of the shape's line."""
        self._clips += 1
        name = f"c{self._clips}"
        path = f'<path d="{self.pixels_of(shape).path()}"{self._edge()}/>'
        self._svg.append(f'<clipPath id="{name}">{path}</clipPath><g clip-path="url(#{name})">')
        yield
        self._svg.append("</g>")

    def render(self) -> Pixels:
        """(1080, 1920, 4) uint8 RGBA, straight alpha, clear where nothing lies."""
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" '
            f'viewBox="0 0 {WIDTH} {HEIGHT}">{"".join(self._svg)}</svg>'
        )
        data = bytes(resvg_py.svg_to_bytes(svg_string=svg, skip_system_fonts=True))
        pixels = np.array(Image.open(io.BytesIO(data)).convert("RGBA"))
        inks = [self.colors[ink] for ink in sorted(self.inks)]
        return plugged(exact_rims(pixels, inks), inks)

    def _line(self, points: Array, ink: str, pen: Pen, closed: bool) -> None:
        self._strokes += 1
        scale = self.pen_scale
        pen = Pen(pen.width * scale, pen.swell, pen.least * scale**0.5, pen.taper * scale, pen.tip,
                  pen.phase + 1.7 * self._strokes)  # fmt: skip
        data = outline(points, widths(points, pen, closed))
        self._svg.append(f'<path d="{data}" fill="{self.colors[ink]}"{self._edge()}/>')

    def _edge(self) -> str:
        return ' shape-rendering="crispEdges"' if self.hard else ""


def exact_rims(pixels: Pixels, inks: list[str]) -> Pixels:
    """Take out the rounding that a premultiplied renderer leaves on half-clear pixels.

    Such a pixel's color is known only to some 255 / alpha steps a channel (up to 1.2 of them measured).
    Where an ink lies within that, it is the ink.
    """
    out = pixels.copy()
    out[out[..., 3] == 0] = 0
    rim = (out[..., 3] > 0) & (out[..., 3] < 255)
    found = out[rim][:, :3].astype(float)
    slack = 330.0 / out[rim][:, 3].astype(float) + 2.5
    color, best = found.copy(), np.full(len(found), np.inf)
    for ink in inks:
        target = np.array(rgb(ink), dtype=float)
        off = np.abs(found - target).max(axis=1)
        hit = (off <= slack) & (off < best)
        best[hit], color[hit] = off[hit], target
    out[rim, :3] = color.astype(np.uint8)
    return out


def plugged(pixels: Pixels, inks: list[str]) -> Pixels:
    """Fill with ink what is left clear, or half clear, in the corners between lines.

    That is what lies away from the clear outside and from every enclosed clear place above `CORNER` pixels.
    """
    clear = (pixels[..., 3] == 0).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(clear, connectivity=4)
    large = (stats[:, cv2.CC_STAT_AREA] > CORNER)[labels]
    wide = large & (clear > 0)
    near = cv2.dilate(wide.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=2) > 0
    out = pixels.copy()
    lines = np.array([rgb(ink) for ink in inks], dtype=np.uint8)
    for y, x in np.argwhere((pixels[..., 3] < 255) & (~near | ~large)):
        around = pixels[max(y - 4, 0) : y + 5, max(x - 4, 0) : x + 5].reshape(-1, 4)
        votes = [int(((around[:, :3] == line).all(axis=1) & (around[:, 3] > 0)).sum()) for line in lines]
        if max(votes) > 0:
            out[y, x] = (*lines[int(np.argmax(votes))], 255)
    return out


def rgb(color: str) -> tuple[int, int, int]:
    return int(color[1:3], 16), int(color[3:5], 16), int(color[5:7], 16)


def png_bytes(pixels: Pixels) -> bytes:
    store = io.BytesIO()
    Image.fromarray(pixels).save(store, format="PNG", optimize=True, compress_level=9)
    return store.getvalue()
