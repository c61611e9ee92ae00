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

from build_tools.checks import check_guide
from build_tools.guide import contrast, loading
from build_tools.guide.findings import text_report
from build_tools.guide.models import Colours

ROOT = Path(__file__).parents[2]
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
        for key in "11":
            page.keyboard.press(key)
        outcome = page.locator("[data-outcome]:visible")
        expect(outcome).to_contain_text("Stage red")
        expect(outcome).to_contain_text("Please ring 112 now,")
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
    """Each is told once, against what it can be read on worst; written as the mend says, nothing is left."""
    text = (small_guide.folder / "operator.yaml").read_text("utf-8")
    wrong = {"light": "#8fb8c4", "dark": "#0b5b70", "head": "#8a8a8a"}
    listed = ", ".join(f'{name}: "{colour}"' for name, colour in wrong.items())
    said = found(small_guide.write("operator.yaml", f"{text}colours: {{{listed}}}\n"))
    assert said.count("low-contrast") == 3
    assert "accent #8fb8c4 against wash #f1f2ee has a contrast of 1.9 to 1" in said
    assert "accent #0b5b70 against warn-wash #37300f has a contrast of 1.7 to 1" in said
    assert re.search(
        r"on-head #0c1a20 \(of which 70% is seen\) against head #8a8a8a .* of [23]\.\d to 1", said
    )
    assert "operator.yaml:" in said and "WCAG 2.2, 1.4.3" in said
    mends = dict(re.findall(r'mend: write (\w+): "(#\w{6})"', said))
    assert mends.keys() == wrong.keys()
    listed = ", ".join(f'{name}: "{colour}"' for name, colour in mends.items())
    assert found(small_guide.write("operator.yaml", f"{text}colours: {{{listed}}}\n")) == ""


def test_a_name_that_the_operator_lacks_is_told(small_guide: GuideOnDisk) -> None:
    small_guide.edit("guide.yaml", "title: A small guide", 'title: "The {opperator} guide"')
    said = found(small_guide)
    assert "guide.yaml:1:8: not-the-operators: {opperator} names nothing of operator.yaml - did you" in said


def test_no_operator_is_told(small_guide: GuideOnDisk) -> None:
    (small_guide.folder / "operator.yaml").unlink()
    assert "operator.yaml" in found(small_guide)


def test_what_rules_are_called_is_the_operators(small_guide: GuideOnDisk) -> None:
    text = (small_guide.folder / "operator.yaml").read_text("utf-8")
    small_guide.write("operator.yaml", text + "rules: {live-work: Small book 7}\n")
    small_guide.edit("guide.yaml", "title: A small guide", 'title: "By {rules-live-work}"')
    loaded = loading.load(small_guide.folder)
    assert loaded.settings and loaded.settings.title == "By Small book 7"


def test_contrast_is_as_the_standard_has_it() -> None:
    """WCAG 2.2: black on white is 21 to 1. #767676 on white is 4.54 to 1: common knowledge, from memory."""
    assert contrast.contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast.contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def test_the_sheets_own_colours_stand_out_too() -> None:
    """Those that no operator changes, and the first ones of those that they do; both palettes are found."""
    for scheme in contrast.SCHEMES:
        known = contrast.palette(Colours(), scheme)
        assert {name for pair in contrast.PAIRS for name in (pair.front, pair.back)} <= known.keys()
        assert list(contrast.too_faint(Colours(), scheme)) == []
    light, dark = (contrast.palette(Colours(), scheme) for scheme in contrast.SCHEMES)
    assert contrast_of(light, "paper") > 18 and contrast_of(dark, "paper") < 1.3


def contrast_of(known: dict[str, str], name: str) -> float:
    """Against black."""
    return contrast.contrast(known[name], "#000000")


@pytest.mark.browser
def test_more_contrast_and_paper_outweigh_the_operators_colours(other: Path, started: Browser) -> None:
    with watched(started, contrast="more") as context:
        page = context.new_page()
        page.goto(f"{other.as_uri()}/trees/call/caller-tingle.html")
        assert colour_of(page, ".ln-audience a") == "rgb(0, 64, 90)"
    with watched(started) as context:
        page = context.new_page()
        page.goto(f"{other.as_uri()}/trees/call/caller-tingle.html")
        page.emulate_media(media="print")
        assert colour_of(page, ".ln-audience a") == "rgb(0, 0, 0)"
