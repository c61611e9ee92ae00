"""Keys for a reading where fingers press the page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import watched
from playwright.sync_api import Browser, Page, expect
from test_tree_page import SITE_TREE, at, press

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parent / "guides" / "walked"
PAD = "[data-node=clamp] [data-pad]"


@pytest.fixture
def tablet(started: Browser, site: Path) -> Iterator[Page]:
    with watched(started, has_touch=True, is_mobile=True, viewport={"width": 820, "height": 1180}) as context:
        page = context.new_page()
        page.goto(f"{site.as_uri()}/{SITE_TREE}#clamp")
        yield page


def tap(page: Page, *keys: str) -> None:
    for key in keys:
        page.locator(PAD).get_by_role("button", name=key, exact=True).tap()


PRESSED = [
    # keys, what is in the box, said back large, in words
    (("8",), "8", "8 A", "5 A or more: a whole home's current"),
    (("point", "8"), ".8", "0.8 A", "0.5 to below 5 A: current is flowing"),
    (("0", "point", "8"), "0.8", "0.8 A", "0.5 to below 5 A: current is flowing"),
    (("8", "0", "0", "mA"), "800 mA", "0.8 A", "0.5 to below 5 A: current is flowing"),
    (("8", "0", "0", "mA", "A"), "800 A", "800 A", "More than this instrument can show (200 A): Over range"),
    (("1", "point", "point", "5"), "1.5", "1.5 A", "0.5 to below 5 A: current is flowing"),
    (("4", "mA", "7"), "7", "7 A", "5 A or more: a whole home's current"),
    (("4", "2", "Take the last figure away"), "4", "4 A", "0.5 to below 5 A: current is flowing"),
    (("4", "Over range"), "OL", "Over range", "Over range"),
    (("Over range", "3"), "3", "3 A", "0.5 to below 5 A: current is flowing"),
]


@pytest.mark.parametrize(("keys", "box", "large", "words"), PRESSED)
def test_what_is_pressed_is_said_back_before_it_counts(
    tablet: Page, keys: tuple[str, ...], box: str, large: str, words: str
) -> None:
    tap(tablet, *keys)
    form = tablet.locator("[data-node=clamp] form")
    expect(form.locator("input")).to_have_value(box)
    expect(form.locator("[data-value]")).to_have_text(large)
    expect(form.locator("[data-meaning]")).to_have_text(words)
    assert at(tablet) == "clamp"
    tablet.get_by_role("button", name=f"Accept {large}").tap()
    assert at(tablet) != "clamp"


def test_clear_empties_and_the_keyboard_can_be_had(tablet: Page) -> None:
    box = tablet.locator("[data-node=clamp] input")
    assert box.get_attribute("inputmode") == "none"
    tap(tablet, "4", "Clear")
    expect(box).to_have_value("")
    tap(tablet, "Keyboard")
    expect(tablet.locator(PAD)).to_be_hidden()
    expect(box).to_be_focused()
    assert box.get_attribute("inputmode") == "decimal"


def test_keys_are_large_and_apart(tablet: Page) -> None:
    boxes = [box for key in tablet.locator(f"{PAD} button").all() if (box := key.bounding_box())]
    assert len(boxes) == 17
    assert [box for box in boxes if box["width"] < 48 or box["height"] < 48] == []
    for i, one in enumerate(boxes):
        for other in boxes[i + 1 :]:
            across = max(other["x"] - one["x"] - one["width"], one["x"] - other["x"] - other["width"])
            down = max(other["y"] - one["y"] - one["height"], one["y"] - other["y"] - other["height"])
            assert max(across, down) >= 8


def test_where_nobody_has_fingers_on_the_page_there_is_none(page: Page, site: Path) -> None:
    page.goto(f"{site.as_uri()}/{SITE_TREE}#clamp")
    expect(page.locator(PAD)).to_be_hidden()


def test_a_new_question_begins_in_sight_where_the_bar_stands_below(started: Browser, site: Path) -> None:
    for size in (
        {"width": 820, "height": 1180},
        {"width": 1180, "height": 820},
        {"width": 360, "height": 740},
    ):
        with watched(started, has_touch=True, is_mobile=True, viewport=size) as context:
            page = context.new_page()
            page.goto(f"{site.as_uri()}/{SITE_TREE}")
            for words in ("Yes", "Done", "Could not take it"):
                press(page, words)
                expect(page.locator("[data-node]:visible h2")).to_be_in_viewport()
            assert at(page) == "leave"
