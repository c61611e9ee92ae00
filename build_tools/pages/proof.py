"""The proof page: what the guide promises, over which streets, and the command that shows it again."""

from __future__ import annotations

import platform
import re
import subprocess
from itertools import groupby
from shutil import which
from typing import Any

from markupsafe import Markup

from build_tools import evidence
from build_tools.environment import REQUIREMENTS
from build_tools.explained import kept
from build_tools.kept import ROOT, source_key
from build_tools.pages import words
from build_tools.pages.page import Book, Page
from build_tools.pages.tests_table import ADDRESS, is_measured
from build_tools.proof.cases import ANY
from calc.bands import SPREADS, Spread
from calc.drawing.chart import Axis, Curve, chart_svg
from calc.faults import KINDS

__all__ = ["proof_page"]

_COLUMNS = {
    "no-harm": "Hurt or closed beside it",
    "robust": "Hurt or closed beside it, by one mistake",
    "found": "Left open",
    "elsewhere": "Left open",
    "useful": "Could be closed",
    "heard": "Given it",
    "calm": "Made an emergency",
}
_DETAILS = {
    "robust": "The wrong answers that hurt, by node:",
    "useful": "What the streets that could not be closed came to:",
}


def proof_page(book: Book) -> Page | None:
    """The page, regenerated from the evidence; None for a guide that promises nothing."""
    guide = book.guide
    kept = evidence.current(guide)
    if not guide.promises or guide.sampling is None or kept is None:
        return None
    sampling = guide.sampling
    shown = [
        (
            promise,
            [
                (guide.trees[tree].title, book.tree_address(guide.trees[tree]), list(rows))
                for tree, rows in groupby(
                    (row for row in kept.rows if row.promise == promise.id), key=lambda row: row.tree
                )
            ],
        )
        for promise in guide.promises
    ]
    return book.page(
        "proof.html",
        "proof.html",
        "Proof",
        promises=shown,
        evidence=kept,
        command=evidence.COMMAND,
        versions=_versions(book),
        ends_page="ends/index.html" if book.guide.streets else "",
        tests_page=ADDRESS if is_measured(guide) else "",
        faults={kind.id: kind.title for kind in KINDS.values()} | {ANY: "Any of these"},
        columns=_COLUMNS,
        details=_DETAILS,
        **_explained(book),
        layouts=[
            (layout, [words.joined(list(phases)) for phases in layout.homes]) for layout in sampling.layouts
        ],
        spreads=[(name, what, _told(sampling.spreads[name])) for name, what in SPREADS.items()],
        sources={name: sampling.spreads[name].source for name in SPREADS},
    )


def _explained(book: Book) -> dict[str, Any]:
    """How well Explain explained fresh streets, with its curve; nothing where that was not measured."""
    found = kept.read(book.guide.folder)
    if found is None:
        return {"explained": None}
    measured = found["calibration"]
    rows = [row for row in measured["reliability"] if row["said"]]
    curve = [(row["mean"], row["right"] / row["said"]) for row in rows]
    bounds = [[(row["mean"], row[end]) for row in rows] for end in ("least", "most")]
    share = (0, 0.25, 0.5, 0.75, 1)
    drawing = chart_svg(
        "reliability",
        "Said and right",
        "; ".join(f"said {said:.0%}, right {right:.0%}" for said, right in curve) + ".",
        Axis("probability said", 0, 1, share),
        Axis("share that was right", 0, 1, share),
        (
            Curve("what was right", tuple(curve)),
            Curve("95 % bounds, lower", tuple(bounds[0])),
            Curve("95 % bounds, upper", tuple(bounds[1])),
            Curve("as it should be", ((0, 0), (1, 1))),
        ),
    )
    return {"explained": measured, "reliability": Markup(drawing), "calibrate": kept.COMMAND}


def _versions(book: Book) -> dict[str, str]:
    """What the page was made with."""
    asked = ["git", "-C", str(ROOT), "rev-parse", "--short=12", "HEAD"]
    commit = subprocess.run(asked, capture_output=True, text=True).stdout.strip() if which("git") else ""
    return {
        "Guide": f"{book.settings.version}, reviewed {book.settings.reviewed}",
        "Git commit": commit or "not known at this build",
        "Python": platform.python_version(),
        "numpy": _locked("numpy"),
        "Model's source (key of calc)": source_key("calc"),
    }


def _locked(package: str) -> str:
    """The version that a measurement is made with; a build is set up without it."""
    lock = (REQUIREMENTS / "test.txt").read_text(encoding="utf-8")
    found = re.search(rf"^{re.escape(package)}==(\S+)", lock, re.MULTILINE)
    return found[1] if found else "not known"


def _told(spread: Spread) -> str:
    """A spread in words."""
    if spread.uniform is not None:
        return f"{spread.uniform[0]:g} to {spread.uniform[1]:g}, evenly"
    if spread.log_uniform is not None:
        return f"{spread.log_uniform[0]:g} to {spread.log_uniform[1]:g}, evenly by ratio"
    if spread.chance is not None:
        return f"{spread.chance:.0%} of the time"
    assert spread.choice is not None
    total = sum(spread.choice.values())
    return ", ".join(f"{name} {weight / total:.0%}" for name, weight in spread.choice.items())
