"""The evidence for the promises: measured once, kept in the guide's folder, stale when its grounds change."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import asdict, astuple, dataclass, replace
from pathlib import Path
from typing import Any, cast

from build_tools import walk
from build_tools.binomial import bounds
from build_tools.findings import Finding, Hop, Place
from build_tools.guide import Guide, load
from build_tools.kept import ROOT, key_of, source_key
from build_tools.proof.cases import ANY, Case, Counts
from build_tools.proof.seen import Seen, SeenRow, Sight, rows_of
from build_tools.shapes import Promise
from build_tools.source import as_given
from calc.faults import KINDS

__all__ = [
    "COMMAND",
    "FILE",
    "STALE",
    "WORDS_OF_NODES",
    "Evidence",
    "Part",
    "Row",
    "count_part",
    "current",
    "findings_of",
    "merge",
    "prove",
    "read",
    "write",
    "write_part",
]

FILE = "evidence.json"
COMMAND = "python3 -m build_tools prove"
STALE = "stale-evidence"
_PARTS = 2

MODEL = (
    "bands", "circuit", "conductor", "danger", "faults", "instruments", "limits", "readings", "street",
    "symptoms", "work",
)  # fmt: skip
"""The modules of calc that evidence depends on; the others only ask and show."""

_WORDS_OF_TREES = frozenset({"title", "about", "review_by", "sources", "heard_as", "cautions"})
WORDS_OF_NODES = frozenset(
    {"question", "reading", "step", "outcome", "help", "say", "advice", "hand_over", "not_proven"}
)
"""What no walk takes: it is read, and leads nowhere."""

Counted = Counter[tuple[Case | Seen, str]]
"""What is counted over drawn streets: the cases of promises, and what each test shows."""


@dataclass(frozen=True, slots=True)
class Row:
    """One case of proof.cases: in how many of the streets asked it happened, and the 95 % bounds of the share
    (exact binomial; one-sided, on the side that the promise speaks of). A detail is told and not judged."""

    promise: str
    tree: str
    fault: str
    detail: str
    asked: int
    happened: int
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was measured, and the key of everything that it depends on. `digest` is the own key of the rows
    and of what each test shows (`seen`)."""

    grounds: str
    seed: int
    streets: int
    digest: str
    rows: tuple[Row, ...]
    seen: tuple[SeenRow, ...] = ()

    @property
    def is_as_measured(self) -> bool:
        """Nobody has changed a figure since."""
        return self.digest == key_of(self.rows, self.seen)


@dataclass(frozen=True, slots=True, order=True)
class Part:
    """One of so many parts of the drawn streets, from 1 up. Raises ValueError for one that there is not."""

    number: int
    of: int

    def __post_init__(self) -> None:
        if not 1 <= self.number <= self.of:
            raise ValueError(f"there is no part {self}: of {self.of} parts, the last is {self.of}/{self.of}")

    def __str__(self) -> str:
        return f"{self.number}/{self.of}"

    @classmethod
    def parse(cls, text: str) -> Part:
        """A part as written, `3/8`. Raises ValueError."""
        number, _, of = text.partition("/")
        if not (number.isdecimal() and of.isdecimal() and int(of)):
            raise ValueError(f"write a part as 3/8, not {text!r}")
        return cls(int(number), int(of))

    @classmethod
    def all(cls, of: int) -> list[Part]:
        """Every part."""
        return [cls(number, of) for number in range(1, of + 1)]


def prove(guide: Guide, executor: Executor | None = None) -> Evidence:
    """Measure every promise over the guide's sampling; the same result whatever the executor.

    Any executor of concurrent.futures will do (one for a cluster, such as Dask's `Client.get_executor()`,
    as well), when its workers see the guide's folder. Two processes when none is given.
    """
    parts = Part.all(_PARTS)
    folders = [str(guide.folder)] * _PARTS
    if executor is None:
        with ProcessPoolExecutor(_PARTS) as own:
            counted = list(own.map(_count_part, folders, parts))
    else:
        counted = list(executor.map(_count_part, folders, parts))
    return _evidence(guide, sum(counted, Counter()))


