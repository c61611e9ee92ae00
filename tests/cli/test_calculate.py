"""A calculator asked from the terminal, and one more calculator that costs one file."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from pathlib import Path

import pytest
from test_calculator_page import CALCULATOR

from build_tools.cli import calculate
from build_tools.cli.command_line import main
from build_tools.guide import loading
from build_tools.setup.environment import ROOT
from calc.calculators import CALCULATORS

SMALL = ROOT / "tests" / "guides" / "small"
WRONG = {
    "lost-neutrl": "did you mean `lost-neutral`?",
    "lost-neutral electrode_ohms=3": "did you mean `electrode_ohm`",
    "lost-neutral 20": "write key=value",
    "lost-neutral electrode_ohm=3 electrode_ohm=4": "given twice",
    "lost-neutral electrode_ohm=-3": "cannot be below zero",
    "lost-neutral electrode_ohm=nan": "is not a number",
    "one-street street=nowhere": "Choose one of these",
}


@pytest.mark.parametrize("words", WRONG)
def test_what_cannot_be_asked_is_told_kindly(words: str, capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["--guide", str(SMALL), "calculate", *words.split()]) == 2
    out, err = capfd.readouterr()
    assert out == "" and WRONG[words] in err and "Traceback" not in err


def test_the_forms_of_an_answer_hold_the_same_figures(capfd: pytest.CaptureFixture[str]) -> None:
    asked = ["--guide", str(SMALL), "calculate", "volts-within-limits", "volts=254,5"]
    shown = {}
    for form in ([], ["--json"], ["--csv"]):
        assert main([*asked, *form]) == 0
        shown["".join(form)] = capfd.readouterr().out
    whole = json.loads(shown["--json"])
    cells = [cell for table in whole["tables"] for row in table["rows"] for cell in row["cells"]]
    lines = list(csv.DictReader(io.StringIO(shown["--csv"])))
    figures = [line["value"] for line in lines if line["part"] not in ("Input", "Summary", "Warning")]
    assert figures == cells and "254.5 V" in cells
    assert all(cell in shown[""] for cell in cells)
    assert whole["inputs"]["Volts, line to neutral"] == "254,5 V"


def test_one_more_calculator_is_asked_and_listed_without_another_file(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from build_tools.pages.page import Book
    from build_tools.pages.sections import sections

    monkeypatch.setitem(CALCULATORS, "trial", CALCULATOR)
    small = loading.load(Path(SMALL), date(2026, 7, 1))
    assert calculate.ask("trial", ["amps=2", "ohms=3"], small).answer.summary[0].startswith("6.000 V")
    listed = next(
        section
        for section in sections(Book(small, small.settings, small.operator))
        if section.title == "Calculators"
    )
    assert "trial.html" in str(listed.pages[0].html)
    page = next(page for page in listed.pages if page.address == "calculators/trial.html")
    assert "What the clamp shows." in str(page.html)
