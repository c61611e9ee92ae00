"""A call begins with its first question, whoever was on the telephone before."""

from __future__ import annotations

from pathlib import Path

import pytest
from browsing import press
from playwright.sync_api import BrowserContext, Page, expect
from test_tree_page import CALL_TREE, at

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[1] / "guides" / "walked"


@pytest.fixture
def begun(address: str, page: Page) -> str:
    """A call that stands at a later question; gives its first one."""
    page.goto(f"{address}/{CALL_TREE}")
    first = at(page)
    press(page, "No")
    assert at(page) != first
    return first


def is_at_the_beginning(page: Page, first: str) -> None:
    expect(page.locator(f"[data-node='{first}']")).to_be_visible()
    expect(page.locator("[data-part=trail]")).to_be_hidden()
    expect(page.locator("[data-said]")).to_have_count(0)


@pytest.mark.parametrize("way", ["address", "trees/call/index.html", "index.html"])
def test_the_next_call_begins_with_its_first_question(address: str, page: Page, begun: str, way: str) -> None:
    if way != "address":
        page.goto(f"{address}/{way}")
    page.goto(f"{address}/{CALL_TREE}")
    is_at_the_beginning(page, begun)


def test_a_second_tab_begins_anew_and_leaves_the_first_its_call(
    address: str, page: Page, context: BrowserContext, begun: str
) -> None:
    later, second = at(page), context.new_page()
    second.goto(f"{address}/{CALL_TREE}")
    is_at_the_beginning(second, begun)
    press(second, "Yes")
    page.reload()
    assert at(page) == later


def test_a_tab_opened_from_the_first_begins_anew(
    address: str, page: Page, context: BrowserContext, begun: str
) -> None:
    with context.expect_page() as opened:
        page.evaluate("open(location.href)")
    is_at_the_beginning(opened.value, begun)


def test_reload_and_back_keep_the_answers_of_the_same_call(address: str, page: Page, begun: str) -> None:
    later = at(page)
    page.reload()
    assert at(page) == later
    page.goto(f"{address}/glossary.html")
    page.go_back()
    expect(page.locator(f"[data-node='{later}']")).to_be_visible()


def test_open_calls_are_gone_on_with_from_their_list(address: str, page: Page, begun: str) -> None:
    later = at(page)
    page.goto(f"{address}/{CALL_TREE}")
    press(page, "Yes")
    page.goto(f"{address}/index.html")
    expect(page.locator("[data-part=open-job-link]")).to_be_hidden()
    page.goto(f"{address}/jobs.html")
    expect(page.locator(".ln-job")).to_have_count(2)
    page.locator(".ln-job a[data-one=go-on]").last.click()
    expect(page.locator(f"[data-node='{later}']")).to_be_visible()


def test_a_link_to_a_later_question_begins_with_the_first(address: str, page: Page, begun: str) -> None:
    later = at(page)
    page.goto(f"{address}/index.html")
    page.goto(f"{address}/{CALL_TREE}#{later}")
    is_at_the_beginning(page, begun)
    page.locator("[data-part=look]").click()
    assert at(page) == later