def _evidence(guide: Guide, counted: Counted) -> Evidence:
    assert guide.sampling is not None
    total: Counts = Counter({(key, what): n for (key, what), n in counted.items() if isinstance(key, Case)})
    sights: Sight = Counter({(key, what): n for (key, what), n in counted.items() if isinstance(key, Seen)})
    seen = rows_of(sights)
    promises = {promise.id: promise for promise in guide.promises}
    rows = []
    for case in sorted({case for case, _ in total}):
        happened, asked = total[case, "happened"], total[replace(case, detail=""), "asked"]
        promise = promises[case.promise]
        if asked and not (case.detail and promise.kind == "useful" and _comes_of_no_test(case, total)):
            bounds = _bounds(promise, asked, happened)
            rows.append(Row(case.promise, case.tree, case.fault, case.detail, asked, happened, *bounds))
    digest = key_of(tuple(rows), seen)
    return Evidence(grounds(guide), guide.sampling.seed, guide.sampling.streets, digest, tuple(rows), seen)


def _comes_of_no_test(case: Case, total: Counts) -> bool:
    """Whether every street that was not closed can come to it: a question without a fact leads there."""
    whole = replace(case, detail="")
    return total[case, "happened"] == total[whole, "asked"] - total[whole, "happened"]


def _count_part(folder: str, part: Part) -> Counted:
    return count_part(load(folder), part)


def count_part(guide: Guide, part: Part) -> Counted:
    """What is counted over one part of the drawn streets; the counts of all parts add up to the whole."""
    from build_tools.proof.count import count_flock
    from build_tools.proof.flock import faulty_flocks
    from build_tools.proof.procedures import procedures
    from build_tools.proof.sight import see_flock

    assert guide.sampling is not None
    numbers = range(part.number - 1, guide.sampling.streets, part.of)
    tests, counts, seen = procedures(guide), cast(Counts, Counter()), cast(Sight, Counter())
    for flock in faulty_flocks(guide.sampling, numbers, KINDS):
        count_flock(guide, flock, counts)
        see_flock(tests, flock, seen)
    return cast(Counted, counts) + cast(Counted, seen)


def write_part(guide: Guide, part: Part, counts: Counted, folder: Path) -> Path:
    """Keep the counts of a part in a file of its own, to be merged."""
    counted = sorted([type(key).__name__, *astuple(key), what, n] for (key, what), n in counts.items())
    path = folder / f"part-{part.number}-of-{part.of}.json"
    folder.mkdir(parents=True, exist_ok=True)
    aside = path.with_suffix(".json.new")
    aside.write_text(json.dumps({"grounds": grounds(guide), "part": str(part), "counts": counted}))
    aside.replace(path)
    return path


def merge(guide: Guide, files: Sequence[Path]) -> Evidence:
    """The evidence from the files of all parts.

    Raises ValueError where one is missing, is there twice, cannot be read, or was counted on other grounds.
    """
    total: Counted = Counter()
    kinds: dict[str, type[Case | Seen]] = {"Case": Case, "Seen": Seen}
    found: dict[Part, Path] = {}
    for file in files:
        try:
            data = json.loads(file.read_text(encoding="utf-8"))
            part, counted = Part.parse(data["part"]), data["counts"]
            counts = Counter({(kinds[kind](*names), what): int(n) for kind, *names, what, n in counted})
        except (OSError, ValueError, TypeError, KeyError, AttributeError) as error:
            raise ValueError(f"{file} is not the counts of a part ({error})") from error
        if data["grounds"] != grounds(guide):
            raise ValueError(
                f"{file} was counted on other grounds than this guide's: count part {part} again"
            )
        if part in found:
            raise ValueError(f"{file} is part {part}, and so is {found[part]}")
        found[part] = file
        total += counts
    expected = Part.all(max((part.of for part in found), default=1))
    if missing := [str(part) for part in expected if part not in found]:
        raise ValueError(f"these parts are missing: {', '.join(missing)}")
    if odd := [str(file) for part, file in found.items() if part not in expected]:
        raise ValueError(f"these are parts of another division: {', '.join(odd)}")
    return _evidence(guide, total)


def _bounds(promise: Promise, asked: int, happened: int) -> tuple[float, float]:
    """Bounds one-sided at 95 %; the other side is open."""
    low, high = bounds(asked, happened, 0.05)
    return (0.0, high) if promise.is_upper else (low, 1.0)


