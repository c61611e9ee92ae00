"""A tree's page replays a walk that the circuit model made, and the same walk can be read without script."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from browsing import watched
from playwright.sync_api import Browser, Page, expect

from build_tools.guide.loading import load
from build_tools.pages.fault_endings import is_walked, replays_of, told_walks, where_page
from build_tools.pages.page import Book

GUIDE = Path(__file__).parents[1] / "guides" / "walked"
TREE = "tingle-visit"


def test_the_picture_says_in_words_what_its_table_says() -> None:
    guide = load(GUIDE)
    assert guide.settings
    page = where_page(Book(guide, guide.settings, guide.operator), guide.trees[TREE])
    assert page
    picture, table = page.html.split("</svg>")
    for row in table.split("<tbody>")[1].split("</tbody>")[0].split("<li><b>")[1:]:
        count, words = row.split("</b>: ")
        assert f", {count} of " in picture and words.split(" (")[0].split("<")[0] in picture


def walks(site: Path) -> dict[str, Any]:
    text = (site / "assets/walks" / f"{TREE}.js").read_text("utf-8")
    return json.loads(text.removeprefix("lostNeutralWalks(").removesuffix(")\n"))


def shown(page: Page) -> str | None:
    return page.locator("[data-node]:visible").get_attribute("data-node")


@pytest.mark.browser
def test_keys_alone_follow_every_hop_back_again_and_out(address: str, site: Path, page: Page) -> None:
    known = walks(site)
    name = max(known, key=lambda one: len(known[one]["hops"]))
    walk = known[name]
    page.goto(f"{address}/trees/site/{TREE}.html#replay={name}")
    banner = page.locator("[data-part=replay]")
    expect(banner).to_contain_text("not a job")
    expect(banner).to_contain_text(f"{walk['fault']}, {walk['street']}, visiting {walk['home']}")
    for node, _, home, told in walk["hops"]:
        assert shown(page) == node
        expect(banner).to_contain_text(f"At {home}: {told}")
        page.keyboard.press("1")  # whatever it answers, a replay goes its own way or stays
        if shown(page) == node:
            page.keyboard.press("ArrowRight")
    expect(page.locator("[data-outcome]:visible")).to_have_count(1)
    expect(page.locator("[data-part=record]")).to_be_hidden()
    expect(page.locator("[data-part=next]")).to_be_disabled()
    page.reload()
    expect(banner).to_contain_text("The walk ends here")
    page.keyboard.press("ArrowLeft")
    expect(page.locator(f'[data-node="{walk["hops"][-1][0]}"]')).to_be_visible()
    page.locator("[data-part=leave]").press("Enter")
    expect(banner).to_be_hidden()
    expect(page.locator("a[data-go][aria-current]")).to_have_count(0)


@pytest.mark.browser
def test_a_street_page_leads_to_a_replay(address: str, page: Page) -> None:
    page.goto(f"{address}/streets/short-row.html")
    page.locator("details.ln-ends").last.locator("summary").click()
    page.get_by_role("link", name="Replay one").first.click()
    expect(page.locator("[data-part=replay]")).to_be_visible()
    page.locator("[data-part=next]").click()
    expect(page.locator("[data-part=replay-back]")).to_be_enabled()


@pytest.mark.browser
def test_a_walk_that_is_not_known_leaves_the_tree_as_it_is(address: str, page: Page) -> None:
    page.goto(f"{address}/trees/site/{TREE}.html#replay=nowhere.nothing")
    expect(page.locator("[data-part=status]")).to_contain_text("not here any more")
    expect(page.locator("[data-part=replay]")).to_be_hidden()


@pytest.mark.browser
def test_without_script_the_walk_is_a_list(address: str, site: Path, started: Browser) -> None:
    with watched(started, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(f"{address}/trees/site/{TREE}.html")
        page.locator("noscript a", has_text="in a list").click()
        name, walk = next(iter(walks(site).items()))
        listed = page.locator(f'[id="{name}"] ~ ol').first.locator("li")
        expect(listed).to_have_count(len(walk["hops"]) + 1)


def test_the_walks_are_apart_from_the_page_and_small() -> None:
    guide = load(Path(__file__).parents[2] / "guide_src")
    assert guide.settings
    book = Book(guide, guide.settings, guide.operator)
    for tree in guide.trees.values():
        assert is_walked(book, tree) == (tree.audience == "site")
        if tree.audience == "site":
            told = told_walks(book, tree)
            assert replays_of(tree).startswith("assets/") and len({one.id for one in told}) == len(told)
