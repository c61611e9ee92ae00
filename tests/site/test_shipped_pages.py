"""Every page of the shipped guide, opened and walked in a real browser."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from browsing import WALK, watched
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.browser

GUIDE = Path(os.environ.get("LOST_NEUTRAL_TRY", Path(__file__).parents[2] / "guide_src"))


def listed(site: Path) -> dict[str, list[dict[str, Any]]]:
    return json.loads((site / "guide.json").read_text("utf-8"))


def test_every_answer_of_every_tree_leads_on_and_back(site: Path, address: str, started: Browser) -> None:
    with watched(started) as context:
        page = context.new_page()
        for tree in listed(site)["trees"]:
            page.goto(f"{address}/{tree['page']}")
            walked = page.evaluate(WALK)
            assert walked["wrong"] == []
            assert sorted(walked["answered"]) == sorted(tree["nodes"])
            assert walked["outcomes"]


LINKS = """nodes => nodes.map((node) => [node.dataset.node,
  [...node.querySelectorAll("a[data-go]")].map((link) => link.getAttribute("href"))])"""


def test_without_script_every_node_is_reached_by_links(site: Path, address: str, started: Browser) -> None:
    with watched(started, java_script_enabled=False) as context:
        page = context.new_page()
        for tree in listed(site)["trees"]:
            page.goto(f"{address}/{tree['page']}")
            nodes = page.locator("[data-node]")
            expect(nodes).to_have_count(len(tree["nodes"]))
            links = dict(nodes.evaluate_all(LINKS))
            reached = {f"#{next(iter(links))}"}
            for _ in links:
                reached |= {to for node, go in links.items() if f"#{node}" in reached for to in go}
            assert reached == {f"#{node}" for node in tree["nodes"]}
            assert page.locator("[data-outcome]:visible").count() > 0


def test_every_page_opens_cleanly_and_fits_a_phone(site: Path, address: str, started: Browser) -> None:
    with watched(started, viewport={"width": 360, "height": 740}) as context:
        page = context.new_page()
        for file in sorted(site.rglob("*.html")):
            page.goto(f"{address}/{file.relative_to(site).as_posix()}")
            assert page.evaluate("document.documentElement.scrollWidth") <= 360, file
            assert page.locator("h1").count() == 1, file


def test_a_figure_is_carried_only_into_the_test_that_it_is(address: str, page: Page) -> None:
    page.goto(f"{address}/trees/site/test-one-home.html#known-load-both")
    under_load = page.locator("[data-node=known-load-both]")
    asks = under_load.locator("a[data-asks]")
    assert "#from=trees%2Fsite%2Ftest-one-home.html%23known-load-both" in (asks.get_attribute("href") or "")
    under_load.locator("input[data-typed]").fill("6,2")
    assert (asks.get_attribute("href") or "").endswith("&known-load-neutral-and-earth=6.2")
    asks.click()
    expect(page.locator("[name=known-load-neutral-and-earth]")).to_have_value("6.2")
    page.goto(f"{address}/trees/site/test-one-home.html#known-load-earth")
    expect(page.locator("[data-node=known-load-earth] a[data-asks]")).to_have_count(0)