def grounds(guide: Guide) -> str:
    """The key of all that evidence depends on: the model, the walks, and what the author wrote."""
    written = [
        (name, _without_words(file.data) if name.startswith("trees/") else file.data)
        for name, file in sorted(guide.files.items())
        if name.startswith("trees/") or name in ("sampling.yaml", "promises.yaml")
    ]
    model = [(ROOT / "calc" / f"{name}.py").read_bytes() for name in MODEL]
    shared = Path(walk.__file__).read_bytes()
    return key_of(model, source_key("build_tools/proof"), shared, written)


def _without_words(tree: Any) -> Any:
    """A tree as walks take it: what is only read may be put better without measuring anew."""
    nodes = {name: _blank(node, WORDS_OF_NODES) for name, node in tree["nodes"].items()}
    return {**_blank(tree, _WORDS_OF_TREES), "nodes": nodes}


def _blank(said: dict[str, Any], words: frozenset[str]) -> dict[str, Any]:
    """What is said, with nothing in place of the words: whether they are there still counts."""
    return {key: None if key in words else value for key, value in said.items()}


def current(guide: Guide) -> Evidence | None:
    """The evidence kept with the guide; None when there is none, or it is older than its grounds."""
    kept = read(guide)
    return kept if kept and kept.grounds == grounds(guide) else None


def read(guide: Guide) -> Evidence | None:
    """The evidence kept with the guide; None when there is none or it cannot be read."""
    try:
        data = json.loads((guide.folder / FILE).read_text(encoding="utf-8"))
        rows = tuple(Row(**row) for row in data["rows"])
        seen = tuple(SeenRow.of(row) for row in data.get("seen", ()))
        return Evidence(**{**data, "rows": rows, "seen": seen})
    except (OSError, ValueError, TypeError, KeyError):
        return None


def write(guide: Guide, evidence: Evidence) -> Path:
    """Keep the evidence with the guide, whole or not at all."""
    path = guide.folder / FILE
    head = {name: value for name, value in asdict(evidence).items() if name not in ("rows", "seen")}
    rows, seen = (
        ",\n".join("  " + json.dumps(row) for row in lines)
        for lines in ([asdict(row) for row in evidence.rows], [astuple(row) for row in evidence.seen])
    )
    aside = path.with_suffix(".json.new")
    text = f'{json.dumps(head)[:-1]}, "rows": [\n{rows}\n], "seen": [\n{seen}\n]}}\n'
    aside.write_text(text, encoding="utf-8")
    aside.replace(path)
    return path


def findings_of(
    guide: Guide, worst: Callable[[Promise, str, str], tuple[Hop, ...]] = lambda *_: ()
) -> Iterator[Finding]:
    """Evidence that is missing or stale, and promises that it does not bear out; the first of each tree with
    what `worst` tells of the promise, the tree and the kind of fault."""
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
        what = "the evidence is older than the model, a tree's steps, the sampling or a promise"
        yield Finding(STALE, place, what, (), "evidence for the guide as it is", f"run: {COMMAND}")
        return
    for index, promise in enumerate(guide.promises):
        shown: set[str] = set()
        for row in broken(promise, evidence.rows):
            hops = () if row.tree in shown else worst(promise, row.tree, row.fault)
            shown.add(row.tree)
            yield Finding(
                "promise-broken",
                guide.files["promises.yaml"].place((index, "id")),
                f"{promise.id} is not kept by {row.tree} with {row.fault}: {row.happened:,} of {row.asked:,} "
                f"streets, 95 % bound {row.high if promise.is_upper else row.low:.5f}",
                (str(index + 1), "id"),
                f"at most {promise.at_most}" if promise.is_upper else f"at least {promise.at_least}",
                "mend the tree; or, where that cannot be, promise what can be kept and say why",
                hops,
            )


def broken(promise: Promise, rows: Iterable[Row]) -> Iterator[Row]:
    """The rows that do not bear a promise out. What is promised of calls is promised of all faults together:
    some are noticed too seldom to say much of each."""
    for row in rows:
        if row.promise != promise.id or row.detail or (promise.audience == "call" and row.fault != ANY):
            continue
        if promise.at_most is not None and row.high > promise.at_most:
            yield row
        if promise.at_least is not None and row.low < promise.at_least:
            yield row
