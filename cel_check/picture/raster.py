"""Pixels as a decoder hands them on, before color, alpha and orientation are settled."""

import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum
from logging import DEBUG, WARNING, Handler, LogRecord, NullHandler, getLogger

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.uint8 | np.uint16]


class Alpha(Enum):
    """What a file says about its alpha channel."""

    STRAIGHT = "straight"
    ASSOCIATED = "associated"
    UNDECLARED = "undeclared"


@dataclass(frozen=True, eq=False)
class Raster:
    """Decoded pixels.

    Attributes:
        samples: `(height, width, channels)` uint8 or uint16 over the whole range of the type; 1 channel is
            gray, 2 gray and alpha, 3 RGB, 4 RGB and alpha.
        alpha: what the file says about its alpha, where it has one.
        notes: what was converted, one sentence each.
        in_srgb: True where the decoder has already used up the file's profile.
        opaque: True where it is known to have no alpha.
    """

    samples: Samples
    alpha: Alpha = Alpha.STRAIGHT
    notes: tuple[str, ...] = ()
    in_srgb: bool = False
    opaque: bool = False


for _library in ("imagecodecs", "tifffile", "PIL"):
    # Without a handler of their own Python writes their warnings to the terminal, where only cli/ may write.
    getLogger(_library).addHandler(NullHandler())


class _Collector(Handler):
    def __init__(self) -> None:
        super().__init__(DEBUG)
        self.thread = threading.get_ident()
        self.complaints: list[str] = []

    def emit(self, record: LogRecord) -> None:
        if record.thread == self.thread and record.levelno >= WARNING:
            self.complaints.append(record.getMessage())


@contextmanager
def without_warnings() -> Iterator[None]:
    """Keep decoders' warnings away: they are of damage, which raises too, or of data beside pixels."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


@contextmanager
def complaints_of(library: str) -> Iterator[list[str]]:
    """Collect what a decoder logs on this thread as wrong: some go on where they should stop."""
    collector = _Collector()
    logger = getLogger(library)
    logger.addHandler(collector)
    try:
        yield collector.complaints
    finally:
        logger.removeHandler(collector)
