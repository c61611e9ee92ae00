"""An hour at the desk: twenty calls by keyboard only, from the caller's words to the record that is pasted.

The calls are invented in the manner of what callers say: common practice, no source.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import parse_qs

import numpy as np
import pytest
import zxingcpp
from browsing import served, watched
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parent.parent / "guide_src"
DESK = "trees/call/index.html"
EMERGENCY, CREW, NOTE = "Emergency", "Urgent", "Routine"

CALLS = [
    # as it is typed, keys of the answers, where it has to end
    ("shock off the tap", "211", EMERGENCY),
    ("tingle in the shower", "212", EMERGENCY),
    ("got a zap from the raditor", "211", EMERGENCY),
    ("belt off the cooker", "221", EMERGENCY),
    ("tap is live sparks", "1", EMERGENCY),
    ("lights going bright", "221", EMERGENCY),
    ("bulbs keep blowing", "221", EMERGENCY),
    ("telly blew up", "221", EMERGENCY),
    ("smell of burning lights flickering", "1", EMERGENCY),
    ("lights dim and i felt a shock", "211", EMERGENCY),
    ("power surge in the kitchen", "221", EMERGENCY),
    ("lamps very brigth", "221", EMERGENCY),
    ("next door has no power", "21", EMERGENCY),
    ("plumber next door supply went off", "221", EMERGENCY),
    ("half the house is off", "22222", CREW),
    ("lights flicker", "22222", CREW),
    ("lights dipped once", "22322", NOTE),
    ("power went off and came back", "2223211", NOTE),
    ("supply comes and goes", "2223212", CREW),
    ("neighbours have no power, ours is fine", "2223221", CREW),
]


@pytest.fixture(scope="module")
def desk(site: Path) -> Iterator[str]:
    with served(site.parents[1]) as host:
        yield f"{host}/field%20guide/site"


@pytest.fixture
def page(started: Browser) -> Iterator[Page]:
    with watched(started, permissions=["clipboard-read", "clipboard-write"]) as context:
        yield context.new_page()


def test_twenty_calls_by_keyboard_only(desk: str, page: Page, capsys: pytest.CaptureFixture[str]) -> None:
    told = []
    for said, keys, priority in CALLS:
        began = time.monotonic()
        page.goto(f"{desk}/{DESK}")
        expect(page.locator("[data-part=said]")).to_be_focused()
        page.keyboard.type(said)
        page.keyboard.press("Enter")
        page.wait_for_url("**/trees/call/caller-*.html")
        for number, key in enumerate(keys, 1):
            page.keyboard.press(key)
            expect(page.locator("[data-part=trail-list] li"), said).to_have_count(number)
        outcome = page.locator("[data-outcome]:visible")
        expect(outcome.locator("[data-one=priority]"), said).to_have_text(priority)
        if priority == EMERGENCY:
            assert len(keys) <= 3, said
        page.keyboard.press("c")
        expect(page.locator("[data-part=copied]")).to_have_text("Copied.")
        summary = page.evaluate("navigator.clipboard.readText()")
        for words in ("ANSWERS", f"OUTCOME\n   {priority}", "SAID TO THE CALLER", "SITE TREES", "#carry="):
            assert words in summary or (words == "#carry=" and len(keys) == 1), (said, summary)
        told.append((time.monotonic() - began, len(said) + 1 + len(keys) + 1))
    seconds, strokes = map(sum, zip(*told, strict=True))
    with capsys.disabled():
        print(
            f"\n20 calls: {strokes / 20:.1f} keystrokes and {seconds / 20:.2f} s of a machine's typing each"
        )


def test_what_is_said_is_found_with_slips_and_in_other_words(desk: str, page: Page) -> None:
    page.goto(f"{desk}/index.html")
    box, first = page.locator("[data-part=said]"), page.locator("[data-part=found] li").first
    for said, title in (
        ("tingel", "Tingle or shock from pipework"),
        ("faucet zap", "Tingle or shock from pipework"),
        ("lights blinking next door", "A neighbour whose supply comes and goes"),
        ("PEN", "PEN"),
        ("largest electrode for a car charger", "A charging point on PME"),
        ("body current", "Touch voltage"),
    ):
        box.fill(said)
        expect(page.locator("[data-part=found]"), said).to_contain_text(title)
    box.fill("tingel")
    expect(first).to_contain_text("Tingle or shock")
    box.fill("xylophone quartz")
    expect(page.locator("[data-part=count]")).to_contain_text("Nothing fits “xylophone quartz”")
    box.press("Escape")
    expect(page.locator("[data-part=count]")).to_be_empty()


def test_the_box_is_one_key_away_and_arrows_go_through_it(site: Path, page: Page) -> None:
    page.goto(f"{site.as_uri()}/glossary.html")  # from a folder
    page.keyboard.press("/")
    page.wait_for_url("**/find.html#find")
    expect(page.locator("[data-part=said]")).to_be_focused()
    page.keyboard.type("clamp")
    expect(page.locator("[data-part=found] a").nth(1)).to_be_visible()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    expect(page.locator("[data-part=found] a").nth(1)).to_be_focused()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    expect(page.locator("[data-part=said]")).to_be_focused()


def test_nothing_to_be_found_is_loaded_before_somebody_looks(desk: str, page: Page) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{desk}/trees/call/caller-tingle.html")
    page.goto(f"{desk}/index.html")
    assert not [url for url in asked if "find-in" in url]
    page.locator("[data-part=said]").fill("tap")
    expect(page.locator("[data-part=found] li").first).to_be_visible()
    assert [url for url in asked if "find-in" in url]


def test_the_code_leads_where_the_link_does(desk: str, page: Page) -> None:
    """Read back from its picture by ZXing, a general-purpose library."""
    page.goto(f"{desk}/trees/call/caller-lights.html")
    for key in "221":
        page.keyboard.press(key)
    link = page.locator("[data-node]:visible a[data-carries]").first.get_attribute("href") or ""
    assert link.endswith("#carry=tingle:none;lights:bright")
    code = page.locator("[data-part=code] svg")
    expect(code).to_be_visible()
    assert read_code(page) == page.locator("[data-node]:visible a[data-carries]").first.evaluate(
        "link => link.href"
    )


def read_code(page: Page) -> str:
    """What the picture of the code says."""
    size = int((page.locator("[data-part=code] svg").get_attribute("viewBox") or "").split()[2])
    light = np.full((size, size), 255, np.uint8)
    squares = page.locator("[data-part=code] path").get_attribute("d") or ""
    for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", squares):
        light[int(y), int(x)] = 0
    (code,) = zxingcpp.read_barcodes(np.kron(light, np.ones((4, 4), np.uint8)))
    return str(code.text)


def test_calls_from_one_street_go_to_locate(desk: str, page: Page, site: Path) -> None:
    streets = json.loads((site / "guide.json").read_text("utf-8"))["streets"]
    street = streets[0]["id"]
    for keys, home in (("221", 0), ("22222", 1)):
        page.goto(f"{desk}/trees/call/caller-lights.html")
        for key in keys:
            page.keyboard.press(key)
        page.locator("[name=street]").select_option(street)
        page.locator("[name=home]").select_option(index=home)
        page.get_by_role("button", name="Add this call").click()
    expect(page.locator("[data-part=calls-list]")).to_contain_text("bright;")
    page.get_by_role("link", name="Where does the fault lie?").click()
    asked = parse_qs(page.url.partition("#")[2])
    assert (asked["street"], asked.get("seen_2")) == ([street], ["dim"])
    expect(page.get_by_label("What was said of home 2")).to_have_value("dim")
