"""A decoded picture: what every later step works on."""

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Backing = Literal["clear", "card"]


@dataclass(frozen=True, eq=False)
class Picture:
    """One picture as shown (orientation applied), in sRGB with straight alpha.

    Attributes:
        rgba: `(height, width, 4)` uint8, C-contiguous, sRGB, alpha straight (not premultiplied). 16-bit data
            is rounded to 8 bits for the separation of ink and paint, and kept whole in `rgb16`.
        rgb16: `(height, width, 3)` uint16, sRGB, where the file holds 16 bits a channel; else None.
        opaque: True where the file has no alpha, or alpha is 255 everywhere.
        sha256: hex digest of the file's bytes.
        dpi: pixels an inch, as the file states; None where it does not.
        notes: what was converted on the way, one sentence each, in the order of conversion (a wrong ending,
            more than one frame, CMYK, associated alpha, a profile that is not sRGB, orientation). Empty
            where the pixels are those of the file.
    """

    rgba: NDArray[np.uint8]
    rgb16: NDArray[np.uint16] | None
    opaque: bool
    sha256: str
    dpi: float | None
    notes: tuple[str, ...]

    @property
    def width(self) -> int:
        """Width in pixels."""
        return int(self.rgba.shape[1])

    @property
    def height(self) -> int:
        """Height in pixels."""
        return int(self.rgba.shape[0])

    @cached_property
    def visible(self) -> tuple[int, int, int, int]:
        """The rectangle that holds every pixel with any alpha: x, y, width, height; all 0 on an empty cel."""
        if self.opaque:
            return 0, 0, self.width, self.height
        # Whole pixels ORed as one word each: faster than taking the alpha channel out.
        words = self.rgba.view("<u4")[:, :, 0]
        columns = np.flatnonzero(np.bitwise_or.reduce(words, axis=0) >> 24)
        if not len(columns):
            return 0, 0, 0, 0
        left, right = int(columns[0]), int(columns[-1]) + 1
        rows = np.flatnonzero(np.bitwise_or.reduce(words[:, left:right], axis=1) >> 24)
        top, bottom = int(rows[0]), int(rows[-1]) + 1
        return left, top, right - left, bottom - top
