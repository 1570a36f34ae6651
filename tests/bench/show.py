"""Contact sheets: enlarged crops of what was missed and of every false alarm."""

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.faults import Box

TILE = 260
CAPTION = 34
COLUMNS = 6
CLEAR = np.array([255.0, 205.0, 255.0])
MARK = (0, 120, 255)
Tile = NDArray[np.uint8]


def crop(rgba: NDArray[np.uint8], box: Box, mark: Box | None = None) -> Tile:
    """Return the place around `box` enlarged to a tile, clear shown pink, `mark` framed."""
    x, y, width, height = box
    side = max(width, height) + 40
    left, top = x + width // 2 - side // 2, y + height // 2 - side // 2
    window = np.pad(rgba, ((side, side), (side, side), (0, 0)))
    window = window[top + side : top + 2 * side, left + side : left + 2 * side].astype(np.float64)
    alpha = window[..., 3:] / 255.0
    flat = np.rint(window[..., :3] * alpha + CLEAR * (1 - alpha)).astype(np.uint8)
    method = cv2.INTER_NEAREST if side < TILE else cv2.INTER_AREA
    tile = np.asarray(cv2.resize(flat, (TILE, TILE), interpolation=method))
    if mark is not None:
        k = TILE / side
        one = (int((mark[0] - left) * k) - 3, int((mark[1] - top) * k) - 3)
        two = (int((mark[0] + mark[2] - left) * k) + 3, int((mark[1] + mark[3] - top) * k) + 3)
        cv2.rectangle(tile, one, two, MARK, 1)
    return tile.astype(np.uint8)


def captioned(tiles: Sequence[Tile], text: str) -> Tile:
    """Put tiles side by side under two lines of text."""
    row = np.hstack([np.pad(tile, ((0, 0), (2, 2), (0, 0)), constant_values=255) for tile in tiles])
    head = np.full((CAPTION, row.shape[1], 3), 255, np.uint8)
    for index, line in enumerate(text.split("\n")[:2]):
        cv2.putText(
            head, line, (4, 14 + 16 * index), cv2.FONT_HERSHEY_SIMPLEX, 0.4, (0, 0, 0), 1, cv2.LINE_AA
        )
    return np.vstack([head, row])


def write_sheets(tiles: Sequence[Tile], folder: Path, name: str, rows: int = 5) -> None:
    """Write the tiles (all of one size) as `name-1.png`, `name-2.png` ..."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob(f"{name}-*.png"):
        old.unlink()
    if not tiles:
        return
    columns = max(1, COLUMNS * (TILE + 4) // tiles[0].shape[1])
    step = rows * columns
    for number, start in enumerate(range(0, len(tiles), step), 1):
        page = list(tiles[start : start + step])
        page += [np.full_like(page[0], 255)] * (-len(page) % columns)
        sheet = np.vstack([np.hstack(page[i : i + columns]) for i in range(0, len(page), columns)])
        cv2.imwrite(str(folder / f"{name}-{number}.png"), sheet[..., ::-1])
