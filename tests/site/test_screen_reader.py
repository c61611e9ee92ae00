"""What a screen reader is told of each kind of page: names and roles, kept as text beside this file.

`python3 -m build_tools test tests/site/test_screen_reader.py --update` writes the texts; read the difference.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page

pytestmark = pytest.mark.browser

HERE = Path(__file__).parents[1]
GUIDE = HERE / "guides" / "walked"
KEPT = HERE / "screen_reader"

PAGES = {
    # name of the text: page, what to press, the part that is told
    "list": ("trees/site/index.html", (), ".ln:has(h1)"),
    "question": ("trees/site/tingle-visit.html", (), ".ln-main"),
    "step": ("trees/site/tingle-visit.html", ("1",), ".ln-main"),
    "reading": ("trees/site/tingle-visit.html", ("1", "1"), ".ln-main"),
    "reading-typed": ("trees/site/tingle-visit.html", ("1", "1", "0", ".", "6"), ".ln-main"),
    "danger": ("trees/site/tingle-visit.html", ("!",), "dialog[open]"),
    "jobs": ("jobs.html", (), ".ln-jobs"),
    "glossary": ("glossary.html", (), ".ln-glossary"),
    "rules": ("rules.html", (), ".ln-rules"),
    "calculator": ("calculators/touch-voltage.html", (), ".ln-calculator form"),
}


@pytest.mark.parametrize("name", PAGES)
def test_a_screen_reader_is_told(name: str, site: Path, page: Page, request: pytest.FixtureRequest) -> None:
    address, keys, part = PAGES[name]
    page.goto(f"{site.as_uri()}/{address}")
    for key in keys:
        page.keyboard.press(key)
    told = re.sub(r"\n *- /url: .*", "", page.locator(part).first.aria_snapshot()) + "\n"
    kept = KEPT / f"{name}.txt"
    if request.config.getoption("--update"):
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(told, "utf-8")
    assert told == kept.read_text("utf-8")
