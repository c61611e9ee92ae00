"""Each tree on paper: two sides at most, in black, with all that the tree says; printed and as PDF."""

from __future__ import annotations

import io
import json
import unicodedata
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader
from pypdf.generic import ContentStream

from build_tools.guide import models
from build_tools.guide.loading import load
from build_tools.guide.prose import Prose
from build_tools.publish.cards_pdf import cards
from build_tools.setup import programs

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[2] / "guide_src"
WHEN = datetime(2026, 7, 1, tzinfo=UTC)
A4_PT = (595, 842)  # source: ISO 216, 210 x 297 mm, to the nearest point
ROUGHLY_PT = 1


@pytest.fixture(scope="module")
def printed(site: Path) -> dict[str, bytes]:
    return dict(cards(site, programs.browser(), WHEN))


def test_each_tree_has_a_card_of_two_sides(site: Path, printed: dict[str, bytes]) -> None:
    trees = json.loads((site / "guide.json").read_text("utf-8"))["trees"]
    assert set(printed) == {f"cards/{tree['audience']}/{tree['id']}.pdf" for tree in trees}
    for name, pdf in printed.items():
        sides = PdfReader(io.BytesIO(pdf)).pages
        assert len(sides) in (1, 2), name
        for side in sides:
            assert side.mediabox[2:] == pytest.approx(A4_PT, abs=ROUGHLY_PT)


def test_a_card_needs_no_colour(printed: dict[str, bytes]) -> None:
    for name, pdf in printed.items():
        reader = PdfReader(io.BytesIO(pdf))
        for side in reader.pages:
            stream = ContentStream(side.get_contents(), reader)
            colours = [values for values, operator in stream.operations if operator in (b"rg", b"RG")]
            assert colours and all(len(set(map(float, values))) == 1 for values in colours), name
            assert not side.images


def letters(text: str) -> str:
    """The letters and figures alone: a line break in print is no space, and a face may join f and l."""
    return "".join(filter(str.isalnum, unicodedata.normalize("NFKC", text)))


def test_a_card_says_all_that_its_tree_says(printed: dict[str, bytes]) -> None:
    guide = load(GUIDE)
    assert guide.settings and guide.operator
    for tree in guide.trees.values():
        pdf = PdfReader(io.BytesIO(printed[f"cards/{tree.audience}/{tree.id}.pdf"]))
        said = letters(" ".join(side.extract_text() for side in pdf.pages))
        wanted = [tree.title, *tree.spec.cautions, *guide.settings.cautions, guide.operator.local_rules]
        for node in tree.spec.nodes.values():
            kind = next(kind for kind in models.KINDS if hasattr(node, kind))
            wanted.append(guide.trees[node.call].title if kind == "call" else getattr(node, kind))
            if isinstance(node, models.Question):
                wanted += [answer.answer for answer in node.answers]
            if isinstance(node, models.Reading):
                wanted += [one.label for one in node.ranges]
            if isinstance(node, models.Step):
                wanted += filter(None, [node.proved_by])
            if isinstance(node, models.Outcome):
                wanted += [*node.say, *node.advice, *filter(None, [node.hand_over, node.not_proven])]
        wanted += [guide.sources[id_].title for id_ in tree.spec.sources]
        missing = [words for words in wanted if letters(Prose.plain(words)) not in said]
        assert missing == [], tree.id


def test_answers_lead_to_the_numbers_of_their_nodes(site: Path, page: Page) -> None:
    page.goto((site / "trees/call/caller-tingle.html").as_uri())
    page.emulate_media(media="print")
    tree = load(GUIDE).trees["caller-tingle"].spec
    entries = {
        node.locator(".ln-card-number").inner_text(): node.inner_text()
        for node in page.locator(".ln-card-node").all()
    }
    assert len(entries) == len(tree.nodes)
    first = tree.nodes[tree.start]
    assert isinstance(first, models.Question)
    lines = list(filter(None, entries["1"].splitlines()))
    assert first.question in lines[0]
    for answer, line in zip(first.answers, lines[1:], strict=True):
        words, number = line.split("→")
        target = tree.nodes[answer.go]
        assert words.strip() == answer.answer
        assert Prose.plain(getattr(target, "question", None) or target.outcome) in entries[number.strip()]


def test_the_same_card_twice_is_the_same_bytes(site: Path, printed: dict[str, bytes]) -> None:
    name, pdf = next(cards(site, programs.browser(), WHEN))
    assert pdf == printed[name]
    assert PdfReader(io.BytesIO(pdf)).metadata.creation_date == WHEN  # type: ignore[union-attr]


def test_on_paper_a_tree_is_its_card_until_a_job_has_begun(site: Path, page: Page) -> None:
    page.goto((site / "trees/site/tingle-on-pipework.html").as_uri())
    expect(page.locator(".ln-card")).to_be_hidden()
    page.emulate_media(media="print")
    expect(page.locator(".ln-card")).to_be_visible()
    expect(page.locator("[data-node]:visible, .ln-foot:visible")).to_have_count(0)
    page.emulate_media(media="screen")
    page.locator("[data-node]:visible a[data-go]").last.click()
    page.emulate_media(media="print")
    expect(page.locator(".ln-card")).to_be_hidden()
    expect(page.locator("[data-node]:visible")).to_have_count(1)
