"""The evidence for the promises: measured once, kept in the guide's folder, stale when its grounds change."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, astuple, dataclass, field, replace
from pathlib import Path
from typing import Any

from build_tools.guide.findings import Demand, Finding, Hop, Place
from build_tools.guide.models import Promise
from build_tools.guide.source import as_given
from build_tools.guide.trees import Guide
from build_tools.proof.binomial import bounds
from build_tools.proof.cases import ANY, Case, Counts
from build_tools.proof.detection_table import AtCorners, Seen, SeenAt, SeenRow, Sight, rows_of
from build_tools.proof.doubts import End, ends_of
from build_tools.proof.moved import AT_LEAST, UNMOVED, Corner, Moved, judged
from build_tools.proof.pairs_row import PairsRow
from build_tools.proof.visit_table import VisitCounts, VisitRow
from build_tools.proof.visit_table import rows_of as visit_rows
from build_tools.setup.environment import COMMAND as PROGRAM
from build_tools.setup.environment import ROOT
from build_tools.setup.result_cache import code_of, key_of, source_key
from build_tools.setup.whole import write_whole
from calc.faults import HEALTHY

__all__ = [
    "COMMAND",
    "FILE",
    "STALE",
    "WORDS_OF_NODES",
    "Corner",
    "Counted",
    "Evidence",
    "Part",
    "Row",
    "current",
    "findings_of",
    "merge",
    "of_counts",
    "read",
    "with_corners",
    "with_pairs",
    "with_visits",
    "write",
    "write_part",
]

FILE = "evidence.json"
COMMAND = f"{PROGRAM} prove"

MODEL = (
    "circuit", "conductor", "danger", "drawn_streets", "exposure", "faults", "harmonics", "instruments",
    "joint_law", "limits", "many", "minutes", "readings", "sampling", "settling", "shock", "street",
    "symptoms", "work",
)  # fmt: skip
"""The modules of calc that evidence depends on; the others only ask and show."""

_WORDS_OF_TREES = frozenset({"title", "about", "review_by", "sources", "heard_as", "cautions"})
WORDS_OF_NODES = frozenset(
    {"question", "reading", "step", "outcome", "say", "advice", "next", "hand_over", "not_proven"}
)
"""What no walk takes: it is read, and leads nowhere."""
_WORDS_OF_PROMISES = frozenset({"title", "words", "why"})
_SHOWN_BESIDE = frozenset({"dangers", "help", "why"})
"""What is shown there besides, and leads nowhere: whether it is there does not count."""


@dataclass
class Counted:
    """What is counted over drawn streets: the cases of promises, and what each test shows; and the same
    weighed (weighing.Sums). Counts of parts add up."""

    counts: Counter[tuple[Case | Seen, str]] = field(default_factory=Counter)
    sums: dict[Case | Seen, list[list[int]]] = field(default_factory=dict)

    def __add__(self, other: Counted) -> Counted:
        sums = {key: [list(row) for row in rows] for key, rows in self.sums.items()}
        for key, rows in other.sums.items():
            known = sums.get(key, [[0] * len(row) for row in rows])
            sums[key] = [
                [one + more for one, more in zip(*both, strict=True)]
                for both in zip(known, rows, strict=True)
            ]
        return Counted(self.counts + other.counts, sums)


@dataclass(frozen=True, slots=True)
class Row:
    """One case of proof.cases: in how many of the streets asked it happened, and the 95 % bounds of the share
    (exact binomial; one-sided, on the side that the promise speaks of). A detail is told and not judged.

    `moved`: how the share moves with what is judged. `corner`: the row at the worst corner. `by_joint`: for a
    joint gone bad, streets asked and where it happened, by its resistance (between doubts.OHMS)."""

    promise: str
    tree: str
    fault: str
    detail: str
    asked: int
    happened: int
    low: float
    high: float
    moved: Moved = UNMOVED
    corner: Corner | None = None
    by_joint: tuple[tuple[int, int], ...] = ()

    @classmethod
    def of(cls, kept: dict[str, Any]) -> Row:
        """The row as it was kept. Raises KeyError, ValueError or TypeError for what is no row."""
        moved, corner = kept.get("moved", ((), ())), kept.get("corner")
        joints = tuple((asked, happened) for asked, happened in kept.get("by_joint", ()))
        judged = {"moved": Moved.of(moved), "corner": Corner(*corner) if corner else None, "by_joint": joints}
        return cls(**{**kept, **judged})

    @property
    def kept(self) -> dict[str, Any]:
        """The row to be kept."""
        corner = astuple(self.corner) if self.corner else None
        return {**asdict(self), "moved": astuple(self.moved), "corner": corner}

    @property
    def share(self) -> float:
        """The share of the streets asked in which it happened."""
        return self.happened / self.asked

    def breaks(self, promise: Promise) -> bool:
        """Whether the promise is not kept at the worst corner, as far as chance allows to say."""
        if self.corner is None:
            return False
        if promise.at_most is not None:
            return self.corner.low > promise.at_most
        return promise.at_least is not None and self.corner.high < promise.at_least


_STATED = ("sampling.yaml", "promises.yaml", "minutes.yaml")
"""Files of which every figure counts."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was measured, and the key of everything that it depends on. `digest` is the own key of the rows
    and of what each test shows (`seen`). `ends`: what is judged, put towards each end; `corners`: the ends at
    the worst corner of each promise, as places in `ends`. `pairs`: two faults at once on the guide's own
    streets. `visits`: a home visited in time."""

    grounds: str
    seed: int
    streets: int
    digest: str
    rows: tuple[Row, ...]
    seen: tuple[SeenRow, ...] = ()
    ends: tuple[End, ...] = ()
    corners: dict[str, tuple[int, ...]] = field(default_factory=dict)
    pairs: tuple[PairsRow, ...] = ()
    visits: tuple[VisitRow, ...] = ()

    @property
    def own_key(self) -> str:
        """The key of its figures."""
        corners = sorted(self.corners.items())
        return key_of(self.rows, self.seen, self.ends, corners, self.pairs, self.visits)

    @property
    def is_as_measured(self) -> bool:
        """Nobody has changed a figure since."""
        return self.digest == self.own_key


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


def of_counts(guide: Guide, counted: Counted) -> Evidence:
    """The evidence that the counts of all parts make; the corners apart."""
    assert guide.sampling is not None
    counts, sums = counted.counts, counted.sums
    total: Counts = Counter({(key, what): n for (key, what), n in counts.items() if isinstance(key, Case)})
    sights: Sight = Counter({(key, what): n for (key, what), n in counts.items() if isinstance(key, Seen)})
    promises = {promise.id: promise for promise in guide.promises}
    rows = []
    for case in sorted({case for case, _ in total}):
        happened, asked = total[case, "happened"], total[replace(case, detail=""), "asked"]
        promise = promises[case.promise]
        if asked and not (case.detail and promise.kind == "useful" and _comes_of_no_test(case, total)):
            bounds = _bounds(promise, asked, happened)
            moved, joints = judged(case.fault, happened / asked, sums.get(case, ()))
            row = Row(case.promise, case.tree, case.fault, case.detail, asked, happened, *bounds)
            rows.append(replace(row, moved=moved, by_joint=joints))
    sampling = guide.sampling
    return _sealed(
        Evidence(
            grounds(guide),
            sampling.seed,
            sampling.streets,
            "",
            tuple(rows),
            rows_of(sights, sums),
            ends_of(sampling),
        )
    )


def with_visits(evidence: Evidence, counts: VisitCounts) -> Evidence:
    """The evidence with what was counted of visits in time."""
    return _sealed(replace(evidence, visits=tuple(visit_rows(counts))))


def with_pairs(evidence: Evidence, pairs: Iterable[PairsRow]) -> Evidence:
    """The evidence with what every two faults at once do on the guide's own streets."""
    return _sealed(replace(evidence, pairs=tuple(pairs)))


