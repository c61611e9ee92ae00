"""The same guide with MkDocs's own theme: it hangs on no theme's fate."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import WALK, strictly_watched, watched
from playwright.sync_api import Browser, Page, expect
from web_servers import running

from build_tools.pages.server_policy import TYPES
from build_tools.publish.components import LICENCES, bundled
from build_tools.publish.server_settings import sample_settings
from build_tools.setup.environment import NODE

GUIDE, THEME = Path(__file__).parents[1] / "guides" / "walked", "mkdocs"
TREE, CALCULATOR = "trees/site/tingle-visit.html", "calculators/lost-neutral.html"
DARK = "rgb(233, 237, 238)"  # the ink of dark pages


@pytest.fixture(scope="module")
def strict_address(site: Path) -> Iterator[str]:
    """nginx on the sample settings, so under the strict policy."""
    with running("nginx", sample_settings("A guide", "What to allow")["nginx.conf"], site) as address:
        yield address


@pytest.mark.browser
def test_every_answer_of_a_tree_leads_on(address: str, page: Page) -> None:
    page.goto(f"{address}/{TREE}")
    walked = page.evaluate(WALK)
    assert walked["wrong"] == []
    assert len(walked["answered"]) == page.locator("[data-node]").count() > 5


@pytest.mark.browser
def test_a_calculator_calculates(address: str, page: Page) -> None:
    page.goto(f"{address}/{CALCULATOR}")
    first = page.locator("output").first.inner_text()
    page.get_by_label("Load on L1").fill("12")
    status = page.locator("[data-part=status]").first
    expect(status).to_have_text("Calculated on this device", timeout=60_000)
    expect(page.locator("output").first).not_to_have_text(first)


@pytest.mark.browser
def test_what_is_said_is_found(address: str, page: Page) -> None:
    page.goto(f"{address}/trees/call/index.html")
    page.get_by_label("What does the caller say?").fill("tingle")
    found = page.locator("[data-part=found] a")
    expect(found.first).to_be_visible()
    told = found.first.inner_text()
    found.first.click()
    expect(page.locator("h1").first).to_have_text(told)


@pytest.mark.browser
def test_its_keys_do_not_take_the_answers_keys(address: str, page: Page) -> None:
    page.goto(f"{address}/{TREE}")
    for key in ("s", "n", "p", "?"):
        page.keyboard.press(key)
    expect(page.locator(".modal.show")).to_have_count(0)
    page.keyboard.press("1")
    expect(page).not_to_have_url(f"{address}/{TREE}")


@pytest.mark.browser
def test_dark_pages_are_dark_by_its_own_switch(site: Path, page: Page) -> None:
    page.goto(f"{site.as_uri()}/{TREE}")
    heading = page.locator("h1").first
    assert heading.evaluate("h1 => getComputedStyle(h1).color") != DARK
    page.get_by_label("Toggle theme").click()
    page.get_by_role("button", name="Dark").click()
    assert heading.evaluate("h1 => getComputedStyle(h1).color") == DARK
    with watched(page.context.browser, color_scheme="dark") as dark:
        night = dark.new_page()
        night.goto(f"{site.as_uri()}/{TREE}")
        assert night.locator("h1").first.evaluate("h1 => getComputedStyle(h1).color") == DARK


@pytest.mark.browser
def test_no_page_violates_the_strict_policy(strict_address: str, site: Path, started: Browser) -> None:
    with strictly_watched(started) as page:
        pages = sorted(site.rglob("*.html"))
        assert len(pages) > 25
        for file in pages:
            page.goto(f"{strict_address}/{file.relative_to(site).as_posix()}")
            expect(page.locator("h1")).to_have_count(1)


@pytest.mark.browser
def test_once_visited_it_works_without_a_network(site: Path, started: Browser) -> None:
    settings = sample_settings("A guide", "What to allow")["nginx.conf"]
    with started.new_context() as device:
        page = device.new_page()
        with running("nginx", settings, site) as address:
            page.goto(f"{address}/index.html")
            bar = page.locator("[data-part=device]")
            expect(bar).to_have_attribute("data-state", "kept", timeout=60_000)
        page.goto(f"{address}/{TREE}")
        page.locator("[data-go]:visible").first.click()
        expect(page.locator("[data-node]:visible")).to_have_count(1)
        page.goto(f"{address}/{CALCULATOR}")
        page.get_by_label("Load on L1").fill("12")
        status = page.locator("[data-part=status]").first
        expect(status).to_have_text("Calculated on this device", timeout=60_000)


def test_all_that_it_brings_is_licensed_and_has_a_type(site: Path) -> None:
    carried = {one.name: one for one in bundled(site, NODE / "node_modules")}
    assert {"mkdocs", "bootstrap", "bootswatch", "fontawesome-free", "pyodide"} <= carried.keys()
    assert "mkdocs-material" not in carried and "rxjs" not in carried
    for name, file in (("bootstrap", "js/bootstrap.bundle.min.js"), ("bootswatch", "css/bootstrap.min.css")):
        assert f"v{carried[name].version}" in (site / file).read_text("utf-8")[:200]
    assert carried["fontawesome-free"].version in (site / "css/fontawesome.min.css").read_text("utf-8")[:60]
    assert all((LICENCES / f"{one.short}.txt").is_file() for one in carried.values())
    endings = {file.suffix[1:] for file in site.rglob("*") if file.is_file()}
    assert endings <= TYPES.keys()
