"""Visits in time as the proof page shows them: how they end, how long they take, and what waiting costs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from build_tools.proof.visit_table import VisitRow
from calc.faults import KINDS

__all__ = ["ShownVisits", "lasting_visits", "passing_visits"]

ALWAYS = "always"


@dataclass(frozen=True, slots=True)
class ShownVisits:
    """One line of a table: the fault, what tells its lines apart, and its figures as they are read."""

    fault: str
    how: str
    visits: str
    closed: str
    closed_beside: str
    hurt: str
    minutes: str
    screens: str
    during: str
    after: str


def lasting_visits(rows: Iterable[VisitRow]) -> list[ShownVisits]:
    """A line for each kind of fault that stays as it is, with perfect access and with the stated chances."""
    return [_shown(row, row.case.access) for row in _in_order(rows) if row.case.law == ALWAYS]


def passing_visits(rows: Iterable[VisitRow]) -> list[ShownVisits]:
    """A line for each kind of fault that comes and goes, by the law of its joint; first as one that stays."""
    rows = list(_in_order(rows))
    passing = {row.case.fault for row in rows if row.case.law != ALWAYS}
    return [
        _shown(row, row.case.law.replace("-", " "))
        for row in sorted(rows, key=lambda row: row.case.law != ALWAYS)
        if row.case.fault in passing and row.case.access == "perfect"
    ]


def _in_order(rows: Iterable[VisitRow]) -> list[VisitRow]:
    kinds = list(KINDS)
    return sorted(rows, key=lambda row: (kinds.index(row.case.fault), row.case.access != "perfect"))


def _shown(row: VisitRow, how: str) -> ShownVisits:
    closed, beside = row.ends["closed"], row.closed_beside_danger
    means = row.means
    return ShownVisits(
        KINDS[row.case.fault].title,
        how,
        f"{row.visits:,}",
        f"{closed.happened / closed.asked:.0%}",
        f"{beside.happened} of {beside.asked}" if beside.asked else "",
        f"{row.hurt.happened}",
        f"{means['seconds'].mean:.0f}",
        f"{means['screens'].mean:.0f}",
        f"{means['touch during'].mean:.2f}",
        f"{means['touch after'].mean:.1f}",
    )
