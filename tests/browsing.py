"""A real browser for tests, which notes whatever a page must not do."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, sync_playwright

from build_tools import programs

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
HERE = re.compile(r"(file|data|blob|about):|https?://(127\.0\.0\.1|localhost)[:/]")


@contextmanager
def browser() -> Iterator[Browser]:
    """The browser that LOST_NEUTRAL_BROWSER names, or else one that is installed. None is an error."""
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=str(programs.browser()), args=ARGUMENTS)
        try:
            yield started
        finally:
            started.close()


@contextmanager
def watched(started: Browser, **options: Any) -> Iterator[BrowserContext]:
    """Fresh pages; at the end none may have logged an error, thrown one, or asked another host."""
    wrong: list[str] = []
    context = started.new_context(**options)
    context.set_default_timeout(5_000)
    context.on(
        "console", lambda said: wrong.append(f"console: {said.text}") if said.type == "error" else None
    )
    context.on("weberror", lambda thrown: wrong.append(f"thrown: {thrown.error}"))
    context.on(
        "request", lambda asked: None if HERE.match(asked.url) else wrong.append(f"asked: {asked.url}")
    )
    try:
        yield context
    finally:
        context.close()
    assert wrong == []


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The address of a plain web server for a folder."""

    class Quiet(SimpleHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(folder)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
