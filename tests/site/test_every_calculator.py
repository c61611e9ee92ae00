"""Every calculator by keys alone: from a folder, over HTTP, and from a device without a network."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from editions import Server
from playwright.sync_api import Browser, Page, expect

from build_tools.guide import loading
from build_tools.guide.trees import Guide
from build_tools.pages.sections import calculator_data
from calc.calculators import CALCULATORS, answer_json

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[2] / "guide_src"
START_MS = 90_000
MOST_TABS = 250
PRINTED = "globalThis.printed = 0; globalThis.print = () => { printed += 1; };"
GIVEN = """() => {
  const said = (control) => control.type === "checkbox" ? (control.checked ? "yes" : "no") : control.value;
  const controls = [...document.querySelectorAll("form [name]")];
  return Object.fromEntries(controls.map((control) => [control.name, said(control)]));
}"""
ANSWER = """() => {
  const answer = document.querySelector(".ln-answer");
  const text = (one) => one.textContent.replaceAll("\u00a0", " "); // a unit stays on its figure's line
  const texts = (chosen) => [...answer.querySelectorAll(chosen)].map(text);
  const chosen = ["output span", "[data-part=warnings] li", "tbody :is(th, td)"];
  const [summary, warnings, cells] = chosen.map(texts);
  return { summary, warnings, cells };
}"""


@pytest.fixture(scope="module", params=["folder", "server", "device without a network"])
def opened(
    request: pytest.FixtureRequest, site: Path, tmp_path_factory: pytest.TempPathFactory, started: Browser
) -> Iterator[tuple[Page, str]]:
    """A page, and where the site's pages begin."""
    context = started.new_context()
    context.add_init_script(PRINTED)
    page = context.new_page()
    if request.param == "folder":
        yield page, site.as_uri()
    else:
        server = Server(tmp_path_factory.mktemp("www"))
        server.publish(site)
        if request.param != "server":
            page.goto(f"{server.address}/index.html")
            expect(page.locator("[data-part=device]")).to_have_attribute(
                "data-state", "kept", timeout=START_MS
            )
            server.stop()
        yield page, server.address
        if request.param == "server":
            server.stop()
    context.close()


@pytest.fixture(scope="module")
def shipped() -> Guide:
    return loading.load(GUIDE)


def tab_to(page: Page, what: str) -> None:
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate("(what) => document.activeElement.matches(what)", what):
            return
    raise AssertionError(f"{MOST_TABS} presses of Tab do not lead to {what}")


def change(page: Page) -> str:
    """Changes the control that has the focus, by keys, and says which it is."""
    kind, name = page.evaluate("() => [document.activeElement.type, document.activeElement.name]")
    if kind == "select-one":
        last = page.evaluate(
            "() => document.activeElement.selectedIndex === document.activeElement.length - 1"
        )
        page.keyboard.press("ArrowUp" if last else "ArrowDown")
    elif kind == "checkbox":
        page.keyboard.press("Space")
    else:
        page.keyboard.press("Control+A")
        page.keyboard.type(f"{_low(page.url, name):g}")
    return str(name)


def _low(url: str, name: str) -> float:
    calculator = CALCULATORS[url.rsplit("/", 1)[-1].partition(".")[0]]
    return next(float(one.low) for one in calculator.inputs if one.name == name)


@pytest.mark.parametrize("name", CALCULATORS)
def test_it_answers_as_the_build_would(opened: tuple[Page, str], shipped: Guide, name: str) -> None:
    page, root = opened
    calculator, data = CALCULATORS[name], calculator_data(shipped, CALCULATORS[name])
    page.goto(f"{root}/calculators/{name}.html")
    before = page.evaluate(GIVEN)
    tab_to(page, "form :is(input:not([type=range]), select)")
    changed = change(page)
    expect(page.locator("[data-calculator]")).to_have_attribute("data-state", "here", timeout=START_MS)
    given = page.evaluate(GIVEN)
    assert given[changed] != before[changed]

    answer = json.loads(answer_json(name, json.dumps(given), json.dumps(data)))["ok"]
    cells = [[row["label"], *row["cells"]] for table in answer["tables"] for row in table["rows"]]
    shown = page.evaluate(ANSWER)
    assert shown["summary"] == answer["summary"]
    assert shown["warnings"] == answer["warnings"]
    assert sorted(shown["cells"]) == sorted(cell for row in cells for cell in row)

    is_long = (
        page.locator("form .ln-field").count() >= 9
    )  # the answer is above while its lower half is filled
    expect(page.locator("[data-part=headline]")).to_be_visible(visible=is_long)
    for picture in page.locator("[data-part=drawing] svg:visible").all():
        told = [picture.locator(f"> {part}").text_content() for part in ("title", "desc")]
        assert all(told), "a drawing is told in words"
    expect(page.locator(".ln-sources li")).to_have_count(len(calculator.sources))
    assert calculator.sources and calculator.cautions
    for caution in calculator.cautions:
        assert caution in page.locator("main, body").first.text_content().replace("\n", " ")
    tab_to(page, "[data-export=print]")
    page.keyboard.press("Enter")
    assert page.evaluate("printed") == 1
