"""Build and browser agree: the page's own Python answers as CPython does, to the last letter."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import browsing
import pytest
from playwright.sync_api import Page, expect
from questions import questions
from test_calculator_page import PAGE, ROOT, START_MS

from build_tools.bench.local_server import served
from build_tools.guide import loading
from build_tools.guide.trees import Guide
from build_tools.pages.calculator_page import render
from build_tools.pages.sections import calculator_data
from build_tools.site.assets import write_browser_assets
from calc.calculators import CALCULATORS, answer_json

pytestmark = pytest.mark.browser

RANDOM = 200
SLOW = {"one-street": 50, "locate": 50}
"""Of these so many, unless every way is asked for: each answer takes a device a tenth of a second."""
CATCH_WORKER = """const Real = Worker;
globalThis.Worker = class extends Real {
  constructor(...given) { super(...given); globalThis.desk = this; }
};"""
ASK = """async ([calculator, raws, data]) => {
  const replies = [];
  for (const raw of raws) {
    replies.push(await new Promise((resolve) => {
      desk.onmessage = ({ data }) => resolve(data.failed ?? data.answer);
      desk.postMessage({ question: [calculator, raw, data] });
    }));
  }
  return replies;
}"""


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """One calculator's page, its Python started as a reader starts it."""
    folder = tmp_path_factory.mktemp("www") / "calculators"
    folder.mkdir()
    write_browser_assets(folder.parent, ROOT)
    shown = render(CALCULATORS["lost-neutral"], {"streets": {}})
    (folder / "lost-neutral.html").write_text(PAGE.format(shown), "utf-8")
    with served(folder.parent) as address, browsing.browser() as running:
        opened = running.new_page()
        opened.add_init_script(CATCH_WORKER)
        opened.goto(f"{address}/calculators/lost-neutral.html")
        opened.locator("form input").first.focus()
        expect(opened.locator("[data-calculator]")).to_have_attribute("data-state", "here", timeout=START_MS)
        yield opened


@pytest.fixture(scope="module")
def loaded() -> Guide:
    return loading.load(Path(ROOT / "guide_src"))


@pytest.mark.parametrize("calculator", CALCULATORS)
def test_build_and_browser_agree(
    page: Page, loaded: Guide, calculator: str, record_property: Any, request: pytest.FixtureRequest
) -> None:
    every = request.config.getoption("--every-way")
    random = RANDOM if every else SLOW.get(calculator, RANDOM)
    shipped = calculator_data(loaded, CALCULATORS[calculator])
    asked = list(questions(CALCULATORS[calculator], shipped, random))
    raws, data = [json.dumps(raw) for raw in asked], json.dumps(shipped)
    replies = page.evaluate(ASK, [calculator, raws, data])
    record_property("compared", len(replies))
    print(f"{calculator}: {len(replies)} answers compared")
    assert len(replies) == len(raws) > random
    for raw, reply in zip(raws, replies, strict=True):
        assert reply == answer_json(calculator, raw, data), raw
        assert "ok" in json.loads(reply), raw
