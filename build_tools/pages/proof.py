"""The proof page: what the guide promises, over which streets, and the command that shows it again."""

from __future__ import annotations

import platform
import re
from itertools import groupby
from typing import Any

from markupsafe import Markup

from build_tools.explained import explained_file
from build_tools.guide import wording
from build_tools.pages.judged import Judged
from build_tools.pages.page import Book, Page
from build_tools.pages.tests_table import ADDRESS, is_measured
from build_tools.pages.visits_in_time import lasting_visits, passing_visits
from build_tools.proof import evidence
from build_tools.proof.cases import ANY
from build_tools.proof.doubts import CORNER_STREETS
from build_tools.proof.moved import AT_LEAST
from build_tools.review import revisions
from build_tools.setup.environment import REQUIREMENTS, ROOT
from build_tools.setup.result_cache import source_key
from calc.drawing.chart import Axis, Curve, chart_svg
from calc.faults import KINDS
from calc.sampling import SPREADS, Spread

__all__ = ["proof_page"]

_COLUMNS = {
    "no-harm": "Hurt by a step",
    "closed-beside": "Closed beside it",
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
        judged=Judged(sampling, kept),
        at_least=AT_LEAST,
        corner_streets=CORNER_STREETS,
        command=evidence.COMMAND,
        versions=_versions(book),
        ends_page="ends/index.html" if book.guide.streets else "",
        tests_page=ADDRESS if is_measured(guide) else "",
        faults={kind.id: kind.title for kind in KINDS.values()} | {ANY: "Any of these"},
        columns=_COLUMNS,
        details=_DETAILS,
        lasting=lasting_visits(kept.visits),
        passing=passing_visits(kept.visits),
        visited=guide.trees[kept.visits[0].case.tree].title if kept.visits else "",
        pairs=[
            (
                row,
                guide.trees[row.tree].title,
                guide.streets[row.street].title,
                zip(row.kinds, row.examples, strict=True),
            )
            for row in kept.pairs
        ],
        **_explained(book),
        layouts=[
            (layout, [wording.joined(list(phases)) for phases in layout.homes]) for layout in sampling.layouts
        ],
        spreads=[(name, what, _told(sampling.spreads[name])) for name, what in SPREADS.items()],
        sources={name: sampling.spreads[name].source for name in SPREADS},
    )


def _explained(book: Book) -> dict[str, Any]:
    """How well Explain explained fresh streets, with its curve; nothing where that was not measured."""
    found = explained_file.read(book.guide.folder)
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
    return {"explained": measured, "reliability": Markup(drawing), "calibrate": explained_file.COMMAND}


def _versions(book: Book) -> dict[str, str]:
    """What the page was made with."""
    compiler = revisions.state_of(ROOT)
    return {
        "Guide": f"{book.settings.version}, reviewed {book.settings.reviewed}",
        "Git commit": compiler.commit[:12] if compiler else "not known at this build",
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
        doubted = " or ".join(f"{other:.0%}" for other in spread.doubt or ())
        return f"{spread.chance:.0%} of the time" + (f"; could be {doubted}" if doubted else "")
    assert spread.choice is not None
    total = sum(spread.choice.values())
    return ", ".join(f"{name} {weight / total:.0%}" for name, weight in spread.choice.items())
