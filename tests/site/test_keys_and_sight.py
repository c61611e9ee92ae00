"""Keys alone, narrow and enlarged pages, little motion, the system's own colours: each kind of page.

Source of what is asked: WCAG 2.2, 1.4.4, 1.4.10, 1.4.11, 2.1.1, 2.1.2, 2.4.1, 2.4.7 and 2.4.11;
320 CSS pixels are 1280 at 400 %.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import watched
from playwright.sync_api import Browser, Page, expect
from test_accessibility import KINDS, PHONE, pages

from calc import calculators

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[2] / "guide_src"

MOST_STOPS = 800
OUTSIDE = "document.activeElement !== document.body && !document.activeElement.closest('.ln')"
"""Whether a key stands on something of the theme's; an answer that comes just then leaves it on nothing."""

FOCUSED = """() => {
  const has = document.activeElement;
  if (has === document.body) return null;
  const {top, bottom, left, right, width} = has.getBoundingClientRect();
  const {outlineStyle, outlineWidth} = getComputedStyle(has);
  const at = document.elementFromPoint((Math.max(left, 0) + Math.min(right, innerWidth)) / 2,
    (Math.max(top, 0) + Math.min(bottom, innerHeight)) / 2);
  const wrong = [];
  const inSight = bottom > 0 && top < innerHeight && right > 0 && left < innerWidth && width > 0;
  if (!inSight) wrong.push("out of sight");
  else if (!(at && (has.contains(at) || at.contains(has)))) wrong.push(`under ${at?.outerHTML.slice(0, 80)}`);
  if (outlineStyle === "none" || parseFloat(outlineWidth) < 2) wrong.push("not marked");
  return {what: has.outerHTML.slice(0, 120), wrong};
}"""


@pytest.mark.parametrize("key", ["Tab", "Shift+Tab"])
def test_keys_reach_everything_in_sight_and_leave_again(site: Path, started: Browser, key: str) -> None:
    with watched(started, viewport=PHONE) as context:
        page = context.new_page()
        for address in pages(long=key == "Tab"):
            page.goto(f"{site.as_uri()}/{address}")
            stops = before_content = 0
            while stops < MOST_STOPS:
                page.keyboard.press(key)
                found = page.evaluate(FOCUSED)
                if found is None:
                    break
                if found["wrong"]:  # an answer may have come since the last frame
                    page.evaluate("new Promise(requestAnimationFrame)")
                    found = page.evaluate(FOCUSED)
                assert found["wrong"] == [], f"{address}: {found}"
                stops += 1
                before_content += page.evaluate(OUTSIDE)
            assert 3 <= stops < MOST_STOPS, f"{address}: keys are caught"
            assert before_content <= 6, f"{address}: {before_content} stops before the content"


def test_one_key_skips_to_the_content(site: Path, page: Page) -> None:
    for kind, heading in (("site tree", "h2"), ("glossary", "h1")):
        page.goto(f"{site.as_uri()}/{KINDS[kind]}")
        page.keyboard.press("Tab")
        expect(page.get_by_role("link", name="Skip to the content")).to_be_focused()
        page.keyboard.press("Enter")
        assert page.evaluate(f"document.activeElement.matches('.ln {heading}')")
        assert "#" not in page.url


def test_colours_are_switched_by_a_button_that_keeps_the_focus(site: Path, page: Page) -> None:
    page.goto(f"{site.as_uri()}/index.html")
    ink = "getComputedStyle(document.querySelector('.ln h1')).color"
    before = page.evaluate(ink)
    page.get_by_role("button", name="Use dark colours").press("Enter")
    expect(page.get_by_role("button", name="Use light colours")).to_be_focused()
    assert page.evaluate(ink) != before


def test_the_contents_of_a_narrow_page_by_keys(site: Path, started: Browser) -> None:
    with watched(started, viewport=PHONE) as context:
        page = context.new_page()
        page.goto(f"{site.as_uri()}/{KINDS['glossary']}")
        button = page.get_by_role("button", name="Contents")
        button.press("Enter")
        expect(button).to_have_attribute("aria-expanded", "true")
        expect(page.get_by_role("link", name="Rules", exact=True)).to_be_visible()
        page.keyboard.press("Escape")
        expect(button).to_be_focused()
        expect(button).to_have_attribute("aria-expanded", "false")
        expect(page.get_by_role("link", name="Rules", exact=True)).to_be_hidden()


@pytest.fixture(params=[(320, 100), (640, 200)], ids=["320 px", "text at 200 %"])
def tight(request: pytest.FixtureRequest, started: Browser) -> Iterator[Page]:
    width, percent = request.param
    with watched(started, viewport={"width": width, "height": 512}) as context:
        page = context.new_page()
        page.add_init_script(
            f"document.addEventListener('DOMContentLoaded',"
            f" () => document.documentElement.style.fontSize = '{125 * percent // 100}%')"
        )
        yield page


