"""The share of damage to the shipped guide that some check refuses: every mutant, walks included."""

from __future__ import annotations

import time

from build_tools import mutate
from build_tools.bench.builds import GUIDE
from build_tools.bench.row import BenchRow

__all__ = ["measure"]


def measure() -> list[BenchRow]:
    """The share of the whole, and of each kind of damage."""
    began = time.perf_counter()
    report = mutate.run(GUIDE)
    minutes = (time.perf_counter() - began) / 60
    made, left = len(report.verdicts), len(report.unexplained)
    of = f"{made} mutants in {minutes:.1f} minutes on two cores; {left} survive without a reason"
    rows = [BenchRow("damage that a check refuses", 100 * report.refused / made, "at least 98", of, "%")]
    for kind, refused, tried in report.by_kind:
        rows.append(BenchRow(f"  {kind}", 100 * refused / tried, "", f"{refused} of {tried}", "%"))
    return rows
