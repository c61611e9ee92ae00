"""The shipped guide with MkDocs's own theme: axe and the HTML checker find nothing there either."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from axe import Axe
from playwright.sync_api import Browser, expect
from test_accessibility import KINDS, PHONE, TABLET, nodes_of_each_kind, opened, pages
from test_pages_as_html import faults_of_html

GUIDE, THEME = Path(__file__).parents[2] / "guide_src", "mkdocs"
DESK = "trees/call/index.html"
TO_TOP = "scrollTo(0, 0)"  # the theme's bar lies over what is scrolled under it
DESKTOP = {"width": 1280, "height": 900}  # where the theme shows its contents


def test_the_html_checker_finds_nothing(site: Path) -> None:
    assert len(list(site.rglob("*.html"))) > 30
    assert faults_of_html(site) == ""


@pytest.mark.browser
@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "dark"), (DESKTOP, "light"), (DESKTOP, "dark")])
def test_each_kind_of_page(host: str, started: Browser, axe: Axe, size: Any, scheme: Any) -> None:
    with opened(started, viewport=size, color_scheme=scheme) as page:
        for address in (DESK, *pages(long=size is DESKTOP and scheme == "dark")):
            page.goto(f"{host}/{address}")
            assert page.locator("html").get_attribute("data-bs-theme") == scheme, (
                "the theme is as dark as ours"
            )
            axe.look(page, f"{size['width']} px, {scheme}")


@pytest.mark.browser
def test_every_kind_of_node(site: Path, host: str, started: Browser, axe: Axe) -> None:
    with opened(started, viewport=PHONE) as page:
        nodes = list(nodes_of_each_kind(site, host, page))
        assert len(nodes) > 15
        for place, (address, node, kind) in enumerate(nodes):
            page.emulate_media(color_scheme="light" if place % 2 else "dark")
            page.goto(f"{host}/{address}#{node}")
            page.evaluate(TO_TOP)
            axe.look(page, kind, within="main")


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_is_opened_typed_and_ended(host: str, started: Browser, axe: Axe, scheme: Any) -> None:
    with opened(started, viewport=PHONE, color_scheme=scheme) as page:
        page.goto(f"{host}/trees/site/test-one-home.html#known-load-both")
        page.locator("[data-node=known-load-both] [data-typed]").fill("6.2")
        page.evaluate(TO_TOP)
        axe.look(page, "a figure said back", within="main")
        page.locator("[data-part=danger-found]").click()
        expect(page.locator("dialog[open]")).to_be_visible()
        axe.look(page, "something dangerous")
        page.keyboard.press("Escape")
        page.get_by_role("button", name="Toggle navigation").click()
        expect(page.locator("#navbar-collapse.show")).to_be_visible()
        axe.look(page, "the theme's contents", within=".navbar")
        page.get_by_role("button", name="Calculators").click()
        page.get_by_role("button", name="Toggle theme").click()
        axe.look(page, "the theme's lists", within=".navbar")
        page.goto(f"{host}/{KINDS['call tree']}")
        answers = page.locator("[data-node]:visible a[data-go]")
        while answers.count():
            answers.last.click()
        expect(page.locator("[data-part=record]")).to_be_visible()
        page.evaluate(TO_TOP)
        axe.look(page, "a call ended")
        page.goto(f"{host}/{DESK}")
        axe.look(page, "the desk after a call")
        page.goto(f"{host}/{KINDS['jobs']}")
        axe.look(page, "jobs kept")
        page.goto(f"{host}/{KINDS['find']}")
        for said in ("shock off the tap", "zzzz"):
            page.locator("#ln-find").fill(said)
            expect(page.locator("[data-find] [data-part=count]")).not_to_be_empty()
            axe.look(page, f"found: {said}", within="main")


@pytest.mark.browser
def test_a_calculator_with_an_answer(host: str, started: Browser, axe: Axe) -> None:
    with opened(started, viewport=TABLET) as page:
        page.goto(f"{host}/{KINDS['calculator']}")
        page.locator("form [name]:visible").first.focus()
        expect(page.locator("[data-calculator]")).to_have_attribute("data-state", "here", timeout=60_000)
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            axe.look(page, f"an answer of this device, {scheme}")
