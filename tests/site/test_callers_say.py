"""What callers say finds what to do at once, or the right tree of calls, first."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from browsing import watched
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[2] / "guide_src"
SAID = yaml.safe_load(Path(__file__).parents[1].joinpath("callers_say.yaml").read_text("utf-8"))
PAGES = ("index.html", "find.html", "trees/call/index.html")
FIRST = """async (said) => {
  const box = document.querySelector("[data-part=said]");
  box.value = said;
  box.dispatchEvent(new Event("input"));
  const shown = () => document.querySelector("[data-part=count]").textContent.includes(said) ||
    document.querySelector("[data-part=found] a");
  for (let turn = 0; turn < 3 || !shown(); turn += 1) await new Promise((done) => setTimeout(done));
  return document.querySelector("[data-part=found] a")?.getAttribute("href") ?? "";
}"""


@pytest.fixture(scope="module", params=PAGES)
def finder(request: pytest.FixtureRequest, started: Browser, site: Path) -> Iterator[Page]:
    with watched(started) as context:
        page = context.new_page()
        page.goto(f"{site.as_uri()}/{request.param}")
        page.locator("[data-part=said]").fill("tap")
        expect(page.locator("[data-part=found] a").first).to_be_visible()
        yield page


def first(page: Page, said: str) -> str:
    found: str = page.evaluate(FIRST, said)
    return found


def test_words_of_danger_open_what_to_do_at_once(finder: Page) -> None:
    assert [said for said in SAID["danger"] if "danger.html#" not in first(finder, said)] == []


def test_words_of_danger_that_nobody_tuned_for_do_so_too(finder: Page) -> None:
    """Never written down as words that are heard; some are missed, and how many is held here."""
    apart = [*SAID["danger-apart"], *SAID["danger-outside"]]
    missed = [said for said in apart if "danger.html#" not in first(finder, said)]
    assert len(missed) <= 5, missed


def test_words_without_danger_find_their_tree_of_calls(finder: Page) -> None:
    calm: list[dict[str, Any]] = [*SAID["calm"], *SAID["calm-apart"]]
    wrong = [
        (one["said"], found) for one in calm if one["finds"] not in (found := first(finder, one["said"]))
    ]
    assert len(wrong) <= 6, wrong


def test_enter_goes_there(finder: Page) -> None:
    home = finder.url
    finder.locator("[data-part=said]").fill("my husband is stuck to the tap")
    finder.keyboard.press("Enter")
    finder.wait_for_url("**/danger.html#held")
    expect(finder.locator("#held h2")).to_be_in_viewport()
    finder.goto(home)


def test_what_finds_nothing_says_what_to_do(finder: Page) -> None:
    first(finder, "qqqqq")
    expect(finder.locator("[data-part=none]")).to_contain_text("held or hurt")
