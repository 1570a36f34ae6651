"""A desk on an episode, served to a browser as the command serves it."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn

from cel_check.episode.folder import load_episode
from cel_check.review.app import desk_app
from cel_check.review.gate import Gate
from cel_check.review.serve import rooms_of


@contextmanager
def served(folder: Path, ledger: Path, person: str) -> Iterator[str]:
    """Open a desk on a port that is free, and give its link."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        gate = Gate(taken.getsockname()[1])
        app = desk_app(rooms_of(load_episode(folder), ledger, gate, person))
        server = uvicorn.Server(uvicorn.Config(app, log_config=None, lifespan="off", ws="none", http="h11"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [taken]})
        thread.start()
        while not server.started:
            time.sleep(0.01)
        yield f"http://127.0.0.1:{gate.port}/?token={gate.link}"
        server.should_exit = True
        thread.join()