def with_corners(evidence: Evidence, corners: Mapping[str, Sequence[End]], counts: AtCorners) -> Evidence:
    """The evidence with what was counted at the worst corner of each promise, and of each test at that of
    these corners where it does worst."""

    def at_corner(row: Row) -> Row:
        case = Case(row.promise, row.tree, row.fault, row.detail)
        asked, happened = counts[case, "asked"], counts[case, "happened"]
        if not asked or row.detail:
            return row
        return replace(row, corner=Corner.of(asked, happened))

    def at_worst(row: SeenRow) -> SeenRow:
        cell = Seen(row.test, row.fault, row.where)
        tried = {places[id_]: SeenAt(cell, tuple(ends)) for id_, ends in corners.items()}
        found = [
            (counts[key, "happened"] / asked, at, Corner.of(asked, counts[key, "happened"]))
            for at, key in tried.items()
            if (asked := counts[key, "asked"]) >= AT_LEAST
        ]
        if not found:
            return row
        _, at, corner = (max if row.fault == HEALTHY.kind else min)(found, key=lambda one: one[0])
        return replace(row, corner=corner, corner_at=at)

    places = {id_: tuple(evidence.ends.index(end) for end in ends) for id_, ends in corners.items()}
    rows, seen = tuple(map(at_corner, evidence.rows)), tuple(map(at_worst, evidence.seen))
    return _sealed(replace(evidence, rows=rows, seen=seen, corners=places))


