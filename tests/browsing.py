"""A real browser for tests, which notes whatever a page must not do."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from build_tools.setup import programs

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
  const when = (event) => new Promise((done) => addEventListener(event, done, {once: true}));
  const wrong = [], outcomes = [];
  const heading = (id) => document.getElementById(id).querySelector("h2");
  const expect = (holds, words) => holds || wrong.push(words);
  const at = (id) => decodeURIComponent(location.hash) === `#${id}`;
  const found = [shown()[0].dataset.node];
  for (const id of found) {  // grows while it is read: the nearest nodes first
    if (!at(id)) {
      const there = when("hashchange");
      location.hash = id;
      await there;
      const look = document.querySelector("[data-part=look]");  // a call begins at its first question
      if (look?.checkVisibility()) look.click();
    }
    const node = document.getElementById(id), answers = [...node.querySelectorAll("a[data-go]")];
    expect(shown().length === 1 && shown()[0] === node, `${id} is not shown alone`);
    expect(answers.length > 0 !== "outcome" in node.dataset, `${id} has ${answers.length} answers`);
    if ("outcome" in node.dataset) outcomes.push(id);
    for (const link of answers) {
      const go = link.dataset.go;
      if (link.hasAttribute("data-explains")) {  // its figure decides: it is typed
        const form = node.querySelector("form[data-reading]"), box = form.querySelector("input");
        if (node.dataset.changeFrom) node.dataset.earlier = "0";  // as if it had been read
        box.value = link.dataset.from;
        box.dispatchEvent(new Event("input"));
        form.requestSubmit();
      } else link.click();
      expect(shown().length === 1 && shown()[0].dataset.node === go, `${id}: ${go} is not shown alone`);
      expect(document.activeElement === heading(go), `${go} has no focus`);
      expect(at(go), `${go} is not in the address`);
      const back = when("popstate");
      history.back();
      await back;
      expect(shown().length === 1 && shown()[0] === node, `${go}: back does not lead to ${id}`);
      if (!found.includes(go)) found.push(go);
    }
  }
  return {wrong, answered: found, outcomes};
}"""
"""On a tree page: every node that answers lead to from the first, each answer pressed once and taken back.

Browsers keep 50 steps of history, so the walk goes to each node by its address and is never two deep."""


def press(page: Page, *words: str) -> None:
    """Give one answer after another, as a person does: where the figure decides, one is typed."""
    for text in words:
        link = page.locator("[data-node]:visible a[data-go]", has_text=text).first
        if link.get_attribute("data-explains") is None:
            link.click()
        else:
            moved = float(link.get_attribute("data-from") or "0")
            before = page.locator("[data-node]:visible").get_attribute("data-earlier") or "0"
            typed = f"{moved + float(before.split()[0]):g}"  # judged by itself, or by how far it moved
            page.locator("[data-node]:visible input[data-typed]").fill(typed)
            page.locator("[data-node]:visible [data-accept]").click()


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


HEARD = (
    "addEventListener('securitypolicyviolation', e => violated(`${e.blockedURI} by ${e.violatedDirective}`))"
)


@contextmanager
def strictly_watched(started: Browser) -> Iterator[Page]:
    """A page whose policy nothing may violate, besides all that `watched` forbids; it may keep no cookie."""
    violations: list[str] = []
    with watched(started) as context:
        context.expose_binding(
            "violated", lambda source, what: violations.append(f"{source['page'].url}: {what}")
        )
        context.add_init_script(HEARD)
        yield context.new_page()
        assert context.cookies() == []
    assert violations == []
