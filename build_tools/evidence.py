"""The evidence for the promises: measured once, kept in the guide's folder, stale when its grounds change."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from build_tools import walk
from build_tools.findings import Finding, Place
from build_tools.guide import Guide, load
from build_tools.kept import key_of, source_key
from build_tools.proof.count import ANY
from build_tools.shapes import Promise
from build_tools.source import as_given

__all__ = ["COMMAND", "FILE", "Evidence", "Row", "findings_of", "prove", "read"]

FILE = "evidence.json"
COMMAND = "python3 -m build_tools prove"
_PARTS = 2


@dataclass(frozen=True, slots=True)
class Row:
    """One promise, tree and kind of fault: in how many of the streets asked it happened, and the 95 %
    bounds of the share (exact binomial; one-sided, on the side that the promise speaks of)."""

    promise: str
    tree: str
    fault: str
    asked: int
    happened: int
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was measured, and the key of everything that it depends on. `digest` is the rows' own key."""

    grounds: str
    seed: int
    streets: int
    digest: str
    rows: tuple[Row, ...]

    @property
    def is_as_measured(self) -> bool:
        """Nobody has changed a figure since."""
        return self.digest == key_of(self.rows)


def prove(guide: Guide, executor: Executor | None = None) -> Evidence:
    """Measure every promise over the guide's sampling; the same result whatever the executor.

    Any executor of concurrent.futures will do (one for a cluster, such as Dask's `Client.get_executor()`,
    as well), when its workers see the guide's folder. Two processes when none is given.
    """
    assert guide.sampling is not None
    streets = guide.sampling.streets
    parts = [(str(guide.folder), part, _PARTS) for part in range(_PARTS)]
    if executor is None:
        with ProcessPoolExecutor(2) as own:
            counted = list(own.map(_count_part, parts))
    else:
        counted = list(executor.map(_count_part, parts))
    total: dict[tuple[Any, str], int] = {}
    for counts in counted:
        for key, number in counts.items():
            total[key] = total.get(key, 0) + number
    cases = sorted({case for case, _ in total})
    promises = {promise.id: promise for promise in guide.promises}
    rows = tuple(
        Row(
            case.promise,
            case.tree,
            case.fault,
            total[case, "asked"],
            total[case, "happened"],
            *_bounds(promises[case.promise], total[case, "asked"], total[case, "happened"]),
        )
        for case in cases
        if total[case, "asked"]
    )
    return Evidence(grounds(guide), guide.sampling.seed, streets, key_of(rows), rows)


def _count_part(task: tuple[str, int, int]) -> Any:
    from build_tools.proof.count import count

    folder, part, parts = task
    guide = load(folder)
    assert guide.sampling is not None
    return count(guide, range(part, guide.sampling.streets, parts))


def _bounds(promise: Promise, asked: int, happened: int) -> tuple[float, float]:
    """Clopper and Pearson's bounds, one-sided at 95 %; the other side is open."""
    from scipy.stats import beta

    if promise.is_upper:
        return 0.0, 1.0 if happened == asked else float(beta.ppf(0.95, happened + 1, asked - happened))
    return (0.0 if happened == 0 else float(beta.ppf(0.05, happened, asked - happened + 1))), 1.0


def grounds(guide: Guide) -> str:
    """The key of all that evidence depends on: the model, the walks, and what the author wrote."""
    written = [
        (name, file.data)
        for name, file in sorted(guide.files.items())
        if name.startswith("trees/") or name in ("sampling.yaml", "promises.yaml")
    ]
    shared = Path(walk.__file__).read_bytes()
    return key_of(source_key("calc", "build_tools/proof"), shared, written)


def read(guide: Guide) -> Evidence | None:
    """The evidence kept with the guide; None when there is none or it cannot be read."""
    try:
        data = json.loads((guide.folder / FILE).read_text(encoding="utf-8"))
        return Evidence(**{**data, "rows": tuple(Row(**row) for row in data["rows"])})
    except (OSError, ValueError, TypeError, KeyError):
        return None


def write(guide: Guide, evidence: Evidence) -> Path:
    """Keep the evidence with the guide, whole or not at all."""
    path = guide.folder / FILE
    rows = ",\n".join("  " + json.dumps(asdict(row)) for row in evidence.rows)
    head = json.dumps({name: value for name, value in asdict(evidence).items() if name != "rows"})
    aside = path.with_suffix(".json.new")
    aside.write_text(f'{head[:-1]}, "rows": [\n{rows}\n]}}\n', encoding="utf-8")
    aside.replace(path)
    return path


def findings_of(guide: Guide) -> Iterator[Finding]:
    """Evidence that is missing or stale, and promises that it does not bear out."""
    if not guide.promises or guide.sampling is None:
        return
    evidence = read(guide)
    place = Place(as_given(guide.folder / FILE), 1, 1)
    if evidence is None:
        what = "there is no evidence for the promises, or it cannot be read"
        yield Finding("no-evidence", place, what, (), "every promise measured", f"run: {COMMAND}")
        return
    if not evidence.is_as_measured:
        what = "the evidence was changed after it was measured"
        yield Finding(
            "altered-evidence", place, what, (), "the figures of the measurement", f"run: {COMMAND}"
        )
        return
    if evidence.grounds != grounds(guide):
        what = "the evidence is older than the model, a site tree, the sampling or a promise"
        yield Finding("stale-evidence", place, what, (), "evidence for the guide as it is", f"run: {COMMAND}")
        return
    for index, promise in enumerate(guide.promises):
        for row in broken(promise, evidence.rows):
            yield Finding(
                "promise-broken",
                guide.files["promises.yaml"].place((index, "id")),
                f"{promise.id} is not kept by {row.tree} with {row.fault}: {row.happened:,} of {row.asked:,} "
                f"streets, 95 % bound {row.high if promise.is_upper else row.low:.5f}",
                (str(index + 1), "id"),
                f"at most {promise.at_most}" if promise.is_upper else f"at least {promise.at_least}",
                "mend the tree; or, where that cannot be, promise what can be kept and say why",
            )


def broken(promise: Promise, rows: Iterable[Row]) -> Iterator[Row]:
    """The rows that do not bear a promise out. What is promised of calls is promised of all faults together:
    some are noticed too seldom to say much of each."""
    for row in rows:
        if row.promise != promise.id or (promise.audience == "call" and row.fault != ANY):
            continue
        if promise.at_most is not None and row.high > promise.at_most:
            yield row
        if promise.at_least is not None and row.low < promise.at_least:
            yield row
