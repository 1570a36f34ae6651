"""What decoders log and warn of is collected or kept away, and never reaches the terminal."""

import logging
import threading
import warnings

from cel_check.picture.raster import complaints_of, without_warnings


def test_complaints_of_this_thread_are_collected():
    logger = logging.getLogger("tifffile")
    with complaints_of("tifffile") as complaints:
        logger.warning("strip %d is short", 3)
        logger.debug("nothing")
        other = threading.Thread(target=logger.warning, args=("another picture",))
        other.start()
        other.join()
    logger.warning("afterwards")
    assert complaints == ["strip 3 is short"]


def test_warnings_are_kept_away_only_inside():
    with without_warnings():
        warnings.warn("of a decoder", stacklevel=1)
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        warnings.warn("of others", stacklevel=1)
    assert len(caught) == 1
