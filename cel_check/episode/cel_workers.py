"""How cels are run on this machine's cores: how many workers, what they inherit, how long a cel may take."""

import os

from cel_check.episode.pool import Plan, Pool, Stop
from cel_check.episode.worker import Named
from cel_check.scene.results import CelResult
from cel_check.scene.tasks import CelTask, unchecked

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

CelPool = Pool[CelTask, CelResult]

CHECK = Named("cel_check.scene.cel", "check_cel")
"""What a worker does with each cel."""

PREPARE = Named("cel_check.episode.prepare", "prepare_worker")
"""What every worker does first."""


def cel_plan(jobs: int, stop: Stop | None) -> Plan[CelTask, CelResult]:
    """Return how cels are run: one core a worker, and a result also for a cel that kills its worker."""
    set_up_workers()
    return Plan(CHECK, _lost, _seconds, jobs, PREPARE, stop)


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


def _seconds(task: CelTask) -> float:
    return task.seconds


def _lost(task: CelTask, reason: str) -> CelResult:
    return unchecked(task, f"the check did not finish: {reason}")