SPILT = """() => {
  const scrolls = (one) => one && one !== document.documentElement &&
    (/auto|scroll|hidden|clip/.test(getComputedStyle(one).overflowX) || scrolls(one.parentElement));
  const spilt = (one) => one.checkVisibility() && !one.closest("svg") && !scrolls(one) &&
    one.getBoundingClientRect().right > innerWidth + 1;
  return [...document.querySelectorAll(".ln *")].filter(spilt).map((one) => one.outerHTML.slice(0, 100));
}"""


def test_nothing_is_cut_off_or_scrolls_sideways(site: Path, tight: Page) -> None:
    for address in KINDS.values():
        tight.goto(f"{site.as_uri()}/{address}")
        wide = tight.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert (wide, tight.evaluate(SPILT)) == (0, []), address


@pytest.mark.parametrize("word", ["draft", "overdue"])
def test_a_word_against_use_is_on_paper_too(site: Path, page: Page, word: str) -> None:
    page.goto(f"{site.as_uri()}/{KINDS['calculator']}")
    note = f'<div class="ln"><p class="ln-note ln-warn" data-part="{word}">Not for use</p></div>'
    page.locator("#ln-content").evaluate("(place, note) => place.insertAdjacentHTML('afterend', note)", note)
    page.emulate_media(media="print")
    expect(page.get_by_text("Not for use")).to_be_visible()
    expect(page.locator("[data-part=notice]").first).to_be_hidden()


def test_who_wants_less_motion_gets_none(site: Path, started: Browser) -> None:
    with watched(started, reduced_motion="reduce", viewport=PHONE) as context:
        page = context.new_page()
        for kind in ("site tree", "calculator"):
            page.goto(f"{site.as_uri()}/{KINDS[kind]}")
            if kind == "site tree":
                page.locator("[data-node]:visible a[data-go]").last.click()
            moves = "document.getAnimations().filter(one => one.effect.getTiming().duration > 1).length"
            assert page.evaluate(moves) == 0


def test_in_the_systems_colours_an_edge_tells_what_a_colour_told(site: Path, started: Browser) -> None:
    with watched(started, forced_colors="active", viewport=PHONE) as context:
        page = context.new_page()
        page.goto(f"{site.as_uri()}/{KINDS['site tree']}")
        edge = "one => parseFloat(getComputedStyle(one).borderTopWidth)"
        assert page.locator(".ln-cautions").evaluate(edge) >= 1
        outcome = page.locator("[data-outcome=emergency]").first.get_attribute("id")
        page.goto(f"{site.as_uri()}/{KINDS['site tree']}#{outcome}")
        assert page.locator(f"[id='{outcome}'] .ln-band").evaluate(edge) >= 2
        link = page.locator("[data-part=danger-found]")
        link.focus()
        page.keyboard.press("Shift+Tab")
        page.keyboard.press("Tab")
        style, width = link.evaluate(
            "one => [getComputedStyle(one).outlineStyle, getComputedStyle(one).outlineWidth]"
        )
        assert style != "none" and float(width.removesuffix("px")) >= 2


@pytest.mark.parametrize("scripts", [True, False])
def test_what_a_life_may_hang_on_is_in_sight_and_paper_has_every_caution(
    site: Path, started: Browser, scripts: bool
) -> None:
    """A target of 48 px: project choice, above the 44 of WCAG 2.2, 2.5.5."""
    with watched(started, viewport=PHONE, java_script_enabled=scripts) as context:
        page = context.new_page()
        for calculator in calculators.CALCULATORS.values():
            page.goto(f"{site.as_uri()}/calculators/{calculator.id}.html")
            cautions = page.get_by_role("region", name="Cautions")
            rest = cautions.locator(".ln-folded").get_by_role("listitem")
            expect(cautions.get_by_text(calculator.cautions[0])).to_be_visible()
            expect(cautions.get_by_text("can make any metalwork live")).to_be_visible()
            expect(rest).to_have_count(0)
            form, switch = page.locator(".ln-bench").bounding_box(), cautions.locator("summary")
            assert form and form["y"] < PHONE["height"], calculator.id
            target = switch.bounding_box()
            assert target and target["height"] >= 48
            page.emulate_media(media="print")
            of_guide = 3 + 3  # its cautions but the first, the local rules, and the lines to ring
            every = len(calculator.cautions) - 1 + of_guide
            expect(rest).to_have_count(every)
            assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4"))) == 1, calculator.id
            page.emulate_media(media="screen")
            switch.press("Enter")
            expect(rest).to_have_count(every)
