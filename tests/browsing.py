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
    "--disable-ipc-flooding-protection",  # a test goes forward and back faster than people do
]
HERE = re.compile(r"(file|data|blob|about):|https?://(127\.0\.0\.1|localhost)[:/]")


WALK = """async () => {
  const shown = () => [...document.querySelectorAll("[data-node]")].filter((node) => node.checkVisibility());
  const gone = () => new Promise((done) => addEventListener("popstate", done, {once: true}));
  const wrong = [], answered = new Set(), outcomes = new Set();
  const heading = (id) => document.getElementById(id).querySelector("h2");
  const expect = (holds, words) => holds || wrong.push(words);
  const walk = async (id) => {
    const node = document.getElementById(id), answers = [...node.querySelectorAll("a[data-go]")];
    expect(answers.length > 0 !== "outcome" in node.dataset, `${id} has ${answers.length} answers`);
    if ("outcome" in node.dataset) outcomes.add(id);
    if (answered.has(id)) return;
    answered.add(id);
    for (const link of answers) {
      const go = link.dataset.go;
      link.click();
      expect(shown().length === 1 && shown()[0].dataset.node === go, `${id}: ${go} is not shown alone`);
      expect(document.activeElement === heading(go), `${go} has no focus`);
      expect(decodeURIComponent(location.hash) === `#${go}`, `${go} is not in the address`);
      await walk(go);
      history.back();
      await gone();
      expect(shown().length === 1 && shown()[0] === node, `${go}: back does not lead to ${id}`);
    }
  };
  await walk(shown()[0].dataset.node);
  return {wrong, answered: [...answered], outcomes: [...outcomes]};
}"""
"""On a tree page: presses every answer of every node once, and goes back after each."""


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
    assert not wrong, "\n".join(wrong)


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
