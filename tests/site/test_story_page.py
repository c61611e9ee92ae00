"""A story played and a street changed in a page, in a real browser; Python reads what the page wrote."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator

import pytest
from browsing import browser
from playwright.sync_api import Page, expect
from streets import terrace

from build_tools.bench.local_server import served
from build_tools.pages import templates
from build_tools.setup.result_cache import ROOT
from calc.address import street_at
from calc.calculators import CALCULATORS, default_answer
from calc.street import Street, network

pytestmark = pytest.mark.browser

DATA = {"streets": {"row": terrace(6).to_data()}}
PAGE = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Story</title>
<link rel="icon" href="data:,">
<link rel="stylesheet" href="calculator/calculator.css">
<div class="ln-calculator"><form><fieldset>
<div data-field="street"><label>Street
<select name="street"><option value="row">Row</option></select></label></div>
</fieldset></form><figure id="drawing">%s</figure>%s</div>
<script type="application/json" id="data">%s</script>
<script type="module">
import { watchStories } from "./story/story.js";
import { editStreets } from "./calculator/street-editor.js";
import { wordsIn } from "./page/words.js";
const words = wordsIn(document);
watchStories(document.querySelector("#drawing"), words);
editStreets(document.querySelector("form"), JSON.parse(document.querySelector("#data").textContent), words);
</script></html>"""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("story")
    modules = ROOT / "build_tools" / "site" / "browser"
    shutil.copytree(modules, folder, dirs_exist_ok=True)  # one is there with whatever it imports
    drawing = default_answer(CALCULATORS["two-homes"], DATA).drawing
    (folder / "index.html").write_text(
        PAGE % (drawing, templates.render("calculator-words.html"), json.dumps(DATA)), encoding="utf-8"
    )
    with served(folder) as url:
        yield f"{url}/index.html"


@pytest.fixture
def page(address: str, request: pytest.FixtureRequest) -> Iterator[Page]:
    with browser() as started:
        opened = started.new_page(reduced_motion=getattr(request, "param", "no-preference"))
        opened.goto(address)
        yield opened


def shown(page: Page) -> list[bool]:
    return [frame.is_visible() for frame in page.locator(".ln-frame").all()]


MOVES = "getComputedStyle(document.querySelector('.ln-frame:not([data-away]) .ln-flow')).animationName"


def test_all_frames_stand_there_until_one_watches(page: Page) -> None:
    assert shown(page) == [True, True, True] and page.evaluate(MOVES) == "none"
    page.get_by_role("button", name="Play").click()
    assert shown(page) == [True, False, False] and page.evaluate(MOVES) == "ln-flow"
    expect(page.get_by_role("button", name="Pause")).to_be_focused()
    expect(page.locator(".ln-frame").nth(1)).to_be_visible(timeout=9_000)
    page.get_by_role("button", name="Pause").click()
    assert shown(page) == [False, True, False] and page.evaluate(MOVES) == "none"
    page.get_by_role("button", name="Next").click()
    assert shown(page) == [False, False, True]
    page.get_by_role("button", name="Show all").click()
    assert shown(page) == [True, True, True]


@pytest.mark.parametrize("page", ["reduce"], indirect=True)
def test_who_asks_for_less_motion_steps_by_hand(page: Page) -> None:
    assert page.get_by_role("button", name="Play").count() == 0
    page.get_by_role("button", name="Next").click()
    assert shown(page) == [True, False, False] and page.evaluate(MOVES) == "none"


def test_on_paper_every_frame_stands(page: Page) -> None:
    page.get_by_role("button", name="Next").click()
    page.emulate_media(media="print")
    assert shown(page) == [True, True, True]
    assert not page.get_by_role("button", name="Next").is_visible()


def changed(page: Page) -> Street:
    """The street as the page has written it, read by Python."""
    page.wait_for_function("document.querySelector('select').value.startsWith('1.')")
    return street_at(page.locator("select[name=street]").input_value())


def test_a_load_and_a_phase_are_changed(page: Page) -> None:
    page.get_by_text("Change this street").click()
    load = page.get_by_label("Load of 4 on L2 (kW)")
    load.fill("6,5")
    load.press("Tab")
    assert changed(page).premises["4"].load_kw == (6.5,)
    assert changed(page).premises["2"] == terrace(6).premises["2"]


def test_a_load_that_is_none_is_not_taken(page: Page) -> None:
    page.get_by_text("Change this street").click()
    load = page.get_by_label("Load of 4 on L2 (kW)")
    load.fill("lots")
    load.press("Tab")
    expect(load).to_have_attribute("aria-invalid", "true")
    assert page.locator("select[name=street]").input_value() == "row"


def test_a_home_more_and_a_home_less(page: Page) -> None:
    page.get_by_text("Change this street").click()
    page.get_by_role("button", name="Add a home like the last").click()
    street = changed(page)
    assert len(street.premises) == 7 and "14" in street.premises
    assert street.sharing_metalwork("12") != terrace(6).sharing_metalwork("12")
    page.get_by_role("button", name="Remove 4", exact=True).click()
    page.wait_for_function("document.querySelectorAll('.ln-edit-homes li').length === 6")
    page.wait_for_timeout(300)
    street = changed(page)
    assert "4" not in street.premises and "6" in street.sharing_metalwork("2")
    assert network(street).solution.islands == ()


def test_a_gap_in_the_pipe(page: Page) -> None:
    page.get_by_text("Change this street").click()
    page.get_by_label("2 to 4", exact=True).uncheck()
    assert changed(page).sharing_metalwork("2") == ()
