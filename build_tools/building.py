"""Building the guide aside and swapping it in, and serving it while it is being written."""

import logging
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from mkdocs.commands.build import build as build_with_mkdocs
from mkdocs.config import load_config
from mkdocs.exceptions import MkDocsException
from mkdocs.livereload import LiveReloadServer

from build_tools.command_line import WrongUse
from build_tools.environment import CACHE, ROOT, say

PLUGIN = "lost-neutral"
HOST = "127.0.0.1"
THEMES = ("material", "mkdocs")
"""The theme that mkdocs.yml sets up, and MkDocs's own."""

_OWN_THEME = {
    "name": "mkdocs",
    "custom_dir": str(ROOT / "build_tools" / "theme"),
    "locale": "en",
    "color_mode": "auto",
    "user_color_mode_toggle": True,
    "highlightjs": False,  # it would come from another host
    "shortcuts": {"help": None, "next": None, "previous": None, "search": None},  # keys are answers here
    "navigation_depth": 2,
}


@dataclass(frozen=True, slots=True)
class Manner:
    """How a guide is built.

    `operator`: a file to take in place of the guide's own operator.yaml; `language`: a catalogue's file, or
    one of languages.PSEUDO, or nothing for the authors' own; `strict`: guidance that is past its review date
    is refused as well, else its pages say so; `draft`: steps that were changed since the promises were
    measured are shown, under a word on every page that they are not for use.
    """

    theme: str = THEMES[0]
    operator: Path | None = None
    language: str = ""
    strict: bool = False
    draft: bool = False


def build(guide: Path, to: Path, manner: Manner = Manner()) -> int:
    """Build the guide into `to`; 0 when done, 1 when it was refused, which leaves `to` as it was."""
    to = to.resolve()
    _may_replace(to)
    to.parent.mkdir(parents=True, exist_ok=True)
    began = time.monotonic()
    say(f"building {guide}")
    with tempfile.TemporaryDirectory(prefix=f".{to.name}-", dir=to.parent) as aside:
        fresh = Path(aside, "fresh")
        try:
            _build_with_mkdocs(guide, fresh, manner)
        except MkDocsException as stopped:
            say(str(stopped))
            return 1
        if to.exists():
            to.rename(Path(aside, "before"))
        fresh.rename(to)
    say(f"built {to / 'index.html'} in {time.monotonic() - began:.1f} s")
    return 0


def serve(guide: Path, port: int, manner: Manner = Manner()) -> int:
    """Serve the guide on localhost until stopped; each change is built by a process of its own.

    So a change of `calc` or of the compiler counts too, and a refused build leaves the last good pages up.
    """
    _must_be_free(port)
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # stops as Ctrl-C does, and tidies up
    with tempfile.TemporaryDirectory(prefix="lost-neutral-") as folder:
        site = Path(folder, "site")
        command = [sys.executable, "-m", "build_tools", "build", "--draft"]
        command += ["--guide", str(guide), "--to", str(site)]
        command += ["--theme", manner.theme]
        command += ["--operator", str(manner.operator)] if manner.operator else []
        command += ["--language", manner.language] if manner.language else []
        aside = {
            "PYTHONPYCACHEPREFIX": str(CACHE / "pycache")
        }  # nothing is written where changes are looked for

        def rebuild() -> None:
            subprocess.run(command, env={**os.environ, **aside})

        rebuild()
        if not site.exists():
            return 1
        server = LiveReloadServer(builder=rebuild, host=HOST, port=port, root=str(site))
        for watched in (guide, ROOT / "calc", ROOT / "build_tools", ROOT / "mkdocs.yml"):
            server.watch(str(watched))
        say(f"serving {server.url} - Ctrl-C stops it")
        try:
            server.serve()  # type: ignore[no-untyped-call]
        except KeyboardInterrupt:
            say("stopped")
        finally:
            server.shutdown()
    return 0


def _build_with_mkdocs(guide: Path, to: Path, manner: Manner) -> None:
    logging.basicConfig(format="build_tools: %(message)s", level=logging.WARNING)
    config = load_config(
        str(ROOT / "mkdocs.yml"),
        site_dir=str(to),
        docs_dir=str(guide.resolve()),
        strict=manner.strict,
        theme=dict(_OWN_THEME) if manner.theme == "mkdocs" else None,
    )
    config.plugins[PLUGIN].config.update(
        guide=str(guide.resolve()),
        operator=str(manner.operator.resolve()) if manner.operator else "",
        language=manner.language,
        draft=manner.draft,
    )
    config.plugins.on_startup(command="build", dirty=False)
    try:
        build_with_mkdocs(config)
    finally:
        config.plugins.on_shutdown()


def _may_replace(folder: Path) -> None:
    if folder.is_dir() and (not any(folder.iterdir()) or (folder / "guide.json").is_file()):
        return
    if folder.exists():
        raise WrongUse(
            f"{folder} is not a guide built earlier, so it is left alone; name an empty or a new folder"
        )


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
