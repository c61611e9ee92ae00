"""A web server on this machine for a folder, for as long as something is looked at in a browser."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

__all__ = ["LocalServer", "Quiet", "served"]


class Quiet(SimpleHTTPRequestHandler):
    """Answers with files and tells nobody."""

    def log_message(self, *_: object) -> None:
        """Nothing."""


class LocalServer(ThreadingHTTPServer):
    """Serves a folder until it is shut down, at `port` or at one that is free.

    A browser that goes away before it has the whole answer is no error.
    """

    def __init__(self, folder: Path, answering: type[Quiet] = Quiet, port: int = 0) -> None:
        super().__init__(("127.0.0.1", port), partial(answering, directory=str(folder)))
        threading.Thread(target=self.serve_forever, daemon=True).start()

    @property
    def address(self) -> str:
        """Where the folder begins."""
        return f"http://127.0.0.1:{self.server_port}"

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Tell of errors, but for a browser that went away."""
        if not isinstance(sys.exc_info()[1], ConnectionError):
            super().handle_error(request, client_address)


@contextmanager
def served(folder: Path, answering: type[Quiet] = Quiet) -> Iterator[str]:
    """The address of a folder on a server of its own."""
    server = LocalServer(folder, answering)
    try:
        yield server.address
    finally:
        server.shutdown()
