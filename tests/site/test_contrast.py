"""More contrast, and the system's own colours, in a real browser: words, targets' edges, focus, danger.

Source of the figures: WCAG 2.2, 1.4.6 (words, 7 to 1; large ones 4.5), 1.4.11 (what shows a control, and the
focus, 3 to 1), 2.4.13 (a focus mark of 2 px). For more contrast edges and focus are asked for 4.5 to 1: a
choice of this project.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from axe import Axe
from browsing import watched
from playwright.sync_api import Browser, Page, expect
from test_accessibility import KINDS, PHONE, pages

from build_tools.guide import contrast

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[2] / "guide_src"
DESK = "trees/call/index.html"
LEAST, STOPS = 4.5, 6

GROUND = """
  const seen = (colour, under) => {
    const [r, g, b, a = 1] = colour.match(/[\\d.]+/g).map(Number);
    return [r, g, b].map((part, i) => part * a + under[i] * (1 - a));
  };
  const ground = (one) =>
    one ? seen(getComputedStyle(one).backgroundColor, ground(one.parentElement)) : [255, 255, 255];"""
"""What is seen behind an element's words, through all that lets its own ground show."""

TARGETS = f"""() => {{{GROUND}
  const wanted = ".ln :is(button, input:not([type=hidden], [type=checkbox], [type=radio], [type=file]), " +
    "select, textarea, a[data-go][href])";
  const shown = (one) => one.checkVisibility({{visibilityProperty: true, opacityProperty: true}}) &&
    one.getBoundingClientRect().width > 1;
  return [...document.querySelectorAll(wanted)].filter(shown).map((one) => {{
    const {{borderTopWidth, borderTopStyle, borderTopColor}} = getComputedStyle(one);
    const under = ground(one.parentElement);
    const width = borderTopStyle === "none" ? 0 : parseFloat(borderTopWidth);
    const edge = seen(borderTopColor, under), what = one.outerHTML.slice(0, 120);
    return {{what, width, edge, own: ground(one), under}};
  }});
}}"""
"""Each target that is seen: its edge, its own ground, and what it stands on. What a browser draws by itself,
boxes to tick, is left to it."""

FOCUS = f"""() => {{{GROUND}
  const has = document.activeElement;
  if (has === document.body) return null;
  const {{outlineStyle, outlineWidth, outlineColor}} = getComputedStyle(has);
  const under = ground(has.parentElement), width = outlineStyle === "none" ? 0 : parseFloat(outlineWidth);
  return {{what: has.outerHTML.slice(0, 120), width, edge: seen(outlineColor, under), under}};
}}"""


def between(one: list[float], other: list[float]) -> float:
    """The contrast of two colours, each of three parts up to 255."""
    first, second = ("#" + "".join(f"{round(part):02x}" for part in colour) for colour in (one, other))
    return contrast.contrast(first, second)


def faint_targets(page: Page) -> list[str]:
    """Those told from what they stand on by neither their edge nor their ground."""
    targets = page.evaluate(TARGETS)
    return [
        str(one)
        for one in targets
        if (one["width"] < 1 or between(one["edge"], one["under"]) < LEAST)
        and between(one["own"], one["under"]) < LEAST
    ]


def faint_focus(page: Page, stops: int) -> list[str]:
    """What has the focus, from key to key, and is marked too thinly or too faintly."""
    found = []
    for _ in range(stops):
        page.keyboard.press("Tab")
        has = page.evaluate(FOCUS)
        if has and (has["width"] < 2 or between(has["edge"], has["under"]) < LEAST):
            found.append(str(has))
    return found


def states(site: Path, page: Page, long: bool) -> Iterator[str]:
    """One page of each kind as it opens; a tree's emergency, a form with a slip, what to do at once."""
    for address in (DESK, *pages(long=long)):
        page.goto(f"{site.as_uri()}/{address}")
        yield address
    page.goto(f"{site.as_uri()}/{KINDS['site tree']}")
    page.goto(f"{page.url}#{page.locator('[data-outcome=emergency]').first.get_attribute('id')}")
    yield "emergency"
    page.goto(f"{site.as_uri()}/trees/site/test-one-home.html#known-load-both")
    page.locator("[data-node=known-load-both] [data-typed]").fill("lots")
    yield "a figure that is none"
    page.locator("[data-part=danger-found]").click()
    expect(page.locator("dialog[open]")).to_be_visible()
    yield "danger"


