"""Sources, cautions, dates and words of the glossary."""

from __future__ import annotations

import pytest

from build_tools.checks import content


def found(guide):
    return [f"{f.place}: {f.check}: {f.what}" for f in content.check(guide, ())]


def test_the_small_guide_is_in_order(small_guide):
    assert found(small_guide.sound()) == []


@pytest.mark.parametrize(
    ("file", "old", "new", "finding"),
    [
        (
            "trees/site/main-earth.yaml",
            "sources: [crews]",
            "sources: [crews, crew]",
            "trees/site/main-earth.yaml:5:18: unknown-source: no source is called `crew`"
            " - did you mean `crews`?",
        ),
        (
            "streets/short-row.yaml",
            "title: Two homes and a pipe",
            "title: Two homes\nsources: [nobody]",
            "streets/short-row.yaml:2:11: unknown-source: no source is called `nobody`",
        ),
        (
            "streets/short-row.yaml",
            "title: Two homes and a pipe",
            "title: Two homes\nreview_by: 2026-06-31",
            "streets/short-row.yaml:2:12: shape: review_by is `2026-06-31`",
        ),
        (
            "trees/call/tingle-told.yaml",
            "review_by: 2099-01-01",
            "review_by: 2026-06-30",
            "trees/call/tingle-told.yaml:4:12: review-past: the review was due on 2026-06-30,"
            " and today is 2026-07-01",
        ),
        (
            "guide.yaml",
            "reviewed: 2026-06-01",
            "reviewed: 2026-07-02",
            "guide.yaml:3:11: reviewed-in-future: the guide was reviewed on 2026-07-02,"
            " and today is 2026-07-01",
        ),
        (
            "guide.yaml",
            "cautions:\n  - For trained and authorised people. Local safety rules come first.\n",
            "cautions: []\n",
            "guide.yaml:4:1: no-cautions: the guide has no cautions",
        ),
        (
            "guide.yaml",
            "source: flesch",
            "source: nobody",
            "guide.yaml:6:38: unknown-source: no source is called `nobody`",
        ),
    ],
)
def test_what_is_not_backed_or_current(small_guide, file, old, new, finding):
    assert found(small_guide.edit(file, old, new).sound()) == [finding]


def test_a_review_due_today_is_not_past(small_guide):
    small_guide.edit("trees/call/tingle-told.yaml", "review_by: 2099-01-01", "review_by: 2026-07-01")
    assert found(small_guide.sound()) == []


@pytest.mark.parametrize("term", ["PEN", "pen", "combined neutral and earth", "PEN|the combined conductor"])
def test_terms_are_known_by_any_spelling(small_guide, term):
    small_guide.edit("trees/site/main-earth.yaml", "[[PEN]]", f"[[{term}]]")
    assert found(small_guide.sound()) == []


def test_an_unknown_term_is_told_with_its_neighbour(small_guide):
    small_guide.edit("trees/site/main-earth.yaml", "[[PEN]]", "[[PENN]]")
    assert found(small_guide.sound()) == [
        "trees/site/main-earth.yaml:10:11: unknown-term: the glossary does not know `PENN`"
        " - did you mean `PEN`?",
    ]


def test_a_broken_glossary_is_told_once(small_guide):
    guide = small_guide.edit("glossary.yaml", "meaning:", "meening:").load()
    assert len(guide.findings) == 1
    assert found(guide) == []
