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
from browsing import watched
from playwright.sync_api import Browser, Page, expect

from build_tools.bench.local_server import served

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[2] / "guide_src"
DESK = "trees/call/index.html"
EMERGENCY, CREW, NOTE = "Emergency", "Urgent", "Routine"

CALLS = [
    # as it is typed, keys of the answers, where it has to end
    ("shock off the tap", "2111", EMERGENCY),
    ("tingle in the shower", "2112", EMERGENCY),
    ("got a zap from the raditor", "2121", EMERGENCY),
    ("belt off the cooker", "2131", EMERGENCY),
    ("tap is live sparks", "12", EMERGENCY),
    ("lights going bright", "221", EMERGENCY),
    ("next doors supply is off and on", "2521", EMERGENCY),
    ("telly blew up", "221", EMERGENCY),
    ("smell of burning lights flickering", "12", EMERGENCY),
    ("lights dim and i felt a shock", "2111", EMERGENCY),
    ("power comes and goes and lights very bright", "221", EMERGENCY),
    ("lamps very brigth", "221", EMERGENCY),
    ("next door has no power", "25111", EMERGENCY),
    ("plumber next door supply went off", "211", EMERGENCY),
    ("half the house is off", "2547", CREW),
    ("lights flicker", "2327", CREW),
    ("lights dipped once", "2637", NOTE),
    ("power went off and came back", "256117", NOTE),
    ("supply comes and goes", "256127", CREW),
    ("neighbours have no power, ours is fine", "256227", CREW),
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
        found = page.locator("[data-part=found] a")
        expect(found.locator("visible=true").first).to_be_visible()
        page.wait_for_timeout(50)  # until what was typed last is found
        dangers = page.locator("[data-part=found] li[data-danger]").count()  # what to do at once stands first
        for _ in range(dangers and dangers + 1):
            page.keyboard.press("ArrowDown")
        page.keyboard.press("Enter")
        page.wait_for_url("**/trees/call/caller-*.html")
        for number, key in enumerate(keys, 1):
            page.keyboard.press(key)
            expect(page.locator("[data-part=trail-list] li"), said).to_have_count(number)
        outcome = page.locator("[data-outcome]:visible")
        expect(outcome.locator("[data-one=priority]"), said).to_have_text(priority)
        if priority == EMERGENCY:
            assert len(keys) <= 5, said
        page.keyboard.press("c")
        expect(page.locator("[data-part=copied]")).to_have_text("Copied.")
        summary = page.evaluate("navigator.clipboard.readText()")
        for words in ("ANSWERS", f"OUTCOME\n   {priority}", "SAID TO THE CALLER", "SITE TREES", "#carry="):
            assert words in summary or (words == "#carry=" and keys in ("12", "211")), (said, summary)
        told.append((time.monotonic() - began, len(said) + 1 + len(keys) + 1))
    seconds, strokes = map(sum, zip(*told, strict=True))
    with capsys.disabled():
        print(
            f"\n20 calls: {strokes / 20:.1f} keystrokes and {seconds / 20:.2f} s of a machine's typing each"
        )


TINGLE, LIGHTS, SUPPLY = "caller-tingle", "caller-lights", "caller-neighbour"
HEARD = {
    TINGLE: """
        my kettle is tingling; my daughter got a shock in the bath; shower gave me a belt
        tingeling from the showr; prickly feeling off radiators; hose buzzed my hand; gas pipe is live
        metal window frame gives me a jolt; electrocuted by the cooker; lectric shok of tap
        caravan steps gave me a shock; someone got hurt; fence is live; the power went off and i felt a tingle
    """,
    LIGHTS: """
        light bulbs really bright; bulb exploded; everything is dim; tv has blown and the microwave too
        brownout; lights pulsing when kettle goes on; ligts flikering; lights go up and down
        burning smell at the meter; blew the telly; house is smoking; supply on and off and bulbs bright
    """,
    SUPPLY: """
        power keeps going; no electric; my supply tripped; electricity went then came back; power cut
        intermittent supply; plumber cut a pipe and next door lost power; neighbor has no electric
        neighbers power is of; half my sockets are dead
    """,
}
"""Tree -> what was heard, in other words than its own; invented after the trees were written."""


def test_what_callers_say_leads_to_the_tree_that_asks_of_it(desk: str, page: Page) -> None:
    page.goto(f"{desk}/{DESK}")
    box = page.locator("[data-part=said]")
    first = page.locator("[data-part=found] a").first  # in danger, what to do at once
    for tree, heard in HEARD.items():
        for said in filter(None, (one.strip() for one in re.split(r"[;\n]", heard))):
            box.fill("")
            expect(first).to_be_hidden()
            box.fill(said)
            expect(first, said).to_have_attribute("href", re.compile(rf"/({tree}\.html|danger\.html#\w+)$"))


def test_one_key_leads_to_what_to_say_in_danger(desk: str, page: Page) -> None:
    page.goto(f"{desk}/{DESK}")
    box, dialog = page.locator("[data-part=said]"), page.get_by_role("dialog")
    page.keyboard.press("!")
    expect(dialog).to_contain_text("stop touching taps")
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    expect(box).to_be_focused()
    expect(box).to_have_value("")
    page.keyboard.type("help!")  # inside of words it is a mark like others
    expect(box).to_have_value("help!")
    expect(dialog).to_be_hidden()


def test_keys_with_a_control_key_are_the_browsers_own(desk: str, page: Page) -> None:
    page.goto(f"{desk}/trees/call/caller-lights.html")
    for held in ("ctrlKey", "altKey", "metaKey"):
        for key in ("2", "/", "!"):
            page.evaluate(
                """([held, key]) => document.body.dispatchEvent(
                    new KeyboardEvent("keydown", {key, [held]: true, bubbles: true}))""",
                [held, key],
            )
    expect(page.get_by_role("dialog")).to_be_hidden()
    expect(page.locator("[data-node=strip]")).to_be_visible()
    page.keyboard.press("2")
    expect(page.locator("[data-node=which-way]")).to_be_visible()


def test_the_next_call_is_one_key_away(desk: str, page: Page) -> None:
    page.goto(f"{desk}/{DESK}")
    box = page.locator("[data-part=said]")
    page.keyboard.type("xylophone")
    expect(page.locator("[data-part=count]")).to_contain_text("Nothing fits")
    page.keyboard.press("ArrowDown")  # into the list of all trees
    page.keyboard.press("Enter")
    page.wait_for_url("**/caller-intake.html")
    page.keyboard.press("2")
    page.keyboard.press("/")
    page.wait_for_url(f"**/{DESK}#find")
    expect(box).to_be_focused()
    expect(box).to_have_value("")


def test_a_call_says_how_easy_its_words_are(desk: str, page: Page) -> None:
    """Public bodies write for an age of nine to eleven: common practice, no source."""
    for tree in ("caller-intake", *HEARD):
        page.goto(f"{desk}/trees/call/{tree}.html")
        words = page.locator(".ln-facts").inner_text()
        told = re.search(r"reading age (\d+), reading ease (\d+) of 100; 70 is asked for", words)
        assert told, words
        assert int(told[1]) <= 11, words
        assert int(told[2]) >= 70, words


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
    expect(first).to_contain_text("a tingle or a shock from metal")
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
    assert link.endswith("#carry=lights:bright")
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
    for keys, home in (("221", 0), ("2327", 1)):
        page.goto(f"{desk}/trees/call/caller-lights.html")
        for key in keys:
            page.keyboard.press(key)
        page.locator("[name=street]").select_option(street)
        page.locator("[name=home]").select_option(index=home)
        page.get_by_role("button", name="Add this call").click()
    expect(page.locator("[data-part=calls-list]")).to_contain_text("bright;")
    page.goto(f"{desk}/{DESK}")  # where the next one can be put to them without a tree
    expect(page.locator("[name=street]")).to_have_value(street)
    expect(page.locator("[data-part=calls-list]")).to_contain_text("bright;")
    page.locator("[name=home]").select_option(index=2)
    page.locator("[name=seen]").select_option("flicker")
    page.get_by_role("button", name="Add this call").click()
    page.get_by_role("link", name="Where does the fault lie?").click()
    asked = parse_qs(page.url.partition("#")[2])
    assert [asked[name] for name in ("street", "seen_1", "seen_2", "seen_3")] == [
        [street],
        ["bright"],
        ["dim"],
        ["flicker"],
    ]
    expect(page.get_by_label("What was said of home 2")).to_have_value("dim")


@pytest.mark.parametrize(("tree", "keys"), [("lights", "221"), ("neighbour", "256127"), ("intake", "25327")])
def test_the_end_of_a_call_prints_on_one_page(desk: str, page: Page, tree: str, keys: str) -> None:
    page.goto(f"{desk}/trees/call/caller-{tree}.html")
    for key in keys:
        page.keyboard.press(key)
    expect(page.locator("[data-outcome]:visible")).to_be_visible()
    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4"))) == 1
