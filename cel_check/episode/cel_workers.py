"""How cels are run on this machine's cores: how many workers, what each prepares, how long a cel may take."""

import gc
import os

import cv2

from cel_check.episode.pool import Plan, Pool, Stop
from cel_check.scene.cel import check_cel
from cel_check.scene.results import CelResult
from cel_check.scene.tasks import CelTask, unchecked

if os.name == "posix":
    import resource

# What a worker may fill before it gets a MemoryError, so that the system kills nothing else for it; the least
# is what the libraries reserve beside a large picture.
_MEMORY_SHARE = 0.8
_MEMORY_LEAST = 4 << 30
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
# The GNU C library hands large arrays back to the system and gets them again, cleared, for the next cel: a
# twelfth of a worker's time. Up to these sizes it keeps them, and in large pages, which the processor finds
# sooner: a twentieth where one cel is checked over and over, an eighth of a night. Elsewhere nobody reads the
# names.
_KEPT_MEMORY = {
    "MALLOC_MMAP_THRESHOLD_": str(32 << 20),
    "MALLOC_TRIM_THRESHOLD_": str(256 << 20),
    "GLIBC_TUNABLES": "glibc.malloc.hugetlb=1",
}
# A cel makes thousands of small objects and hardly a cycle of them, which is all that is looked for.
_NEW_OBJECTS = 10_000

CelPool = Pool[CelTask, CelResult]


def cel_plan(jobs: int, stop: Stop | None) -> Plan[CelTask, CelResult]:
    """Return how cels are run: one core a worker, and a result also for a cel that kills its worker."""
    set_up_workers()
    return Plan(check_cel, _lost, _seconds, jobs, prepare_worker, stop)


def set_up_workers() -> None:
    """Let workers that are started from now on use one thread each and keep the memory that they have."""
    for name in _ONE_THREAD:  # read by the libraries when a worker first imports them
        os.environ.setdefault(name, "1")
    for name, size in _KEPT_MEMORY.items():
        os.environ.setdefault(name, size)


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


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


def _seconds(task: CelTask) -> float:
    return task.seconds


def _lost(task: CelTask, reason: str) -> CelResult:
    return unchecked(task, f"the check did not finish: {reason}")
