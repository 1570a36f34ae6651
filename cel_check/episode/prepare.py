"""What a worker does once, before its first task."""

import gc
import os

import cv2

if os.name == "posix":
    import resource

# What a worker may fill before it gets a MemoryError, so that the system kills nothing else for it; the least
# is what the libraries reserve beside a large picture.
_MEMORY_SHARE = 0.8
_MEMORY_LEAST = 4 << 30
# A cel makes thousands of small objects and hardly a cycle of them, which is all that is looked for.
_NEW_OBJECTS = 10_000


def prepare_worker() -> None:
    """Keep a worker to one core and to its share of the memory."""
    cv2.setNumThreads(1)
    gc.freeze()  # what was imported stays, and need not be gone through again and again
    gc.set_threshold(_NEW_OBJECTS)
    if os.name == "posix":
        limit = max(
            _MEMORY_LEAST, int(_MEMORY_SHARE * os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE"))
        )
        _, hard = resource.getrlimit(resource.RLIMIT_AS)
        if hard == resource.RLIM_INFINITY or hard > limit:
            resource.setrlimit(resource.RLIMIT_AS, (limit, hard))
