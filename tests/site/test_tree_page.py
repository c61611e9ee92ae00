"""Tree pages as people use them: in a browser, from a folder and from a server, with script and without."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from browsing import WALK, press, watched
from playwright.sync_api import Browser, BrowserContext, Page, expect

from build_tools.site import building

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[1] / "guides" / "walked"
SITE_TREE = "trees/site/tingle-visit.html"
CALL_TREE = "trees/call/tingle-told.html"


def at(page: Page) -> str:
    """The one node that is shown."""
    shown = page.locator("[data-node]:visible")
    expect(shown).to_have_count(1)
    return shown.get_attribute("data-node") or ""


def trees(site: Path) -> list[dict[str, Any]]:
    return json.loads((site / "guide.json").read_text("utf-8"))["trees"]


def test_every_tree_is_listed_with_every_node_of_its_page(site: Path, page: Page) -> None:
    listed = trees(site)
    assert {(tree["audience"], tree["id"]) for tree in listed} == {
        ("call", "tingle-told"),
        ("site", "sum-in-jaw"),
        ("site", "tingle-visit"),
    }
    for tree in listed:
        page.goto(f"{site.as_uri()}/{tree['page']}")
        ids = page.locator("[data-node]").evaluate_all("nodes => nodes.map(node => node.dataset.node)")
        assert sorted(ids) == sorted(tree["nodes"])
        assert ids == page.locator("[data-node]").evaluate_all("nodes => nodes.map(node => node.id)")


def test_every_answer_of_every_tree_leads_on_and_back(site: Path, address: str, page: Page) -> None:
    for tree in trees(site):
        page.goto(f"{address}/{tree['page']}")
        walked = page.evaluate(WALK)
        assert walked["wrong"] == []
        assert sorted(walked["answered"]) == sorted(tree["nodes"])
        assert walked["outcomes"]


def test_without_script_every_answer_is_a_link_to_its_node(
    site: Path, address: str, started: Browser
) -> None:
    with watched(started, java_script_enabled=False) as context:
        page = context.new_page()
        for tree in trees(site):
            page.goto(f"{address}/{tree['page']}")
            expect(page.locator("[data-node]:visible")).to_have_count(len(tree["nodes"]))
            expect(page.locator("input:visible, textarea:visible")).to_have_count(0)
            here = page.locator("[data-node]").first
            while here.get_attribute("data-outcome") is None:
                link = here.locator("a[data-go]").last
                go = link.get_attribute("data-go")
                link.click()
                assert page.url.endswith(f"#{go}")
                here = page.locator(f"[id='{go}']")
                expect(here.locator("h2")).to_be_in_viewport()


def test_keys_alone_walk_a_tree(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    for key in ("1", "1"):
        page.keyboard.press(key)
    assert at(page) == "clamp"
    page.keyboard.type("0.62")
    page.keyboard.press("Enter")
    assert at(page) == "sum.both"
    page.keyboard.press("b")  # a range that the figure decides has no key
    assert at(page) == "sum.both"
    page.keyboard.type("3")
    page.keyboard.press("Enter")
    assert at(page) == "stable"
    page.keyboard.press("Backspace")
    expect(page.locator("[data-node='sum.both']")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("[data-node=clamp]")).to_be_visible()
    page.keyboard.press("d")
    assert at(page) == "leave"
    page.keyboard.press("1")
    assert at(page) == "leave"


def test_a_key_held_down_answers_one_question_only(address: str, page: Page) -> None:
    page.goto(f"{address}/{CALL_TREE}")
    for _ in range(4):  # without a release between them: what a held key sends
        page.keyboard.down("2")
    assert at(page) == "felt"


def test_a_double_press_answers_one_question_only(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    page.locator("[data-node=felt] a[data-go]").first.dblclick()
    assert at(page) == "open"


def test_a_double_tap_answers_one_question_only(site: Path, started: Browser) -> None:
    with watched(started, has_touch=True, is_mobile=True) as context:
        page = context.new_page()
        page.goto(f"{site.as_uri()}/{SITE_TREE}")
        box = page.locator("[data-node=felt] a[data-go]").first.bounding_box()
        assert box
        for _ in range(2):
            page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        assert at(page) == "open"


TYPED = [
    # typed, value shown, words beside it
    ("0.62", "0.62 A", "0.5 to below 5 A: current is flowing"),
    ("0,62", "0.62 A", "0.5 to below 5 A: current is flowing"),
    (" 450 mA ", "0.45 A", "below 0.5 A: little or none"),
    ("450 milliamps", "0.45 A", "below 0.5 A: little or none"),
    ("0", "0 A", "below 0.5 A: little or none"),
    ("0.5", "0.5 A", "0.5 to below 5 A: current is flowing"),
    ("500mA", "0.5 A", "0.5 to below 5 A: current is flowing"),
    ("0.499", "0.499 A", "below 0.5 A: little or none"),
    ("5", "5 A", "5 A or more: a whole home's current"),
    (",07", "0.07 A", "below 0.5 A: little or none"),
    ("0.02 kA", "20 A", "5 A or more: a whole home's current"),
    ("200", "200 A", "5 A or more: a whole home's current"),
    ("250", "250 A", "More than this instrument can show (200 A): Over range"),
    ("9" * 60, None, "More than this instrument can show (200 A): Over range"),
    ("OL", "Over range", "Over range"),
    ("over range", "Over range", "Over range"),
]

NONSENSE = [
    ("fish", "does not read as a number"),
    (".", "does not read as a number"),
    ("NaN", "does not read as a number"),
    ("Infinity", "does not read as a number"),
    ("1e3x4", "does not read as a number"),
    ("50,000", "50,000 can mean 50.000 or 50000. Type it as one of these."),
    ("50 000", "has a space inside"),
    ("1,234.5", "more than one point or comma"),
    ("-0.4", "no sign"),
    ("230 V", "That is in volts; this reading is in A."),
    ("3 bananas", "is not known here"),
    ("<b>1</b>", "does not read as a number"),
    ("", "Type the figures on the display first"),
]


@pytest.fixture
def clamping(address: str, page: Page) -> Page:
    """A page that asks for amperes round the main earthing conductor, with a meter that shows up to 200 A."""
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes", "Done")
    return page


def test_a_typed_figure_is_said_back_and_placed(clamping: Page) -> None:
    form = clamping.locator("[data-node=clamp] form")
    for typed, value, words in TYPED:
        form.locator("input").fill(typed)
        if value:
            expect(form.locator("[data-value]"), typed).to_have_text(value)
        expect(form.locator("[data-meaning]"), typed).to_have_text(words)
        expect(form.locator("[data-problem]"), typed).to_be_empty()
        expect(clamping.locator("[data-node=clamp] a[data-match]"), typed).to_have_count(1)
    assert at(clamping) == "clamp"


def test_nonsense_gets_a_kind_word_and_leads_nowhere(clamping: Page) -> None:
    form = clamping.locator("[data-node=clamp] form")
    for typed, words in NONSENSE:
        form.locator("input").fill(typed)
        form.locator("input").press("Enter")
        expect(form.locator("[data-problem]"), typed).to_contain_text(words)
        expect(form.locator("[data-shown]"), typed).to_be_hidden()
        assert at(clamping) == "clamp"


def test_an_accepted_figure_goes_where_its_range_leads(clamping: Page) -> None:
    clamping.locator("[data-node=clamp] input").fill("7,5")
    clamping.get_by_role("button", name="Accept 7.5 A").click()
    assert at(clamping) == "leave"
    expect(clamping.locator("[data-part=trail-list] li").last).to_contain_text(
        "7.5 A — 5 A or more: a whole home's current"
    )


def test_the_trail_goes_back_to_any_answer(clamping: Page) -> None:
    press(clamping, "below")
    trail = clamping.locator("[data-part=trail-list] button")
    expect(trail).to_have_count(3)
    trail.nth(1).click()
    expect(clamping.locator("[data-node=open]")).to_be_visible()
    expect(trail).to_have_count(1)


def test_the_browsers_own_back_forward_and_reload_keep_the_trail(clamping: Page) -> None:
    trail = clamping.locator("[data-part=trail-list] button")
    clamping.go_back()
    assert at(clamping) == "open"
    clamping.go_forward()
    assert at(clamping) == "clamp"
    clamping.reload()
    assert at(clamping) == "clamp"
    expect(trail).to_have_count(2)
    clamping.get_by_role("button", name="Start again").click()
    expect(clamping.locator("[data-node=felt]")).to_be_visible()
    expect(trail).to_have_count(0)


def test_past_the_bound_of_a_loop_the_page_says_stop(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes", "Done", "below", "0.1 A or more", "Not sure")
    stop = page.get_by_text("Do not go round again")
    expect(stop).to_be_hidden()
    press(page, "Not sure")
    expect(stop).to_be_visible()
    page.keyboard.press("Escape")
    expect(stop).to_be_hidden()


def test_a_walk_longer_than_the_browsers_history_starts_again(site: Path, page: Page) -> None:
    page.goto(f"{site.as_uri()}/{SITE_TREE}")
    press(page, "Yes", "Done", "below", "0.1 A or more", *["Not sure"] * 60)
    page.get_by_role("button", name="Start again").click()
    expect(page.locator("[data-node=felt]")).to_be_visible()
    expect(page.locator("[data-part=trail-list] li")).to_have_count(0)


def test_past_its_review_date_a_page_says_so(address: str, page: Page) -> None:
    overdue = page.get_by_text("Past its review date (2099-01-01)")
    page.clock.set_fixed_time("2099-01-01T12:00:00Z")
    page.goto(f"{address}/{SITE_TREE}")
    expect(overdue).to_be_hidden()
    page.clock.set_fixed_time("2099-01-02T12:00:00Z")
    page.goto(f"{address}/{CALL_TREE}")
    expect(overdue).to_be_visible()


def test_a_link_straight_to_a_node_says_so(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}#sum.both")
    assert at(page) == "sum.both"
    expect(page.get_by_text("You came straight to this point")).to_be_visible()
    press(page, "below 0.1 A")
    expect(page.locator("[data-part=record-text]")).to_have_value(re.compile("Begun part-way by a link"))
    page.get_by_role("button", name="Begin at the start").click()
    assert at(page) == "felt"
    expect(page.get_by_text("You came straight to this point")).to_be_hidden()


def test_answers_go_from_the_call_to_the_visit(address: str, page: Page) -> None:
    page.goto(f"{address}/{CALL_TREE}")
    press(page, "No", "Yes", "Some are too bright")
    onward = page.locator("[data-node=send-now] a[data-carries]")
    assert (onward.get_attribute("href") or "").endswith("#carry=tingle:yes;lights:bright")
    onward.click()
    page.wait_for_url(f"**/{SITE_TREE}*")
    assert at(page) == "felt"
    expect(page.locator("[data-said]")).to_contain_text("The caller said: Yes")
    page.keyboard.press("Enter")
    assert at(page) == "open"
    expect(page.locator("[data-part=trail-list] li")).to_contain_text("Yes (as the caller said)")


@pytest.mark.parametrize(
    "carried",
    [
        "carry=tingle:maybe",
        "carry=colour:red",
        "carry=<b>tingle:yes</b>",
        "carry=tingle:yes:no;;:",
        "carry=%",
        "carry=",
        "nowhere",
        "%E0%A4%A",
    ],
)
def test_a_spoilt_address_carries_nothing_unknown(address: str, page: Page, carried: str) -> None:
    page.goto(f"{address}/{SITE_TREE}#{carried}")
    assert at(page) == "felt"
    if "yes:no" not in carried:
        expect(page.locator("[data-said]")).to_have_count(0)
    press(page, "Yes")
    assert at(page) == "open"


def test_an_outcome_says_how_urgent_what_to_say_and_what_was_answered(address: str, page: Page) -> None:
    page.goto(f"{address}/{CALL_TREE}")
    press(page, "No", "No, once only", "They are dim")
    outcome = page.locator("[data-outcome=emergency]")
    for words in (
        "Emergency",
        "People are in danger now.",
        "Keep away from taps and pipes.",
        "The job stays open.",
    ):
        expect(outcome).to_contain_text(words)
    record = page.locator("[data-part=record-text]").input_value()
    for words in (
        "Kelderbeck Networks: A tingle is told on the telephone",
        "Version 2.1, review by 2099-01-01",
        "2. Did you feel it more than once?\n   No, once only",
        "OUTCOME\n   Emergency\n   Send a crew now",
        "NOT PROVEN BY THIS\n   Which home has the fault. The break may be next door.",
        f"{SITE_TREE}#carry=tingle:no;lights:dim",
    ):
        assert words in record, record
    page.get_by_role("button", name="Copy the record").click()
    expect(page.locator("[data-part=copied]")).not_to_be_empty()


def test_a_page_states_what_it_must(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    cautions = page.locator(".ln-cautions li")
    expect(cautions.first).to_have_text(
        "Nothing is disconnected before the main earthing conductor has been clamped."
    )
    expect(page.locator(".ln-cautions a[href='tel:0700900461']")).to_contain_text(
        "Control room, day and night"
    )
    facts = page.locator(".ln-facts")
    for words in ("2.1", "2099-01-01", "Kelderbeck Networks", "What crews say"):
        expect(facts).to_contain_text(words)
    press(page, "Yes")
    expect(page.locator(".ln-hazards:visible li")).to_have_text(
        ["Opens a cover: live parts inside", "Work near live parts"]
    )


def test_a_term_says_what_it_means_where_it_stands(clamping: Page) -> None:
    clamping.locator("[data-node=clamp] a.ln-term").click()
    expect(clamping.locator("[data-node=clamp] .ln-means")).to_contain_text(
        "PEN: The conductor that is neutral and protective earth in one."
    )
    assert at(clamping) == "clamp"


def test_an_authors_page_links_its_terms(address: str, page: Page) -> None:
    page.goto(f"{address}/next-door.html")
    link = page.locator("a.ln-term", has_text="PEN")
    page.goto(f"{address}/{link.get_attribute('href')}")
    expect(page.locator("dt:target")).to_have_text("PEN")


def test_search_finds_the_words_that_people_use(address: str, page: Page) -> None:
    page.goto(f"{address}/glossary.html")
    page.keyboard.press("/")
    page.wait_for_url("**/find.html#find")
    page.keyboard.type("buzz cooker")
    expect(page.locator("[data-part=found] li").first).to_contain_text("A tingle is told on the telephone")


def test_denied_storage_breaks_nothing(address: str, context: BrowserContext, page: Page) -> None:
    context.add_init_script(
        "for (const name of ['localStorage', 'sessionStorage'])"
        " Object.defineProperty(window, name, {configurable: true, get() { throw Error('denied') }})"
    )
    page.goto(f"{address}/{CALL_TREE}")
    press(page, "Yes")
    assert at(page) == "send-now"


@pytest.mark.parametrize("size", [(360, 740), (820, 1180), (1440, 900)])
def test_targets_are_large_apart_and_inside_the_page(address: str, page: Page, size: tuple[int, int]) -> None:
    """48 px by 48 px with 8 px between: common practice for gloved hands (WCAG 2.2, 2.5.5 asks 44 px)."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.goto(f"{address}/{SITE_TREE}#carry=tingle:yes")
    for words in ("Yes", "Done", "below", "below", ""):
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        boxes = [
            box
            for target in page.locator(".ln-main :is(a[data-go][href], button):visible").all()
            if (box := target.bounding_box())
        ]
        assert len(boxes) >= 2
        assert [box for box in boxes if box["height"] < 48 or box["width"] < 48] == []
        for i, one in enumerate(boxes):
            for other in boxes[i + 1 :]:
                across = max(other["x"] - one["x"] - one["width"], one["x"] - other["x"] - other["width"])
                down = max(other["y"] - one["y"] - one["height"], one["y"] - other["y"] - other["height"])
                assert max(across, down) >= 8, (one, other)
        if words:
            press(page, words)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_stand_out_from_what_is_behind_them(address: str, started: Browser, scheme: Any) -> None:
    """WCAG 2.2, 1.4.3: at least 4.5 to 1; its relative luminance and ratio as defined there."""
    with watched(started, color_scheme=scheme) as context:
        page = context.new_page()
        page.goto(f"{address}/{SITE_TREE}#carry=tingle:yes")
        seen = set()
        for words in ("Yes", "Done", "5 A or more", ""):
            found = page.evaluate(COLOURS)
            assert len(found) > 10
            seen |= {background for _, _, background in found}
            dim = [(text, fore, back) for text, fore, back in found if contrast(fore, back) < 4.5]
            assert dim == []
            if words:
                press(page, words)
        assert len(seen) >= 3  # paper, wash and the band: this looked at what it should


