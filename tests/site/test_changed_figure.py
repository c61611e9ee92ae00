"""A figure that is judged by how far it moved: the page takes one from the other, and says both."""

from __future__ import annotations

from pathlib import Path

import pytest
from browsing import press
from playwright.sync_api import Page, expect
from test_tree_page import at

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[2] / "guide_src"


@pytest.fixture
def at_rest(site: Path, page: Page) -> Page:
    """The shipped test of one home, where the tail is clamped at rest."""
    page.goto(f"{(site / 'trees/site/test-one-home.html').as_uri()}#tail-at-rest")
    return page


def typed(page: Page, figure: str) -> None:
    page.locator("[data-node]:visible input[data-typed]").fill(figure)


def loaded(page: Page, rest: str) -> None:
    """The figure at rest is typed, and the walk goes on to the tail under load."""
    typed(page, rest)
    page.locator("[data-node]:visible [data-accept]").click()
    press(page, "Done", "still near true earth")
    assert at(page) == "known-load-tail"


SAID = [
    ("0.6", "11", "10.4 A more than the 0.6 A before: the known load is on"),
    ("600 mA", "8,6", "8 A more than the 0.6 A before: the known load is on"),
    (
        "0.6",
        "8.59",
        "7.99 A more than the 0.6 A before: too little change: the load is not on, or this is the wrong",
    ),
    ("11.9", "1", "10.9 A less than the 11.9 A before: the known load is on"),
    ("0.1", "0.4", "0.3 A more than the 0.1 A before: too little change"),
]


@pytest.mark.parametrize(("rest", "load", "said"), SAID)
def test_it_says_by_how_much_and_from_what(at_rest: Page, rest: str, load: str, said: str) -> None:
    loaded(at_rest, rest)
    typed(at_rest, load)
    expect(at_rest.locator("[data-node]:visible [data-meaning]")).to_contain_text(said)


def test_both_figures_stand_in_the_record(at_rest: Page) -> None:
    loaded(at_rest, "0.6")
    typed(at_rest, "11")
    at_rest.get_by_role("button", name="Accept 11 A, before 0.6 A").click()
    assert at(at_rest) == "known-load-both"
    expect(at_rest.locator("[data-part=trail-list]")).to_contain_text("11 A, before 0.6 A")
    at_rest.reload()
    assert at(at_rest) == "known-load-both"


def test_without_the_figure_before_it_says_so_and_leads_nowhere(at_rest: Page) -> None:
    at_rest.goto(f"{at_rest.url.partition('#')[0]}#known-load-tail")
    typed(at_rest, "11")
    expect(at_rest.locator("[data-node]:visible [data-problem]")).to_contain_text(
        "the figure before is not in"
    )
    at_rest.locator("[data-node]:visible input[data-typed]").press("Enter")
    assert at(at_rest) == "known-load-tail"


def test_a_figure_before_that_was_taken_back_counts_no_more(at_rest: Page) -> None:
    """Back at the first reading another figure is typed: the second is judged by that one."""
    loaded(at_rest, "0.6")
    at_rest.locator("[data-part=trail-list] button").first.click()
    expect(at_rest.locator("[data-node=tail-at-rest]")).to_be_visible()
    loaded(at_rest, "4")
    typed(at_rest, "11")
    expect(at_rest.locator("[data-node]:visible [data-meaning]")).to_contain_text(
        "7 A more than the 4 A before"
    )