@contextmanager
def opened(started: Browser, **options: Any) -> Iterator[Page]:
    with watched(started, viewport=PHONE, **options) as context:
        yield context.new_page()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_more_contrast_is_more(site: Path, started: Browser, scheme: Any) -> None:
    axe, faint, targets = Axe("color-contrast-enhanced"), {}, 0
    with opened(started, contrast="more", color_scheme=scheme) as page:
        for state in states(site, page, long=scheme == "dark"):
            axe.look(page, state, within="body" if state == "danger" else ".ln")
            targets += len(page.evaluate(TARGETS))
            if found := faint_targets(page) + faint_focus(page, STOPS):
                faint[state] = found
    print(f"{sum(axe.visited.values())} states, {targets} targets")
    assert targets > 40
    assert axe.found == []
    assert faint == {}


def test_what_is_faint_is_found(started: Browser) -> None:
    axe = Axe("color-contrast-enhanced")
    with opened(started) as page:
        page.set_content(
            '<html lang="en"><title>A</title><main class="ln"><h1>A</h1><p style="color:#666">Grey</p>'
            '<button style="border: 2px solid #999; background: #fff; outline: 1px solid">Go</button></main>'
        )
        axe.look(page, "spoilt")
        assert ["color-contrast-enhanced" in one for one in axe.found] == [True]
        assert len(faint_targets(page)) == len(faint_focus(page, 1)) == 1


MARK = f"""(one) => {{{GROUND}
  const mark = one.querySelector("svg"), under = ground(one);
  const shapes = [...(mark?.querySelectorAll("*") ?? [])].map((shape) => getComputedStyle(shape));
  const painted = shapes.flatMap(({{fill, stroke}}) => [fill, stroke]);
  const told = painted.filter((colour) => colour.startsWith("rgb"));
  return {{edge: parseFloat(getComputedStyle(one).borderTopWidth), under,
    mark: mark?.checkVisibility() ? told.map((colour) => seen(colour, under)) : []}};
}}"""
"""How an element is set apart where colours are the system's: its edge, and the colours of the sign in it."""


def sign_stands_out(told: dict[str, Any]) -> bool:
    return any(between(colour, told["under"]) >= LEAST for colour in told["mark"])


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_in_the_systems_colours_danger_and_emergency_are_told_apart(
    site: Path, started: Browser, scheme: Any
) -> None:
    with opened(started, forced_colors="active", color_scheme=scheme) as page:
        page.goto(f"{site.as_uri()}/{KINDS['site tree']}")
        bands = {}
        for priority in ("emergency", "urgent", "routine"):
            id_ = page.locator(f"[data-outcome={priority}]").first.get_attribute("id")
            page.goto(f"{site.as_uri()}/{KINDS['site tree']}#{id_}")
            band = page.locator(f".ln-band-{priority}:visible")
            expect(band).to_contain_text(priority.capitalize())
            bands[priority] = band.evaluate(MARK)
        assert bands["emergency"]["edge"] >= 2 * bands["urgent"]["edge"] >= 2 * bands["routine"]["edge"] > 0
        assert [name for name, told in bands.items() if sign_stands_out(told)] == ["emergency", "urgent"]
        page.goto(f"{site.as_uri()}/trees/site/test-one-home.html#known-load-both")
        danger = page.locator("[data-part=danger-found]")
        key = danger.evaluate(MARK)
        assert sign_stands_out(key) and key["edge"] > 0
        assert page.locator("a[data-go]:visible:has(svg)").count() == 0, "the sign is danger's alone"
        danger.click()
        assert page.locator("dialog[open]").evaluate(MARK)["edge"] >= 4


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_in_the_systems_colours_the_focus_and_targets_stay_in_sight(
    site: Path, started: Browser, scheme: Any
) -> None:
    faint = {}
    with opened(started, forced_colors="active", color_scheme=scheme) as page:
        for state in states(site, page, long=False):
            if found := faint_targets(page) + faint_focus(page, STOPS):
                faint[state] = found
    assert faint == {}
