"""Runs the desk's server on one socket until it is told to stop."""

import signal
import socket
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import uvicorn

from cel_check.episode.folder import Episode
from cel_check.errors import BadInput, Problem
from cel_check.review.app import Rooms, desk_app
from cel_check.review.desk import Desk
from cel_check.review.gate import Gate
from cel_check.review.pictures import PictureDesk

LOOPBACK = "127.0.0.1"
_WAITING = 64
"""Connections that wait to be taken."""


def listening(host: str, port: int) -> socket.socket:
    """Return a socket that listens; port 0 takes one that is free.

    Raises:
        BadInput: where the address cannot be taken.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    found = socket.socket(family, socket.SOCK_STREAM)
    try:
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind((host, port))
        found.listen(_WAITING)
    except (OSError, OverflowError) as error:
        found.close()
        reason = getattr(error, "strerror", None) or str(error)
        wrong = f"the desk cannot listen on port {port} there ({reason})"
        raise BadInput(Problem(host, "", wrong, "Give another --port, or none.")) from None
    return found


def address_of(gate: Gate) -> str:
    """Return the link that opens the desk."""
    host = LOOPBACK if gate.host in {"0.0.0.0", "::"} else gate.host
    return f"http://{f'[{host}]' if ':' in host else host}:{gate.port}/?token={gate.link}"


def rooms_of(episode: Episode, ledger: Path, gate: Gate, who: str) -> Rooms:
    """Return what the answers are made from.

    Args:
        episode: as loaded.
        ledger: its file, opened once by `open_ledger`.
        gate: what opens the desk.
        who: the name offered to a person.
    """
    return Rooms(Desk(episode, ledger), PictureDesk(), gate, who)


def serve(rooms: Rooms, taken: socket.socket, ready: Callable[[], object]) -> None:
    """Answer on a socket until the process is told to stop (Ctrl-C, SIGTERM); `ready` is called before."""
    config = uvicorn.Config(
        desk_app(rooms),
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        lifespan="off",
        ws="none",
        http="h11",
        limit_concurrency=128,
        h11_max_incomplete_event_size=32 * 1024,
        timeout_graceful_shutdown=2,
    )
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _stopped)
    ready()
    uvicorn.Server(config).run(sockets=[taken])


def _stopped(_number: int, _frame: FrameType | None) -> None:
    """Take the signal that the server hands on once it has ended: the desk was closed, nothing went wrong."""
