"""Speed and size, each as a ratio to something measured in the same run.

Nothing here passes or fails by the clock: the table is for people, and the limit beside each figure says
what the project aims for.
"""

from __future__ import annotations

import os
from collections.abc import Iterable

from build_tools.bench.row import BenchRow, NotMeasured
from build_tools.setup import progress
from build_tools.setup.progress import say, tell

__all__ = ["main"]


def main() -> int:
    """Measure everything on one thread and print one table; 1 when something could not be measured."""
    os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}  # before numpy is there
    from build_tools.bench import batch, broken_files, builds, mutants, page_weight, solving

    rows: list[BenchRow] = []
    missing = 0
    measured = (
        ("the circuit", solving.measure),
        ("many streets at once", batch.measure),
        ("check and build", builds.measure),
        ("pages in a browser", page_weight.measure),
        ("damage to the guide, some minutes", mutants.measure),
        ("broken files, some minutes", broken_files.measure),
    )
    with progress.work("measuring", len(measured)) as doing:
        for title, measure in measured:
            tell(f"measuring {title}")
            doing.now(title)
            try:
                rows += measure()
            except NotMeasured as why:
                say(f"{title}: not measured: {why}")
                missing = 1
            doing.step()
    print(_table(rows))
    return missing


def _table(rows: Iterable[BenchRow]) -> str:
    lines = [("what", "figure", "aim", "of what"), *((r.what, r.shown, r.aim, r.of) for r in rows)]
    widths = [max(len(line[i]) for line in lines) for i in range(3)]
    return "\n".join(
        f"{what:{widths[0]}}  {figure:>{widths[1]}}  {aim:{widths[2]}}  {of}"
        for what, figure, aim, of in lines
    )
