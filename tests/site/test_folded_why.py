"""Why a node is there stands folded below its answers: in nobody's way, and one press away."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from test_tree_page import at

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[2] / "guide_src"


@pytest.fixture
def loop(site: Path, page: Page) -> Page:
    """The shipped test of one home, at a reading with much behind it."""
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(f"{(site / 'trees/site/test-one-home.html').as_uri()}#loop-to-earth")
    return page


def test_it_is_folded_and_opens_with_the_keyboard(loop: Page) -> None:
    why = loop.locator("[data-node]:visible .ln-why")
    expect(why.locator(".ln-help")).not_to_be_visible()
    why.locator("summary").focus()
    loop.keyboard.press("Enter")
    expect(why.locator(".ln-help")).to_contain_text("the figure usually quoted for TN-C-S")
    assert at(loop) == "loop-to-earth"  # Enter opened it, and gave no answer
    loop.keyboard.press("Enter")
    expect(why.locator(".ln-help")).not_to_be_visible()


def test_nothing_moves_above_it_when_it_opens(loop: Page) -> None:
    shown = loop.locator("[data-node]:visible")
    parts = [shown.locator("h2"), shown.locator("input[data-typed]"), shown.locator(".ln-aside")]
    before = [part.bounding_box() for part in parts]
    shown.locator(".ln-why summary").dispatch_event("click")
    expect(shown.locator(".ln-why .ln-help")).to_be_visible()
    assert [part.bounding_box() for part in parts] == before


def test_what_keeps_people_safe_is_never_folded(loop: Page) -> None:
    loop.goto(loop.url.replace("loop-to-earth", "known-load-on"))
    shown = loop.locator("[data-node]:visible")
    expect(shown.locator(".ln-help")).to_contain_text("nobody touches it")
    expect(shown.locator(".ln-why")).to_have_count(0)
