"""One touch from anywhere in a tree to what to do in danger, and back to the same place."""

from __future__ import annotations

from pathlib import Path

import pytest
from browsing import press, watched
from playwright.sync_api import Browser, Page, expect
from test_tree_page import CALL_TREE, SITE_TREE, at, trees

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[1] / "guides" / "walked"


def test_one_touch_from_every_node_and_back_to_it(site: Path, address: str, page: Page) -> None:
    dialog = page.locator("dialog[open]")
    for tree in trees(site):
        for node in tree["nodes"]:
            page.goto(f"{address}/{tree['page']}#{node}")
            if page.locator("[data-part=later]:visible").count():  # a call begins with its first question
                page.locator("[data-part=look]").click()
            page.locator("[data-part=danger-found]").click()
            expect(dialog).to_contain_text("0700 900 461")
            page.get_by_role("link", name="Back to the question").click()
            expect(dialog).to_be_hidden()
            assert at(page) == node


def test_it_tells_what_the_guide_says_to_do_at_once(address: str, page: Page) -> None:
    for tree, first in ((SITE_TREE, "Stop. Touch nothing more."), (CALL_TREE, "Ask them to keep off metal.")):
        page.goto(f"{address}/{tree}")
        page.keyboard.press("!")
        expect(page.locator("dialog[open]").locator("li").first).to_have_text(first)
        page.keyboard.press("Escape")
        expect(page.locator("dialog[open]")).to_be_hidden()


def test_keys_answer_nothing_while_it_is_open_and_the_job_tells_of_it(address: str, page: Page) -> None:
    page.goto(f"{address}/{CALL_TREE}")
    press(page, "No")
    page.keyboard.press("!")
    page.keyboard.press("1")
    page.keyboard.press("Escape")
    assert at(page) == "felt"
    press(page, "Yes", "They are dim")
    record = page.locator("[data-part=record-text]").input_value()
    told = record.partition("SOMETHING DANGEROUS WAS FOUND AT\n")[2].partition("\n\n")[0]
    assert told.endswith("Did you feel it more than once?")


def test_without_script_it_is_a_link_down_the_page(address: str, started: Browser) -> None:
    with watched(started, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(f"{address}/{SITE_TREE}")
        page.locator("noscript a.ln-danger-found").click()
        expect(page.get_by_text("Stop. Touch nothing more.")).to_be_in_viewport()
        page.go_back()
        expect(page.locator("[data-node=felt] h2")).to_be_visible()


def test_on_a_telephone_it_begins_with_what_is_to_be_done_first(address: str, started: Browser) -> None:
    with watched(started, viewport={"width": 320, "height": 400}) as context:
        page = context.new_page()
        page.goto(f"{address}/{SITE_TREE}")
        page.keyboard.press("!")
        dialog = page.locator("dialog[open]")
        expect(dialog.get_by_role("heading")).to_be_in_viewport(ratio=1)
        expect(dialog.get_by_role("heading")).to_be_focused()
        expect(dialog.locator("li").first).to_be_in_viewport()
