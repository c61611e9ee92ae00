"""The guide in another language: every run of words is reached, nothing else is, right to left survives."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from browsing import watched
from playwright.sync_api import Browser, BrowserContext, Page, expect
from test_tree_page import CALL_TREE, SITE_TREE

from build_tools.guide.wording import INSTALLED
from build_tools.site import catalogues, translation
from build_tools.site.offline_copy import NAMES

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "tests/guides/walked"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """The guide built in a language, once for each."""
    made: dict[str, Path] = {}

    def build(language: str) -> Path:
        if language not in made:
            made[language] = tmp_path_factory.mktemp("language") / "site"
            command = [
                sys.executable,
                ROOT / "tests/lean_build.py",
                GUIDE,
                made[language],
                "material",
                "",
                language,
            ]
            subprocess.run(command, cwd=ROOT, check=True)
        return made[language]

    return build


def test_nothing_but_words_is_touched(site: Path) -> None:
    same = translation.Catalogue("en", "ltr", lambda words: words)
    for page in site.rglob("*.html"):
        text = page.read_text("utf-8")
        given = translation.translated(text, same)
        assert re.sub(' dir="ltr"', "", given, count=1).replace("&quot;", '"').replace("&#x27;", "'") == (
            text.replace("&quot;", '"').replace("&#39;", "'").replace("&#x27;", "'").replace("&#34;", '"')
        ) or translation.runs_of(given) == translation.runs_of(text), page


def test_every_run_of_words_is_given(built: Callable[[str], Path], site: Path) -> None:
    pages = sorted(built("pseudo").rglob("*.html"))
    assert len(pages) == len(list(site.rglob("*.html"))) > 20
    for page in pages:
        left = [words for words in translation.runs_of(page.read_text("utf-8")) if not words.startswith("[")]
        assert left == [], page


UNGIVEN = """() => {
  const walker = document.createTreeWalker(document.querySelector(".ln-tree"), NodeFilter.SHOW_TEXT);
  const found = [];
  while (walker.nextNode()) {
    const {parentElement: parent, textContent: text} = walker.currentNode;
    if (parent.closest("script, template, svg, textarea") || !parent.checkVisibility()) continue;
    if (/[A-Za-z]{3}/.test(text) && !/^[^A-Za-z]*\\[/.test(text)) found.push(text.trim());
  }
  return found;
}"""


def test_what_scripts_say_is_given_too(built: Callable[[str], Path], page: Page) -> None:
    page.goto(f"{built('pseudo').as_uri()}/{CALL_TREE}")
    assert page.evaluate("document.documentElement.lang") == "en-XA"
    for key in "223":
        page.keyboard.press(key)
        assert page.evaluate(UNGIVEN) == []
    expect(page.locator("[data-part=status]")).to_contain_text("[Áñšwéréd:")
    record = page.locator("[data-part=record-text]").input_value()
    assert "[ÁÑŠWÉRŠ" in record and "[Šéñd á çréw ñów" in record


def test_a_typed_figure_and_its_troubles_are_given(built: Callable[[str], Path], page: Page) -> None:
    page.goto(f"{built('pseudo').as_uri()}/{SITE_TREE}#clamp")
    form = page.locator("[data-node=clamp] form")
    form.locator("input").fill("230 V")
    expect(form.locator("[data-problem]")).to_contain_text("[Thát íš íñ vóltš")
    form.locator("input").fill("0.8")
    expect(form.locator("[data-accept]")).to_contain_text("[Áççépt 0.8 A")


@pytest.mark.parametrize("width", [360, 820])
def test_right_to_left_survives(built: Callable[[str], Path], started: Browser, width: int) -> None:
    site = built("pseudo-rtl")
    with watched(started, viewport={"width": width, "height": 800}) as context:
        page = context.new_page()
        for where in (
            SITE_TREE,
            CALL_TREE,
            "index.html",
            "jobs.html",
            "calculators/two-homes.html",
            "glossary.html",
        ):
            page.goto(f"{site.as_uri()}/{where}")
            assert page.evaluate("[document.dir, document.documentElement.scrollWidth <= innerWidth]") == [
                "rtl",
                True,
            ]
        page.goto(f"{site.as_uri()}/{CALL_TREE}")
        first = page.locator("[data-node]:visible a[data-go]").first
        edges = first.evaluate(
            "link => { const style = getComputedStyle(link);"
            " return [parseFloat(style.borderRightWidth), parseFloat(style.borderLeftWidth)] }"
        )
        assert edges[0] > edges[1], "the thick edge is where reading begins"


LEFT_OF = """([element, one, other]) => {
  const at = (part) => {
    const walker = document.createTreeWalker(element, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const from = walker.currentNode.data.lastIndexOf(part);
      if (from < 0) continue;
      const range = document.createRange();
      range.setStart(walker.currentNode, from);
      range.setEnd(walker.currentNode, from + part.length);
      return range.getBoundingClientRect().left;
    }
  };
  return at(one) < at(other);
}"""

DRAWN = """() => [...document.querySelectorAll("[data-part=drawing] svg text")].map((text) =>
  Math.round(text.getBoundingClientRect().left - text.ownerSVGElement.getBoundingClientRect().left))"""


def test_figures_numbers_and_keys_keep_their_order(built: Callable[[str], Path], page: Page) -> None:
    """By the Unicode bidirectional algorithm (UAX 9) a figure and its unit would change places in a page that
    runs from right to left, and so would the groups of a telephone number."""

    def left_of(what: str, one: str, other: str) -> bool:
        page.locator(what).first.scroll_into_view_if_needed()  # what is far from view is not laid out
        element = page.locator(what).first.element_handle()
        told: bool = page.evaluate(LEFT_OF, [element, one, other])
        return told

    page.goto(f"{built('pseudo-rtl').as_uri()}/{SITE_TREE}#clamp")
    clamp = "[data-node=clamp]"
    page.locator(f"{clamp} input").fill("0.8")
    assert left_of(f"{clamp} [data-value]", "0.8", "A")
    assert left_of(f"{clamp} [data-accept]", "0.8", "A")
    assert left_of(f"{clamp} a[data-exit=range] .ln-range", "0.5", "A"), "below 0.5 A"
    assert left_of(".ln-lines b", "0700", "461")
    sides = [page.locator(f"{clamp} {what}").bounding_box() for what in ("input", ".ln-box span")]
    assert sides[0] and sides[1] and sides[0]["x"] < sides[1]["x"], "the unit stands behind its figure"
    page.locator(f"{clamp} [data-pad]").evaluate("pad => { pad.hidden = false }")
    keys = [
        page.locator(f'{clamp} [data-puts="{key}"]').first.evaluate("key => key.offsetLeft") for key in "789"
    ]
    assert keys == sorted(set(keys))
    mark = page.locator(f"{clamp} a[data-match]").evaluate(
        "link => getComputedStyle(link, '::after').content"
    )
    assert mark.startswith('"[ýóúr fígúré')
    page.goto(f"{built('pseudo-rtl').as_uri()}/calculators/two-homes.html")
    assert left_of("[data-part=tables] td:has-text('V')", "2", "V")


def test_what_a_calculators_scripts_say_is_given(built: Callable[[str], Path], page: Page) -> None:
    """Python's own answers are not: languages.py says so."""
    page.goto(f"{built('pseudo').as_uri()}/calculators/two-homes.html#from=trees/site/x.html&gone=1")
    for what in ("[data-part=back]", "[data-part=notice]", ".ln-watch button >> nth=0"):
        expect(page.locator(what)).to_have_text(re.compile(r"^\["))
    assert page.locator("[data-part=status]").inner_text().startswith("[")


def test_a_drawing_is_the_same_either_way(built: Callable[[str], Path], page: Page) -> None:
    drawn = []
    for language in ("pseudo", "pseudo-rtl"):
        page.goto(f"{built(language).as_uri()}/calculators/two-homes.html")
        drawn.append(page.evaluate(DRAWN))
    assert len(drawn[0]) > 10
    assert drawn[0] == drawn[1]


def test_a_tablet_installs_it_under_names_of_the_language(built: Callable[[str], Path], site: Path) -> None:
    """Members of the manifest by W3C's Web Application Manifest: `lang` and `dir` are those of its names."""
    own, given, turned = (
        json.loads((folder / "manifest.webmanifest").read_text("utf-8"))
        for folder in (site, built("pseudo"), built("pseudo-rtl"))
    )
    assert (own["name"], own["lang"], own["dir"]) == ("A guide to walk", "en", "ltr")
    assert given["name"] == "[Á gúídé tó wálk ~ ~]"
    assert all(given[name].startswith("[") and given[name] != own[name] for name in NAMES)
    assert (given["lang"], given["dir"]) == ("en-XA", "ltr")
    assert (turned["lang"], turned["dir"]) == ("ar-XB", "rtl")
    assert given.keys() == own.keys() > {"start_url", "scope", "icons", *NAMES}
    assert {key: given[key] for key in ("start_url", "scope", "icons")} == {
        key: own[key] for key in ("start_url", "scope", "icons")
    }


def test_what_is_not_reached_is_so_and_is_said(built: Callable[[str], Path], site: Path, page: Page) -> None:
    """Whoever makes one of them translatable takes it from the list, and from the page of publishing."""
    assert len(translation.NOT_REACHED) == 5
    published = " ".join((ROOT / "guide_src/pages/publishing.md").read_text("utf-8").replace("`", "").split())
    assert [words for words in translation.NOT_REACHED if words not in published] == []
    pseudo = built("pseudo")
    for name in ("guide.json", "assets/walks/tingle-visit.js"):
        assert (pseudo / name).read_bytes() == (site / name).read_bytes(), name
    page.goto(f"{pseudo.as_uri()}/calculators/two-homes.html")
    assert page.locator("[data-part=drawing] svg text", has_text="[").count() == 0
    first = page.locator("output").first
    expect(first).to_contain_text("[")
    page.locator("form select").first.focus()
    expect(page.locator("[data-calculator]")).to_have_attribute("data-state", "here", timeout=60_000)
    expect(first).not_to_contain_text("[")


def test_a_catalogue_is_written_filled_in_and_used(tmp_path: Path, context: BrowserContext) -> None:
    file = tmp_path / "cy.po"
    command = [sys.executable, "-m", "build_tools", "words", "--guide", str(GUIDE), str(file)]
    told = subprocess.run(command, cwd=ROOT, check=True, text=True, capture_output=True)
    assert all(words in told.stdout + told.stderr for words in translation.NOT_REACHED)
    catalog = catalogues.read(file)
    assert all(words in catalog for words in ("Send a crew now", "A guide to walk", INSTALLED))
    assert catalogues.given(catalog) == {}
    catalog["Send a crew now"].string = "Anfonwch griw nawr"
    catalogues.write(catalog, file)
    told = subprocess.run(command, cwd=ROOT, check=True, text=True, capture_output=True)
    assert " 1 given, 0 to look at again, " in told.stderr
    build = ["build", "--guide", str(GUIDE), "--to", str(tmp_path / "site"), "--language", str(file)]
    command = [sys.executable, "-m", "build_tools", *build]
    done = subprocess.run(command, cwd=ROOT, check=True, text=True, capture_output=True)
    assert re.search(r"[\d,]+ runs of words stay as they are", done.stdout + done.stderr)
    page = context.new_page()
    page.goto(f"{(tmp_path / 'site').as_uri()}/{CALL_TREE}")
    assert page.evaluate("[document.documentElement.lang, document.dir]") == ["cy", "ltr"]
    page.keyboard.press("1")
    expect(page.locator("[data-node=send-now] h2")).to_have_text("Anfonwch griw nawr")