def _sealed(evidence: Evidence) -> Evidence:
    return replace(evidence, digest=evidence.own_key)


def _comes_of_no_test(case: Case, total: Counts) -> bool:
    """Whether every street that was not closed can come to it: a question without a fact leads there."""
    whole = replace(case, detail="")
    return total[case, "happened"] == total[whole, "asked"] - total[whole, "happened"]


def write_part(guide: Guide, part: Part, counted: Counted, folder: Path) -> Path:
    """Keep the counts of a part in a file of its own, to be merged."""
    counts = sorted([_named(key), what, n] for (key, what), n in counted.counts.items())
    sums = sorted([_named(key), rows] for key, rows in counted.sums.items())
    path = folder / f"part-{part.number}-of-{part.of}.json"
    kept = {"grounds": grounds(guide), "part": str(part), "counts": counts, "sums": sums}
    write_whole(path, json.dumps(kept))
    return path


def _named(key: Case | Seen) -> list[str]:
    return [type(key).__name__, *astuple(key)]


def merge(guide: Guide, files: Sequence[Path]) -> Counted:
    """The counts of the files of all parts.

    Raises ValueError where one is missing, is there twice, cannot be read, or was counted on other grounds.
    """
    total = Counted()
    kinds: dict[str, type[Case | Seen]] = {"Case": Case, "Seen": Seen}
    found: dict[Part, Path] = {}
    for file in files:
        try:
            data = json.loads(file.read_text(encoding="utf-8"))
            part = Part.parse(data["part"])
            counts = {(kinds[kind](*names), what): int(n) for (kind, *names), what, n in data["counts"]}
            sums = {kinds[kind](*names): rows for (kind, *names), rows in data["sums"]}
            on = data["grounds"]
        except (OSError, ValueError, TypeError, KeyError, AttributeError) as error:
            raise ValueError(f"{file} is not the counts of a part ({error})") from error
        if on != grounds(guide):
            raise ValueError(
                f"{file} was counted on other grounds than this guide's: count part {part} again"
            )
        if part in found:
            raise ValueError(f"{file} is part {part}, and so is {found[part]}")
        found[part] = file
        total += Counted(Counter(counts), sums)
    expected = Part.all(max((part.of for part in found), default=1))
    if missing := [str(part) for part in expected if part not in found]:
        raise ValueError(f"these parts are missing: {', '.join(missing)}")
    if odd := [str(file) for part, file in found.items() if part not in expected]:
        raise ValueError(f"these are parts of another division: {', '.join(odd)}")
    return total


def _bounds(promise: Promise, asked: int, happened: int) -> tuple[float, float]:
    """Bounds one-sided at 95 %; the other side is open."""
    low, high = bounds(asked, happened, 0.05)
    return (0.0, high) if promise.is_upper else (low, 1.0)


