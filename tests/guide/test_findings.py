"""Findings as an author reads them, and as a program does."""

from __future__ import annotations

import json

from build_tools.guide.findings import Finding, Hop, Place, json_report, nearest, shown, text_report


def test_the_report_shows_line_caret_way_and_mend(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "tree.yaml").write_text("ranges:\n  - {from: 0.8, label: current is flowing}\n")
    place = Place("tree.yaml", 2, 12)
    hops = (Hop(Place("tree.yaml", 1, 1), "first"),)
    finding = Finding(
        "range-gap", place, "nothing covers it", ("ranges", "1", "from"), "0.5: or else", "do so", hops
    )
    assert text_report([finding]) == (
        "tree.yaml:2:12: range-gap: nothing covers it\n"
        "  ranges > 1 > from\n"
        "  1 | ranges:\n"
        "  2 |   - {from: 0.8, label: current is flowing}\n"
        "    |            ^^^ expected 0.5: or else\n"
        "  the way there:\n"
        "    tree.yaml:1:1: first\n"
        "  mend: do so"
    )


def test_findings_come_in_order_of_place_and_once():
    later, sooner = (Finding("x", Place("a.yaml", line, 1), "same") for line in (10, 9))
    report = text_report([later, sooner, later])
    assert report.splitlines() == ["a.yaml:9:1: x: same", "", "a.yaml:10:1: x: same"]


def test_json_holds_all_that_the_text_does():
    finding = Finding("x", Place("ä.yaml", 3, 4), "what", ("a", "1"), "e", "m", (Hop(Place("b", 1, 2), "h"),))
    assert json.loads(json_report([finding])) == {
        "findings": [
            {
                "check": "x",
                "file": "ä.yaml",
                "line": 3,
                "column": 4,
                "what": "what",
                "path": ["a", "1"],
                "expected": "e",
                "mend": "m",
                "hops": [{"file": "b", "line": 1, "column": 2, "what": "h"}],
            }
        ]
    }


def test_what_an_author_wrote_cannot_reach_the_terminal_as_a_command():
    assert shown("a\x1b[31m\nb") == "`a\N{REPLACEMENT CHARACTER}[31m b`"
    assert len(shown("x" * 1000)) < 70


def test_nearest_names():
    assert nearest("clamp-main-erth", ["clamp-main-earth", "lift"]) == " - did you mean `clamp-main-earth`?"
    assert nearest("pen", ["PEN", "earth"]) == " - did you mean `PEN`?"
    assert nearest("x", ["clamp", "lift"]) == ""
