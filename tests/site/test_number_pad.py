"""Keys for a reading where fingers press the page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import press, watched
from conftest import Site
from playwright.sync_api import Browser, Page, expect
from test_tree_page import SITE_TREE, at

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[1] / "guides" / "walked"
SHIPPED = Path(__file__).parents[2] / "guide_src"
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


SIZES = {
    "tablet": {"width": 820, "height": 1180},
    "tablet on its side": {"width": 1180, "height": 820},
    "telephone": {"width": 360, "height": 740},
}
BOXES = """() => [...document.querySelectorAll("[data-node]:not([hidden]) :is(button, input, h2, [data-go])")]
  .map((one) => one.getBoundingClientRect()).map(({x, y, width, height}) => [x, y, width, height])"""
KEYS = """() => [...document.querySelectorAll("[data-node]:not([hidden]) :is([data-puts], [data-does=back], [data-accept])")]
  .map((key) => {
    const {x, y, width, height} = key.getBoundingClientRect(), middle = [x + width / 2, y + height / 2];
    return [key.dataset.puts ?? key.dataset.does ?? "accept", middle, key.contains(document.elementFromPoint(...middle))];
  })"""  # fmt: skip  # noqa: E501
TO_BACK = """() => {
  const answers = [...document.querySelectorAll("[data-node]:not([hidden]) a[data-go][href]")];
  const lowest = Math.max(...answers.map((one) => one.getBoundingClientRect().bottom));
  return document.querySelector(".ln-bar button").getBoundingClientRect().top - lowest;
}"""


Shipped = tuple[Page, Path, tuple[int, int]]


@pytest.fixture(scope="module", params=SIZES)
def shipped(request: pytest.FixtureRequest, started: Browser, site_of: Site) -> Iterator[Shipped]:
    """A page for fingers of each size, the shipped guide's site trees, and which of so many nodes it is for:
    each size takes every third, unless every way is asked for."""
    trees = site_of(SHIPPED) / "trees/site"
    every = request.config.getoption("--every-way")
    turn = (0, 1) if every else (list(SIZES).index(request.param), len(SIZES))
    with watched(started, has_touch=True, is_mobile=True, viewport=SIZES[request.param]) as context:
        yield context.new_page(), trees, turn


def nodes_of(shipped: Shipped, which: str) -> Iterator[str]:
    """Goes to some of the trees' nodes in turn, to one of each heading; its address is given."""
    page, trees, (turn, of) = shipped
    seen: set[str] = set()
    for tree in sorted(trees.glob("*.html")):
        page.goto(tree.as_uri())
        headed = "all => all.map(node => [node.id, node.querySelector('h2').textContent])"
        for node, heading in page.locator(which).evaluate_all(headed):
            if heading in seen:
                continue
            seen.add(heading)
            if len(seen) % of == turn:
                page.goto(f"{tree.as_uri()}#{node}")
                yield page.url


def test_nothing_moves_under_a_finger(shipped: Shipped) -> None:
    """The keys are pressed at the places where they stood before the first of them was."""
    page, *_ = shipped
    pressed = 0
    for node in nodes_of(shipped, "section.ln-reading:has([data-pad])"):
        form = page.locator("[data-node]:visible .ln-typed")
        form.evaluate("form => form.scrollIntoView({block: 'center'})")
        keys = page.evaluate(KEYS)
        assert [key for key, _, is_on_top in keys if not is_on_top] == [], node
        places = {key: place for key, place, _ in keys}
        before = page.evaluate(BOXES), page.evaluate("scrollY")
        for typed in ("2.4", "0.05", "."):
            for key in typed:
                page.touchscreen.tap(*places[key])
                assert (page.evaluate(BOXES), page.evaluate("scrollY")) == before, (node, typed)
            assert form.locator("input").input_value() == typed
            for _ in typed:
                page.touchscreen.tap(*places["back"])
        for typed in ("2.4", "1,234.5", "0,450", "5 W", "3 V", "-2", "x"):
            form.locator("input").fill(typed)
            assert (page.evaluate(BOXES), page.evaluate("scrollY")) == before, (node, typed)
        form.locator("input").fill("")
        page.touchscreen.tap(*places["accept"])  # with nothing typed: says so, where it stands
        assert (page.evaluate(BOXES), page.evaluate("scrollY")) == before, node
        pressed += 1
    assert pressed > 3


def test_no_answer_is_so_near_to_back_that_one_is_pressed_for_the_other(shipped: Shipped) -> None:
    page, *_ = shipped
    for node in nodes_of(shipped, "section.ln-node:has(a[data-go])"):
        page.evaluate("scrollTo(0, document.body.scrollHeight)")
        assert page.evaluate(TO_BACK) >= 48, node


def test_a_tap_on_a_range_that_the_figure_decides_asks_for_the_figure(tablet: Page) -> None:
    problem = tablet.locator("[data-node=clamp] [data-problem]")
    for one in tablet.locator("[data-node=clamp] a[data-exit=range]").all():
        one.tap()
        assert at(tablet) == "clamp"
        expect(problem).to_contain_text("Type what the display shows")
    tablet.locator("[data-node=clamp] [data-accept]").tap()
    assert at(tablet) == "clamp"
    press(tablet, "Could not take it")
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
