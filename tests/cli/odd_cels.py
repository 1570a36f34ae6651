"""The command line with cels that misbehave by their number.

9 kills its worker, 8 hangs, 7 ends its worker, 6 fills it. Every cel leaves its worker's id in a file.
"""

import os
import signal
import sys
import time
from pathlib import Path

from cel_check.cli import running
from cel_check.cli.guard import guarded
from cel_check.cli.main import group
from cel_check.episode import cel_workers
from cel_check.episode.worker import Named
from cel_check.scene.cel import check_cel


def odd_check(task):
    """Check a cel, unless its number says otherwise."""
    note = Path(os.environ["ODD_NOTES"]) / f"{task.drawing}.{os.getpid()}"
    note.touch()
    if task.drawing == "9":
        os.kill(os.getpid(), signal.SIGKILL)
    if task.drawing == "8":
        time.sleep(600)
    if task.drawing == "7":
        os._exit(7)
    if task.drawing == "6":
        raise MemoryError
    return check_cel(task)


def broken_conduct(*_):
    """Be a defect."""
    raise KeyError("a defect")


if __name__ == "__main__":
    cel_workers.CHECK = Named("odd_cels", "odd_check")
    if os.environ.get("ODD_DEFECT"):
        running.conduct = broken_conduct
    sys.exit(guarded(group, sys.argv[1:]))
