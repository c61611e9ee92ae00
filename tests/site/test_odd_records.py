"""One odd record in the browser's storage hides no other, and is lost by nobody's doing."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsing import press
from playwright.sync_api import Page, expect
from test_job_record import kept
from test_tree_page import CALL_TREE, SITE_TREE

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[1] / "guides" / "walked"
PAGES = ("jobs.html", "index.html", SITE_TREE, CALL_TREE, "trees/call/index.html")
"""Every kind of page that reads what is kept. The fixture's watch fails the test by any error in one."""


PUT = """([key, text]) => {
  localStorage.setItem(key, text);
  dispatchEvent(new Event("storage"));
}"""


@pytest.fixture
def record(host: str, page: Page) -> tuple[str, dict[str, Any]]:
    """A finished job with an answer taken back, beside a second one: its key, and what it holds."""
    page.goto(f"{host}/{SITE_TREE}")
    press(page, "No", "Done", "below")
    page.locator("[data-part=back]").click()
    press(page, "Could not take it")
    page.locator("[data-part=note]").fill("a dog")
    page.locator("[data-part=again]").click()
    press(page, "Yes")
    (done,) = (job for job in kept(page) if "outcome" in job)
    key = page.evaluate("id => Object.keys(localStorage).find((key) => key.endsWith(id))", done["id"])
    return key, done


def breakings(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    """Every place of a record, the parts of its parts too, with each thing that should not stand there."""
    if path:
        for wrong in (None, [], {}, "x", -1, 1e300, [None], True, "<b>" * 9):
            yield path, wrong
        yield path, ...
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, inner in inside:
        yield from breakings(inner, (*path, name))


def broken(record: dict[str, Any], path: tuple[str | int, ...], wrong: Any) -> dict[str, Any]:
    made = copy.deepcopy(record)
    where: Any = made
    for name in path[:-1]:
        where = where[name]
    if wrong is ...:
        del where[path[-1]]
    else:
        where[path[-1]] = wrong
    return made


def test_whatever_is_odd_hides_nothing(host: str, page: Page, record: tuple[str, dict[str, Any]]) -> None:
    key, sound = record
    cases = [json.dumps(broken(sound, *each)) for each in breakings(sound)]
    cases += ["", "{", "null", "[]", "7", json.dumps({**sound, "format": 2})]
    assert len(cases) > 300
    page.goto(f"{host}/jobs.html")
    for text in cases:
        page.evaluate(PUT, [key, text])
        shown, apart = page.locator("[data-part=list] .ln-job"), page.locator("[data-part=odd] .ln-job")
        assert (shown.count(), apart.count()) in ((2, 0), (1, 1)), text
        if apart.count():
            assert apart.locator("textarea").input_value() == text
    assert page.evaluate("key => localStorage.getItem(key)", key) == cases[-1]


@pytest.mark.parametrize("where", PAGES)
def test_no_page_stumbles_over_one(
    where: str, host: str, page: Page, record: tuple[str, dict[str, Any]]
) -> None:
    key, sound = record
    some = [
        broken(sound, path, wrong)
        for path, wrong in breakings(sound)
        if wrong in (None, ...) and len(path) < 3
    ]
    turn = PAGES.index(where)  # each odd record on some of the pages, and each page with some of each kind
    for odd in [*some[turn::3], 7, None]:
        page.evaluate(
            """([key, odd]) => {
              localStorage.setItem(key, JSON.stringify(odd));
              const other = (name) => key.replace(":job:", `:${name}:`).replace(/:[a-z0-9]+$/, "");
              localStorage.setItem(other("open"), key.split(":").at(-1));
              sessionStorage.setItem(other("calls"), JSON.stringify(odd));
            }""",
            [key, odd],
        )
        page.goto(f"{host}/{where}")
        expect(page.locator("h1").first).to_be_visible()


def test_an_odd_one_is_cleared_by_itself(host: str, page: Page, record: tuple[str, dict[str, Any]]) -> None:
    key, _ = record
    page.evaluate("([key, text]) => localStorage.setItem(key, text)", [key, "{"])
    page.goto(f"{host}/jobs.html")
    page.locator("[data-part=odd] [data-one=clear]").click()
    page.locator("[data-part=clear]").click()
    expect(page.locator("[data-part=odd]")).to_be_hidden()
    expect(page.locator(".ln-job")).to_have_count(1)
