"""The table of what each test can see: its cells and what was measured of each. Needs no numpy, for pages."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

from build_tools.proof.binomial import bounds
from build_tools.proof.cases import Case
from build_tools.proof.doubts import End
from build_tools.proof.moved import UNMOVED, Corner, Moved, judged

__all__ = ["CURVED", "THRESHOLDS", "WHERE", "AtCorners", "Seen", "SeenAt", "SeenRow", "Sight", "rows_of"]

WHERE = {
    "alone": "at the home, no metalwork shared",
    "sharing": "at the home, metalwork shared",
    "next-door": "next door, on the same metalwork",
}
"""Where the test is made: at the home with the fault (for one in the main, at a home beyond it; on a healthy
street, at any), or at one that shares metalwork with it and that the fault is not in."""

THRESHOLDS = (0, 0.1, 0.2, 0.5, 1, 2, 3, 5, 7.5, 10, 15, 20)
"""Amperes at which the readings of a clamp are parted, for a curve."""

CURVED = ("healthy", "service-pen-open", "mains-pen-open")
"""Kinds of fault for which a curve is kept."""


@dataclass(frozen=True, slots=True, order=True)
class Seen:
    """One cell of the table: a test (id of its procedure), a kind of fault, and where the test is made."""

    test: str
    fault: str
    where: str


@dataclass(frozen=True, slots=True, order=True)
class SeenAt:
    """A cell at one corner: the ends at which spreads are put."""

    cell: Seen
    ends: tuple[End, ...]


AtCorners: TypeAlias = Counter[tuple[Case | SeenAt, str]]
"""For each promise at its corner and each cell at every corner how many streets were `asked`, and for how
many of them it `happened`."""

Sight = Counter[tuple[Seen, str]]
"""For each cell how many streets were `asked`, on how many it `shows`, and for a clamp on how many it reads
from each of THRESHOLDS (`from 0.5`) to the next."""


@dataclass(frozen=True, slots=True)
class SeenRow:
    """One cell measured: streets, on how many the test shows the fault, the exact two-sided 95 % bounds of
    that share, for a clamp how many read from each of THRESHOLDS to the next, how the share `moved` with
    what is judged, and for a joint gone bad, streets and how many show it by its resistance (doubts.OHMS).
    `corner`: of the promises' worst corners the one where the test does worst, and `corner_at` the ends
    there, as places in `Evidence.ends`."""

    test: str
    fault: str
    where: str
    asked: int
    shows: int
    low: float
    high: float
    by_amperes: tuple[int, ...] = ()
    moved: Moved = UNMOVED
    by_joint: tuple[tuple[int, int], ...] = ()
    corner: Corner | None = None
    corner_at: tuple[int, ...] = ()

    @classmethod
    def of(cls, kept: list[Any]) -> SeenRow:
        """The row as it was kept: its values in order. Raises ValueError or TypeError for what is no row."""
        test, fault, where, asked, shows, low, high, by_amperes, *judged = kept
        older: tuple[Any, ...] = (((), ()), (), None, ())  # what evidence of an older program has not
        moved, parts, corner, at = (*judged, *older[len(judged) :])
        joints = tuple((asked, shows) for asked, shows in parts)
        row = cls(test, fault, where, asked, shows, low, high, tuple(by_amperes), Moved.of(moved), joints)
        return replace(row, corner=Corner(*corner) if corner else None, corner_at=tuple(at))

    @property
    def share(self) -> float:
        """The share of streets on which the test shows the fault."""
        return self.shows / self.asked

    @property
    def above(self) -> tuple[float, ...]:
        """The share of streets that read at least each of THRESHOLDS."""
        return tuple(sum(self.by_amperes[place:]) / self.asked for place in range(len(self.by_amperes)))


def rows_of(counts: Sight, sums: Mapping[Any, Sequence[Sequence[int]]] | None = None) -> tuple[SeenRow, ...]:
    """The cells in order, each with its bounds and, from the `sums` of weights, how it moves."""
    return tuple(
        _row(counts, cell, (sums or {}).get(cell, ()))
        for cell, what in sorted(counts)
        if what == "asked" and counts[cell, what]
    )


def _row(counts: Sight, cell: Seen, sums: Sequence[Sequence[int]]) -> SeenRow:
    asked, shows = counts[cell, "asked"], counts[cell, "shows"]
    curved = any((cell, f"from {low:g}") in counts for low in THRESHOLDS)
    by_amperes = tuple(counts[cell, f"from {low:g}"] for low in THRESHOLDS) if curved else ()
    low, high = (round(bound, 6) for bound in bounds(asked, shows, 0.025))
    moved, joints = judged(cell.fault, shows / asked, sums)
    return SeenRow(cell.test, cell.fault, cell.where, asked, shows, low, high, by_amperes, moved, joints)
