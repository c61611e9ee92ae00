"""Pages of words: their figures can be made, their terms are known, their text can be read."""

from __future__ import annotations

from pathlib import Path

import pytest

from build_tools.checks import pages
from build_tools.guide.findings import text_report

FIGURE = '{{ reading street="short-row" fault="service-pen-open@14" at="12" test="clamp-main-earth" }}'


def found(guide):
    return [f"{f.place}: {f.check}: {f.what}" for f in pages.check(guide, ())]


def test_a_page_in_order_has_no_findings(small_guide):
    text = f"# Why\n\nA [[PEN]], a [[pen|conductor]], a [[combined neutral\nand earth]]: {FIGURE}.\n"
    assert found(small_guide.write("pages/why.md", text).sound()) == []


def test_unknown_terms_are_told_where_they_stand(small_guide):
    small_guide.write("pages/deep/why.md", "# Why\n\nA [[PEN]] and a [[bond]].\n\nA [[combined\nneutral]].\n")
    small_guide.write("pages/also.md", "A [[PENN|wire]].")
    assert found(small_guide.sound()) == [
        "pages/also.md:1:3: unknown-term: the glossary does not know `PENN` - did you mean `PEN`?",
        "pages/deep/why.md:3:17: unknown-term: the glossary does not know `bond`",
        "pages/deep/why.md:5:3: unknown-term: the glossary does not know `combined neutral`"
        " - did you mean `combined neutral and earth`?",
    ]


def test_a_mark_of_direction_is_told_by_its_name(small_guide):
    """By Unicode's names (UAX 44) and its list of Bidi_Control (UAX 9), which other tools warn of too."""
    small_guide.write("pages/why.md", "# Why\n\nDo \u2067not\u2069 touch.\n")
    assert found(small_guide.sound()) == [
        "pages/why.md:3:4: control-character: RIGHT-TO-LEFT ISOLATE (U+2067) stands in the text",
        "pages/why.md:3:8: control-character: POP DIRECTIONAL ISOLATE (U+2069) stands in the text",
    ]


def test_a_figure_that_cannot_be_made_is_told_where_it_stands(small_guide):
    wrong = FIGURE.replace("short-row", "short-raw")
    guide = small_guide.write("pages/why.md", f"# Why\n\n{FIGURE} and {wrong}\n").sound()
    (finding,) = pages.check(guide, ())
    assert (finding.place.line, finding.place.column) == (3, len(FIGURE) + 6)
    assert text_report([finding]) == (
        f"{finding.place}: figure: no street is called `short-raw` - did you mean `short-row`?\n"
        "  expected a figure that the model can make\n"
        "  mend: write one of: short-row"
    )


def test_a_figure_written_over_two_lines_is_one_figure(small_guide):
    guide = small_guide.write("pages/why.md", "\n" + FIGURE.replace(" at=", "\n  at=")).sound()
    assert found(guide) == []
    guide = small_guide.write("pages/why.md", "\n" + FIGURE.replace(' at="12"', '\n  at="13"')).sound()
    assert found(guide) == ["pages/why.md:2:1: figure: no home is called `13`"]


def test_a_page_that_is_not_utf_8_is_told_once(small_guide):
    Path("pages").mkdir()
    Path("pages/why.md").write_bytes(b"# Why\n\n240 \xb5V, [[bond]] {{ reading }}\n")
    (finding,) = pages.check(small_guide.sound(), ())
    assert str(finding.place) == "pages/why.md:1:1"
    assert finding.check == "not-utf-8"
    assert finding.what == "this page is not UTF-8 text: invalid start byte at byte 11"
    assert finding.expected
    assert finding.mend


def test_a_broken_glossary_leaves_terms_alone(small_guide):
    small_guide.edit("glossary.yaml", "meaning:", "meening:").write("pages/why.md", "[[bond]] {{ limit }}")
    assert found(small_guide.load()) == ["pages/why.md:1:10: figure: this figure lacks `id`"]


def test_a_page_full_of_mistakes_tells_the_first(small_guide):
    findings = list(pages.check(small_guide.write("pages/why.md", "[[bond]]\n" * 500).sound(), ()))
    assert len(findings) == 21
    assert findings[-1].check == "more"


@pytest.mark.parametrize("text", ["", "[PEN] [[]] [x](y) { } }}", "\n\n"])
def test_what_is_neither_figure_nor_term_is_left_alone(small_guide, text):
    assert found(small_guide.write("pages/why.md", text).sound()) == []