def grounds(guide: Guide) -> str:
    """The key of all that evidence depends on: the model, the walks, and what the author wrote."""
    written = [
        (name, _counting(name, file.data))
        for name, file in sorted(guide.files.items())
        if name.startswith(("trees/", "streets/")) or name in _STATED
    ]
    model = [code_of(ROOT / "calc" / f"{name}.py") for name in MODEL]
    walks = ROOT / "build_tools" / "walks"
    shared = [(walks / f"{name}.py").read_bytes() for name in ("asked_exits", "walk")]
    return key_of(model, source_key("build_tools/proof"), shared, written)


def _counting(name: str, data: Any) -> Any:
    """What a file says that counts."""
    if name == "promises.yaml":
        return [_blank(promise, _WORDS_OF_PROMISES) for promise in data]
    return _without_words(data) if name.startswith("trees/") else data


def _without_words(tree: Any) -> Any:
    """A tree as walks take it: what is only read may be put better without measuring anew."""
    nodes = {
        name: _blank({key: value for key, value in node.items() if key not in _SHOWN_BESIDE}, WORDS_OF_NODES)
        for name, node in tree["nodes"].items()
    }
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
        shaped = {
            "rows": tuple(Row.of(row) for row in data["rows"]),
            "seen": tuple(SeenRow.of(row) for row in data.get("seen", ())),
            "ends": tuple(End(*end) for end in data.get("ends", ())),
            "corners": {id_: tuple(ends) for id_, ends in data.get("corners", {}).items()},
            "pairs": tuple(PairsRow.of(row) for row in data.get("pairs", ())),
            "visits": tuple(VisitRow.of(row) for row in data.get("visits", ())),
        }
        return Evidence(**{**data, **shaped})
    except (OSError, ValueError, TypeError, KeyError):
        return None


def write(guide: Guide, evidence: Evidence) -> Path:
    """Keep the evidence with the guide, whole or not at all."""
    path = guide.folder / FILE
    head = {name: getattr(evidence, name) for name in ("grounds", "seed", "streets", "digest", "corners")} | {
        "ends": [astuple(end) for end in evidence.ends],
        "pairs": [astuple(row) for row in evidence.pairs],
        "visits": [asdict(row) for row in evidence.visits],
    }
    rows, seen = (
        ",\n".join("  " + json.dumps(row) for row in lines)
        for lines in ([row.kept for row in evidence.rows], [astuple(row) for row in evidence.seen])
    )
    write_whole(path, f'{json.dumps(head)[:-1]}, "rows": [\n{rows}\n], "seen": [\n{seen}\n]}}\n')
    return path


NO_EVIDENCE = Demand("no-evidence", "every promise measured", f"run: {COMMAND}")
ALTERED_EVIDENCE = Demand("altered-evidence", "the figures of the measurement", f"run: {COMMAND}")
STALE = Demand("stale-evidence", "evidence for the guide as it is", f"run: {COMMAND}")
PROMISE_BROKEN = Demand(
    "promise-broken",
    "the measured share within what is promised, its 95 % bound included",
    "mend the tree; or, where that cannot be, promise what can be kept and say why",
)


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
        yield NO_EVIDENCE.found(place, what)
        return
    if not evidence.is_as_measured:
        what = "the evidence was changed after it was measured"
        yield ALTERED_EVIDENCE.found(place, what)
        return
    refused = {finding.place.file for finding in guide.findings}
    if any(file.file in refused for file in guide.files.values()):
        return  # what is measured is not known before that is mended
    if evidence.grounds != grounds(guide):
        what = "the evidence is older than the model, a tree's steps, the sampling or a promise"
        yield STALE.found(place, what)
        return
    for index, promise in enumerate(guide.promises):
        shown: set[str] = set()
        for row in broken(promise, evidence.rows):
            hops = () if row.tree in shown else worst(promise, row.tree, row.fault)
            shown.add(row.tree)
            yield PROMISE_BROKEN.found(
                guide.files["promises.yaml"].place((index, "id")),
                f"{promise.id} is not kept by {row.tree} with {row.fault}: {row.happened:,} of {row.asked:,} "
                f"streets, 95 % bound {row.high if promise.is_upper else row.low:.5f}",
                (str(index + 1), "id"),
                f"at most {promise.at_most}" if promise.is_upper else f"at least {promise.at_least}",
                hops=hops,
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
