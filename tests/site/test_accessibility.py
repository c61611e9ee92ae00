"""Pages for everyone: axe finds nothing in any state."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from axe import Axe
from browsing import watched
from playwright.sync_api import Browser, Page, Route, expect

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[2] / "guide_src"
PHONE, TABLET = {"width": 360, "height": 740}, {"width": 820, "height": 1180}

KINDS = {
    "home": "index.html",
    "list": "trees/site/index.html",
    "call tree": "trees/call/caller-tingle.html",
    "site tree": "trees/site/tingle-on-pipework.html",
    "calculator": "calculators/two-homes.html",
    "street": "streets/high-fold-lane.html",
    "ends": "ends/neighbour-comes-and-goes.html",
    "find": "find.html",
    "jobs": "jobs.html",
    "rules": "rules.html",
    "glossary": "glossary.html",
    "sources": "sources.html",
    "authors": "for-authors.html",
    "proof": "proof.html",
    "words": "two-traps.html",
    "missing": "missing.html",
}
"""One page of each kind."""

LONG = ("ends", "rules", "authors", "proof")
"""Kinds whose pages have as many parts as all the others together, of few sorts."""


def pages(*, long: bool) -> list[str]:
    """One page of each kind, those of the long kinds with them or not."""
    return [address for kind, address in KINDS.items() if long or kind not in LONG]


@contextmanager
def opened(started: Browser, **options: Any) -> Iterator[Page]:
    with watched(started, service_workers="block", **options) as context:
        yield context.new_page()


@pytest.fixture
def phone(started: Browser) -> Iterator[Page]:
    with opened(started, viewport=PHONE) as page:
        yield page


def test_the_rules_find_what_is_wrong(phone: Page) -> None:
    looking = Axe()
    phone.set_content(
        '<html lang="en"><title>A</title><main><h1>A</h1><p style="color:#999">Grey<img src="data:,">'
    )
    looking.look(phone, "spoilt")
    assert {found.partition("): ")[2].partition(":")[0] for found in looking.found} >= {
        "color-contrast",
        "image-alt",
    }


def test_every_page_as_it_opens(site: Path, host: str, phone: Page, axe: Axe) -> None:
    """Of the long pages of ends, which are of one template, one."""
    for path in sorted(site.rglob("*.html")):
        address = path.relative_to(site).as_posix()
        if not address.startswith("ends/") or address == KINDS["ends"]:
            phone.goto(f"{host}/{address}")
            axe.look(phone, "opened")


@pytest.mark.parametrize(("size", "colours"), [(PHONE, "dark"), (TABLET, "light"), (TABLET, "dark")])
def test_each_kind_of_page(host: str, started: Browser, axe: Axe, size: Any, colours: Any) -> None:
    with opened(started, viewport=size, color_scheme=colours) as page:
        for address in pages(long=size is PHONE):  # in light they are looked at as they open
            page.goto(f"{host}/{address}")
            axe.look(page, f"{size['width']} px, {colours}")
            if page.evaluate(UNFOLD):
                axe.look(page, "unfolded", within=".ln details")


UNFOLD = """() => [...document.querySelectorAll(".ln details:not([open])")].slice(0, 5)
  .map((one) => one.open = true).length"""


def test_without_script(host: str, phone: Page, axe: Axe) -> None:
    """axe needs scripts to run, so the page is sent as a browser without them takes it."""

    def scriptless(route: Route) -> None:
        html = route.fetch().text()
        html = re.sub(r"<script\b(?![^>]*json).*?</script>", "", html, flags=re.DOTALL)
        route.fulfill(body=re.sub(r"</?noscript[^>]*>", "", html), content_type="text/html")

    phone.route("**/*.html", scriptless)
    for kind in ("site tree", "calculator", "jobs"):
        phone.goto(f"{host}/{KINDS[kind]}")
        axe.look(phone, "without script")


def nodes_of_each_kind(site: Path, host: str, page: Page) -> Iterator[tuple[str, str, str]]:
    """`(page, node, kind)`: the first of each kind, of each priority, with and without what it may hold."""
    seen = set()
    for tree in json.loads((site / "guide.json").read_text("utf-8"))["trees"]:
        page.goto(f"{host}/{tree['page']}")
        for node, kind in page.evaluate(NODES):
            if (tree["audience"], kind) not in seen:
                seen.add((tree["audience"], kind))
                yield tree["page"], node, f"{tree['audience']} {kind}"


NODES = """() => [...document.querySelectorAll("[data-node]")].map((node) => [node.id, [node.className,
  node.dataset.outcome, ...[".ln-typed", ".ln-hazards", ".ln-help", ".ln-aside", ".ln-more", ".ln-say"]
  .filter((part) => node.querySelector(part))].join(" ")])"""


def test_every_kind_of_node(site: Path, host: str, phone: Page, axe: Axe) -> None:
    nodes = list(nodes_of_each_kind(site, host, phone))
    assert len(nodes) > 15
    for place, (address, node, kind) in enumerate(nodes):
        phone.emulate_media(color_scheme="dark" if place % 2 else "light")
        phone.goto(f"{host}/{address}#{node}")
        axe.look(phone, kind, within=".ln-main")


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


def test_a_job_from_the_first_answer_to_the_record(host: str, started: Browser, axe: Axe) -> None:
    with opened(started, viewport=TABLET, has_touch=True, color_scheme="dark") as page:
        page.goto(f"{host}/trees/site/test-one-home.html#known-load-both")
        axe.look(page, "number pad, come straight here", within=".ln-main")
        box = page.locator("[data-node=known-load-both] [data-typed]")
        box.fill("lots")
        axe.look(page, "a figure that is none", within="#known-load-both")
        box.fill("6.2")
        axe.look(page, "a figure said back", within="#known-load-both")
        page.locator("[data-part=danger-found]").click()
        expect(page.locator("dialog[open]")).to_be_visible()
        axe.look(page, "something dangerous")
        press(page, "Escape")
        page.goto(f"{host}/{KINDS['call tree']}")
        answers = page.locator("[data-node]:visible a[data-go]")
        answers.last.click()
        axe.look(page, "answered", within=".ln-tree")
        while answers.count():
            answers.last.click()
        expect(page.locator("[data-part=record]")).to_be_visible()
        axe.look(page, "ended", within=".ln-tree")
        page.go_back()
        axe.look(page, "taken back", within=".ln-tree")
        page.goto(f"{host}/{KINDS['site tree']}")
        axe.look(page, "a job is open in another tree", within=".ln")
        page.goto(f"{host}/jobs.html")
        axe.look(page, "jobs kept")
        page.get_by_role("button", name="Clear all jobs").click()
        expect(page.locator("dialog[open]")).to_be_visible()
        axe.look(page, "clear them?")


def test_what_is_found_replayed_and_unfolded(host: str, phone: Page, axe: Axe) -> None:
    phone.goto(f"{host}/{KINDS['ends']}")
    phone.get_by_role("link", name="Replay it in the tree").first.click()
    expect(phone.locator("[data-part=replay]")).to_be_visible()
    axe.look(phone, "replay", within=".ln-main")
    phone.goto(f"{host}/find.html")
    for said in ("shock off the tap", "zzzz"):
        phone.locator("#ln-find").fill(said)
        expect(phone.locator("[data-find] [data-part=count]")).not_to_be_empty()
        axe.look(phone, f"found: {said}", within=".ln-find")
        phone.locator("#ln-find").fill("")
    phone.get_by_role("button", name="Contents").click()
    expect(phone.locator(".md-sidebar--primary")).to_be_in_viewport()
    axe.look(phone, "the theme's contents")


def test_calculators_with_values_that_cannot_be_used(host: str, started: Browser, axe: Axe) -> None:
    with opened(started, viewport=TABLET) as page:
        page.set_default_timeout(60_000)
        page.goto(f"{host}/calculators/electrodes.html")
        page.locator("form input[type=text]").first.fill("lots")
        expect(page.locator("[aria-invalid=true]")).to_have_count(1, timeout=60_000)
        axe.look(page, "a value that cannot be used", within=".ln-calculator")
        page.goto(f"{host}/calculators/one-street.html")
        page.get_by_role("button", name="Play").click()
        page.locator(".ln-edit summary").click()
        load = page.locator(".ln-edit-homes input").first
        load.fill("lots")
        load.press("Tab")
        expect(load).to_have_attribute("aria-invalid", "true")
        axe.look(page, "a story playing, a street being changed", within=".ln-calculator")
