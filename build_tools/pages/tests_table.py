"""What each test of the guide can and cannot see: the measured table, and the links to it from the trees."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from markupsafe import Markup

from build_tools.guide import wording
from build_tools.guide.findings import Place
from build_tools.guide.trees import Guide
from build_tools.pages.joint_curve import PARTS, joint_tables
from build_tools.pages.judged import Judged
from build_tools.pages.page import Book, Page
from build_tools.pages.share_curve import Line, curve_svg
from build_tools.proof import evidence
from build_tools.proof.detection_table import CURVED, THRESHOLDS, WHERE, SeenRow
from build_tools.proof.moved import AT_LEAST
from build_tools.proof.procedures import HOME_KINDS, How, Procedure, procedures
from calc.faults import HEALTHY, KINDS
from calc.instruments import INSTRUMENTS, LIGHTS_FROM

__all__ = ["ADDRESS", "DONE", "HEADS", "fault_title", "is_measured", "share", "sight_page", "what_it_sees"]

ADDRESS = "proof-tests.html"

DONE = {
    "home-quiet": "little else on",
    "known-load-on": "the known load on",
    "main-earth-lifted": "the main earth lifted",
    "main-switch-open": "the home switched off",
}
"""Conditions of calc.work in words."""

HEADS = {"alone": "Here, no shared pipe", "sharing": "Here, shared pipe", "next-door": "Next door"}
"""Heads of the columns, for each of WHERE."""

LINES = (
    ("healthy street, shared pipe", "healthy", "sharing"),
    ("at the home with its PEN open", "service-pen-open", "sharing"),
    ("next door to it", "service-pen-open", "next-door"),
    ("past a break in the main's PEN", "mains-pen-open", "sharing"),
)
"""The curves that are drawn: words, fault, where."""

LOOP = How("loop", ("line", "earth")).id
EYES = How("eyes", ("main_earth",)).id
PAIR = How("clamp", ("neutral_tail", "main_earth"), ("home-quiet", "known-load-on")).id

Cells = Mapping[tuple[str, str, str], SeenRow]


@dataclass(frozen=True, slots=True)
class ShownTest:
    """One test as the page shows it: what is usual, the trees that ask for it, and its rows by fault."""

    test: Procedure
    title: str
    usual: str
    trees: tuple[tuple[str, str], ...]  # title, address
    rows: tuple[tuple[str, tuple[SeenRow | None, ...]], ...]  # fault, a cell for each of WHERE
    curve: Markup
    lines: tuple[Line, ...]
    moving: tuple[tuple[str, str], ...]  # fault and place, what moves the figure there
    unknown: str
    worst: tuple[tuple[str, str], ...]  # the ends at a corner, the cells that do worst there


def is_measured(guide: Guide) -> bool:
    """Whether there is a table to show."""
    kept = evidence.current(guide)
    return guide.sampling is not None and kept is not None and bool(kept.seen)


def what_it_sees(guide: Guide) -> dict[Place, str]:
    """For every node that tests, where the site tells what the test can see; empty before it is measured."""
    if not is_measured(guide):
        return {}
    return {
        guide.trees[tree].nodes[node].place: f"{ADDRESS}#{test.id}"
        for test in procedures(guide).values()
        for tree, node in test.nodes
    }


def sight_page(book: Book) -> Page | None:
    """The page, made from the evidence; None before it is measured."""
    kept = evidence.current(book.guide)
    if not is_measured(book.guide) or kept is None or book.guide.sampling is None:
        return None
    cells = {(row.test, row.fault, row.where): row for row in kept.seen}
    tests = procedures(book.guide)
    judged = Judged(book.guide.sampling, kept)
    shown = [_shown(book, test, cells, judged) for test in tests.values()]
    return book.page(
        "tests_table.html",
        ADDRESS,
        "What each test can and cannot see",
        about="How often every test of the guide shows every kind of fault, here and next door.",
        evidence=kept,
        command=evidence.COMMAND,
        heads=[HEADS[where] for where in WHERE],
        used=[one for one in shown if one.test.nodes],
        unused=[one for one in shown if not one.test.nodes],
        best=_best(tests, cells),
        thresholds=THRESHOLDS,
        cell=lambda *key: cells.get(key),
        ids={"loop": LOOP, "eyes": EYES, "pair": PAIR},
        share=share,
        bounds=_bounds,
        judged=judged,
        at_least=AT_LEAST,
        joints=joint_tables(
            kept.seen,
            kept.rows,
            {test.id: _title(test.how) for test in tests.values()},
            [test.id for test in _usable(tests)],
            [promise.id for promise in book.guide.promises if promise.kind == "found"],
            {tree.id: tree.title for tree in book.guide.trees.values()},
        ),
        parts=PARTS,
    )


def _shown(book: Book, test: Procedure, cells: Cells, judged: Judged) -> ShownTest:
    faults = [
        kind.id for kind in KINDS.values() if any((test.id, kind.id, where) in cells for where in WHERE)
    ]
    trees = {tree: book.guide.trees[tree] for tree, _ in test.nodes}
    lines = tuple(
        Line(of, cells[test.id, fault, where].above)
        for of, fault, where in LINES
        if fault in CURVED and test.how.instrument == "clamp" and (test.id, fault, where) in cells
    )
    title = _title(test.how)
    ends = {end for low, high in test.usual for end in (low, high) if 0 < end < math.inf}
    curve = curve_svg(f"curve-{test.id}", title, THRESHOLDS, lines, sorted(ends)) if lines else ""
    return ShownTest(
        test,
        title,
        _usual(book.guide, test),
        tuple((tree.title, book.tree_address(tree)) for tree in book.in_order(trees.values())),
        tuple(
            (fault_title(fault), tuple(cells.get((test.id, fault, where)) for where in WHERE))
            for fault in faults
        ),
        Markup(curve),
        lines,
        tuple(
            (f"{fault_title(fault)}, {HEADS[where].lower()}", said)
            for fault in faults
            for where in WHERE
            if (test.id, fault, where) in cells and (said := judged.by_spread(cells[test.id, fault, where]))
        ),
        judged.unknown(row for (id_, _, _), row in cells.items() if id_ == test.id),
        _worst([row for (id_, _, _), row in cells.items() if id_ == test.id], judged),
    )


def _worst(rows: list[SeenRow], judged: Judged) -> tuple[tuple[str, str], ...]:
    """Each corner at which some cells of a test do worst, and those cells."""
    at: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        if row.corner:
            at[judged.worst(row)].append(f"{fault_title(row.fault)}, {HEADS[row.where].lower()}")
    return tuple((ends, "; ".join(there)) for ends, there in at.items())


def fault_title(kind: str) -> str:
    return "Nothing wrong: false alarm" if kind == HEALTHY.kind else KINDS[kind].title


def _title(how: How) -> str:
    """How the test is made, in words."""
    if how.instrument == "eyes":
        said = f"By eye, along {wording.joined([wording.place(name) for name in how.on])}"
    else:
        said = f"{INSTRUMENTS[how.instrument].title} {wording.conductors(how.instrument, how.on)}"
    done = [DONE[name] for name in how.conditions]
    return f"{said}, with {wording.joined(done)}" if done else said


def _usual(guide: Guide, test: Procedure) -> str:
    """The displays with which a job can still be closed, in words."""
    if test.fact:
        tree, node = test.nodes[0]
        exits = guide.trees[tree].nodes[node].exits
        said = [f"“{exit_.label}”" for exit_ in exits if exit_.is_ in test.words]
        return f"The job goes on with {wording.joined(said, 'or')}."
    if test.how.instrument in LIGHTS_FROM:
        return "Usual is that it stays dark."
    if test.usual == ((0.0, math.inf),):
        return "No figure of it alone stops the job."
    unit = INSTRUMENTS[test.how.instrument].unit
    said = [wording.range_words(low, high, unit) for low, high in test.usual]
    return f"{'The job goes on with' if test.nodes else 'Usual is'} {wording.joined(said, 'or')}."


def _best(
    tests: Mapping[str, Procedure], cells: Cells
) -> list[tuple[str, tuple[tuple[str, str, SeenRow] | None, ...]]]:
    """For each fault and each of WHERE the test of the trees that shows it most often, the first of equals;
    none where none does more often than it alarms on healthy streets. Tests that need an earth lifted are
    left out: nobody lifts one to find a fault."""
    usable = _usable(tests)

    def best(fault: str, where: str) -> tuple[str, str, SeenRow] | None:
        rows = [(test, cells[test.id, fault, where]) for test in usable if (test.id, fault, where) in cells]
        telling = [(test, row) for test, row in rows if row.low > _false_alarms(cells, row)]
        if not telling:
            return None
        test, row = max(telling, key=lambda one: one[1].share)
        return test.id, _title(test.how), row

    faults = [
        kind for kind in KINDS.values() if kind.endangers and any(kind.id == fault for _, fault, _ in cells)
    ]
    return [(kind.title, tuple(best(kind.id, where) for where in WHERE)) for kind in faults]


def _usable(tests: Mapping[str, Procedure]) -> list[Procedure]:
    """The tests of the trees that are made at most homes and for which no earth is lifted."""
    usable = (test for test in tests.values() if test.nodes and HOME_KINDS[0] in test.limits)
    return [test for test in usable if "main-earth-lifted" not in test.how.conditions]


def _false_alarms(cells: Cells, row: SeenRow) -> float:
    """The upper bound of the share of healthy homes with the same alarm, metalwork shared or not as there."""
    healthy = cells.get((row.test, HEALTHY.kind, "alone" if row.where == "alone" else "sharing"))
    return healthy.high if healthy else 1.0


def share(row: SeenRow) -> str:
    """A share as it is printed: 0 and 100 % only where they are exact."""
    if row.shows in (0, row.asked):
        return f"{row.share:.0%}".replace("%", " %")
    return f"{min(max(row.share, 0.001), 0.999):.1%}".replace("%", " %")


def _bounds(row: SeenRow) -> str:
    return f"{row.low * 100:.1f} to {row.high * 100:.1f}"