COLOURS = """() => {
  const backgroundOf = (element) => {
    for (; element; element = element.parentElement) {
      const colour = getComputedStyle(element).backgroundColor;
      if (!/, 0\\)$/.test(colour)) return colour;
    }
    return "rgb(255, 255, 255)";
  };
  return [...document.querySelectorAll(".ln *")]
    .filter((element) => element.checkVisibility() && !element.closest(":disabled, svg, .ln-unseen")
      && [...element.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
    .map((element) => [element.textContent.trim(), getComputedStyle(element).color, backgroundOf(element)]);
}"""


def contrast(one: str, other: str) -> float:
    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    parts = [float(part) / 255 for part in colour.removeprefix("rgb(").removesuffix(")").split(",")]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_printed_before_an_answer_it_is_the_card_of_the_tree_and_after_it_the_record(
    address: str, page: Page
) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    expect(page.locator("[data-node]:visible")).to_have_count(0)
    expect(page.locator(".ln-card-node:visible").first).to_contain_text("→ 2")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    page.emulate_media(media="screen")
    press(page, "Yes", "Done", "5 A or more")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    expect(page.locator("[data-node]:visible")).to_have_count(1)
    expect(page.locator("[data-part=trail-list]")).to_be_visible()


def test_names_with_markup_are_shown_as_text(tmp_path: Path, page: Page) -> None:
    guide = Path(shutil.copytree(GUIDE, tmp_path / "guide"))
    tree = guide / "trees/site/sum-in-jaw.yaml"
    spoilt = tree.read_text("utf-8").replace(
        "title: Neutral", "title: <script>window.broken = 1</script><i>Neutral"
    )
    tree.write_text(
        spoilt.replace("label: nothing in", 'label: <img src="x" onerror="window.broken=1">nothing in'),
        "utf-8",
    )
    assert building.build(guide, tmp_path / "site") == 0
    for name in ("index.html", "trees/site/index.html", "trees/site/sum-in-jaw.html"):
        page.goto((tmp_path / "site" / name).as_uri())
        assert page.evaluate("window.broken") is None
    expect(page.locator("h1")).to_contain_text("<script>window.broken = 1</script><i>Neutral")
    expect(page.locator("[data-node=both]")).to_contain_text('<img src="x"')
