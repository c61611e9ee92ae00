"""Serving a guide while it is being written: each change is built, and pages in a browser follow."""

import os
import socket
import sys
import tempfile
from pathlib import Path

from mkdocs.livereload import LiveReloadServer

from build_tools.setup import progress, stopping
from build_tools.setup.environment import CACHE, IS_INSTALLED, WrongUse
from build_tools.setup.progress import say
from build_tools.site import watching
from build_tools.site.building import Manner, settings_for
from build_tools.site.guarded import guarded

__all__ = ["serve"]

HOST = "127.0.0.1"


def serve(guide: Path, port: int, manner: Manner) -> int:
    """Serve the guide on localhost until stopped; each change is built by a process of its own.

    So a change of `calc` or of the compiler counts too, and a refused build leaves the last good pages up.
    """
    _must_be_free(port)
    with tempfile.TemporaryDirectory(prefix="lost-neutral-") as folder:
        site = Path(folder, "site")
        command = [sys.executable, "-P", "-m", "build_tools", "build", "--draft"]
        command += ["--guide", str(guide), "--to", str(site)]
        command += ["--theme", manner.theme]
        command += ["--operator", str(manner.operator)] if manner.operator else []
        command += ["--language", manner.language] if manner.language else []
        command += ["--quiet"] if progress.is_quiet() else []
        # in the repository nothing is written where changes are looked for
        aside = {} if IS_INSTALLED else {"PYTHONPYCACHEPREFIX": str(CACHE / "pycache")}

        def rebuild() -> None:
            stopping.call(command, env={**os.environ, **aside})

        rebuild()
        if not site.exists():
            return 1
        server = LiveReloadServer(builder=rebuild, host=HOST, port=port, root=str(site))
        server.set_app(guarded(server.serve_request, HOST))
        watching.watch(server, guide)
        server.watch(str(settings_for(guide)))
        say(f"serving {server.url} - Ctrl-C stops it")
        try:
            server.serve()  # type: ignore[no-untyped-call]
        finally:
            server.shutdown()
    return 0


def _must_be_free(port: int) -> None:
    with socket.socket() as probe:
        if os.name != "nt":  # there it would take a port that is in use
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError as error:
            raise WrongUse(
                f"port {port} cannot be used ({error.strerror}); try: serve --port {port % 65535 + 1}"
            ) from error
