"""One guide for two operators: names, numbers, priorities, colours from one file, nothing of the other's."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from browsing import watched
from conftest import GuideOnDisk
from playwright.sync_api import Browser, Page, expect

from build_tools import colours, guide
from build_tools.checks import check_guide
from build_tools.findings import text_report

ROOT = Path(__file__).parent.parent
GUIDE = ROOT / "guide_src"
OTHER = ROOT / "tests/operators/harrowfen.yaml"
THEIRS = ("Kelderbeck", "0000 000 000", "0000000000", "999")


@pytest.fixture(scope="module")
def other(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shipped guide, published by the other operator."""
    to = tmp_path_factory.mktemp("other") / "site"
    command = [sys.executable, "-m", "build_tools", "build", "--to", str(to), "--operator", str(OTHER)]
    subprocess.run(command, cwd=ROOT, check=True)
    return to


def words_of(page: Path) -> str:
    """A page's text and attributes without drawings and data, whose figures may hold any digits."""
    text = re.sub(r"<(script|svg|table)\b.*?</\1>", "", page.read_text("utf-8"), flags=re.S)
    return re.sub(r"\b[0-9a-f]{12}\b", "", text)


def test_nothing_of_one_operator_is_in_the_others_site(other: Path, site: Path) -> None:
    pages = sorted(path.relative_to(site) for path in site.rglob("*.html"))
    assert pages == sorted(path.relative_to(other) for path in other.rglob("*.html"))
    for page in pages:
        mine, theirs = words_of(site / page), words_of(other / page)
        assert "Kelderbeck Networks" in mine and "Harrowfen Power Lines" in theirs, page
        assert "Harrowfen" not in mine and not [
            word for word in THEIRS if re.search(rf"\b{word}\b", theirs)
        ], page
    assert json.loads((other / "manifest.webmanifest").read_text("utf-8"))["theme_color"] == "#3b1240"
    found = (other / "assets/find-in.js").read_text("utf-8")
    assert not [word for word in THEIRS[:3] if word in found]


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_looks_and_speaks_as_the_other_operator_wants(other: Path, started: Browser, scheme: Any) -> None:
    with watched(started, color_scheme=scheme) as context:
        page = context.new_page()
        page.goto(f"{other.as_uri()}/trees/call/caller-tingle.html")
        for key in "1":
            page.keyboard.press(key)
        outcome = page.locator("[data-outcome]:visible")
        expect(outcome).to_contain_text("Stage red")
        expect(outcome).to_contain_text("Please ring 112 now.")
        assert (
            colour_of(page, ".ln-audience a")
            == {"light": "rgb(106, 44, 112)", "dark": "rgb(227, 166, 234)"}[scheme]
        )
        head = page.locator(".md-header").evaluate("head => getComputedStyle(head).backgroundColor")
        assert head == "rgb(59, 18, 64)"


def colour_of(page: Page, what: str) -> Any:
    return page.locator(what).first.evaluate("element => getComputedStyle(element).color")


def found(small_guide: GuideOnDisk) -> str:
    return text_report(check_guide(small_guide.load()))


def test_colours_that_do_not_stand_out_are_refused(small_guide: GuideOnDisk) -> None:
    text = (small_guide.folder / "operator.yaml").read_text("utf-8")
    small_guide.write("operator.yaml", text + 'colours: {light: "#8fb8c4", dark: "#0b5b70"}\n')
    said = found(small_guide)
    assert "#8fb8c4 against #fefdfa has a contrast of 2.1 to 1" in said
    assert "#0b5b70 against #151b20 has a contrast of 2.3 to 1" in said
    assert "operator.yaml:" in said and "WCAG 2.2, 1.4.3" in said and "take a darker colour" in said


def test_a_name_that_the_operator_lacks_is_told(small_guide: GuideOnDisk) -> None:
    small_guide.edit("guide.yaml", "title: A small guide", 'title: "The {opperator} guide"')
    said = found(small_guide)
    assert "guide.yaml:1:8: value: {opperator} names nothing of operator.yaml; there are: operator" in said


def test_no_operator_is_told(small_guide: GuideOnDisk) -> None:
    (small_guide.folder / "operator.yaml").unlink()
    assert "operator.yaml" in found(small_guide)


def test_what_rules_are_called_is_the_operators(small_guide: GuideOnDisk) -> None:
    text = (small_guide.folder / "operator.yaml").read_text("utf-8")
    small_guide.write("operator.yaml", text + "rules: {live-work: Small book 7}\n")
    small_guide.edit("guide.yaml", "title: A small guide", 'title: "By {rules-live-work}"')
    loaded = guide.load(small_guide.folder)
    assert loaded.settings and loaded.settings.title == "By Small book 7"


def test_contrast_is_as_the_standard_has_it() -> None:
    """WCAG 2.2: black on white is 21 to 1. #767676 on white is 4.54 to 1: common knowledge, from memory."""
    assert colours.contrast("#000000", "#ffffff") == pytest.approx(21)
    assert colours.contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def test_papers_are_those_of_the_styles() -> None:
    sheet = (ROOT / "build_tools/browser/guide.css").read_text("utf-8")
    light, dark = (sheet[sheet.index(start) :] for start in ("body {", 'body[data-md-color-scheme="slate"]'))
    for scheme, part in (("light", light), ("dark", dark)):
        values = [re.search(rf"--ln-{name}: (#\w+);", part) for name in ("paper", "wash")]
        assert tuple(value[1] for value in values if value) == colours.PAPERS[scheme]
