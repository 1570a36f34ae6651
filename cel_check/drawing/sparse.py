"""Connected components of a few pixels of a large map, given as a list."""

import numpy as np
from numpy.typing import NDArray


def joined(pixels: NDArray[np.int64], steps: tuple[int, ...]) -> NDArray[np.int64]:
    """Return for each pixel the place in the list of the first one that it is connected to.

    Pixels in a list are joined quicker than a pass over the whole map takes.

    Args:
        pixels: `(n,)` places in the map, counted in reading order, ascending; none in the map's last column
            where a step would lead round to the next row.
        steps: the differences of places that connect two pixels, each in one direction: 1 and the map's width
            for 4-connected, these and the width less and plus 1 for 8-connected.
    """
    beside = pixels + np.array(steps)[:, None]
    place = np.minimum(np.searchsorted(pixels, beside), len(pixels) - 1)
    there = pixels[place] == beside
    one, other = np.nonzero(there)[1], place[there]
    first = np.arange(len(pixels))
    while (apart := first[one] != first[other]).any():
        one, other = one[apart], other[apart]
        low, high = np.minimum(first[one], first[other]), np.maximum(first[one], first[other])
        np.minimum.at(first, high, low)
        while (first[first] != first).any():
            first = first[first]
    return first
