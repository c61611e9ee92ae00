"""How much of a joint gone bad each test shows, and each tree holds, by the joint's own resistance."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from markupsafe import Markup

from build_tools.proof.detection_table import SeenRow
from build_tools.proof.doubts import OHMS
from build_tools.proof.evidence import Row
from calc.drawing.chart import STROKES, Axis, Curve, chart_svg
from calc.faults import KINDS

__all__ = ["PARTS", "JointTable", "joint_tables"]

PARTS = tuple(f"{low:g} to {high:g}" for low, high in pairwise(OHMS))
"""Ohms between which the joints are parted."""

_FEWEST = 30
"""Streets of which a share is told."""

_SHOWN = 0.05
"""A test that shows less at every size is left out."""

Counted = Sequence[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class JointTable:
    """One kind of bad joint: a share for each of PARTS (none where too few streets tell) by test at the home
    (letter of its curve, address, title), and by tree that holds it."""

    fault: str
    title: str
    tests: tuple[tuple[str, str, str, tuple[float | None, ...]], ...]
    trees: tuple[tuple[str, tuple[float | None, ...]], ...]
    curve: Markup


def joint_tables(
    seen: Iterable[SeenRow],
    rows: Iterable[Row],
    titles: Mapping[str, str],
    drawn: Collection[str],
    held_by: Collection[str],
    trees: Mapping[str, str],
) -> list[JointTable]:
    """A table for each kind of bad joint that was measured; `titles` of the tests, `trees` by id. Of the
    tests in `drawn` those that show most are drawn as curves; the promises in `held_by` tell which joints the
    trees hold."""
    seen, rows = tuple(seen), tuple(rows)
    tables = []
    for kind in KINDS.values():
        here = [row for row in seen if row.fault == kind.id and row.where != "next-door" and row.by_joint]
        if not here:
            continue
        by_test = {
            test: _shares(_together([row.by_joint for row in here if row.test == test])) for test in titles
        }
        told = {
            test: shares for test, shares in by_test.items() if max(filter(None, shares), default=0) >= _SHOWN
        }
        best = sorted(told, key=lambda test: -sum(filter(None, told[test])))
        held = tuple(
            (trees[row.tree], _shares(row.by_joint))
            for row in rows
            if row.promise in held_by and row.fault == kind.id and not row.detail and row.by_joint
        )
        letters = dict(zip((test for test in best if test in drawn), "ABCDEFG"[: len(STROKES)], strict=False))
        curves = [(letter, titles[test], told[test]) for test, letter in letters.items()]
        tables.append(
            JointTable(
                kind.id,
                kind.title,
                tuple((letters.get(test, ""), test, titles[test], told[test]) for test in best),
                held,
                Markup(_curve(kind.id, kind.title, curves) if curves else ""),
            )
        )
    return tables


def _together(counts: Sequence[Counted]) -> Counted:
    """The counts of several places, added up."""
    return [
        (sum(asked for asked, _ in part), sum(so for _, so in part)) for part in zip(*counts, strict=True)
    ]


def _shares(counts: Counted) -> tuple[float | None, ...]:
    return tuple(so / asked if asked >= _FEWEST else None for asked, so in counts)


def _curve(name: str, title: str, drawn: Sequence[tuple[str, str, tuple[float | None, ...]]]) -> str:
    middles = [math.sqrt(low * high) for low, high in pairwise(OHMS)]
    curves = [
        Curve(
            of, tuple((ohm, share) for ohm, share in zip(middles, shares, strict=True) if share is not None)
        )
        for of, _, shares in drawn
    ]
    said = "; ".join(
        f"{curve.of}, {of}: " + ", ".join(f"{share:.0%} at {ohm:.2g} ohm" for ohm, share in curve.points)
        for curve, (_, of, _) in zip(curves, drawn, strict=True)
    )
    return chart_svg(
        f"joint-{name}",
        f"{title}: what shows it",
        f"Share of streets on which a test shows it, by the joint's resistance. {said}.",
        Axis("ohm in the joint", OHMS[0], OHMS[-1], (0.02, 0.1, 0.5, 2, 10), log=True),
        Axis("share of streets", 0, 1, (0, 0.25, 0.5, 0.75, 1)),
        [curve for curve in curves if curve.points],
    )
