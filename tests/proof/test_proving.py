"""What is asked of each worker: which visits, streets and pairs; and what their answers come to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import streets
from made_trees import made_trees

from build_tools.guide.loading import load
from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof import procedures, proving
from build_tools.proof.cases import Case
from build_tools.proof.detection_table import Seen
from build_tools.proof.evidence import Counted, Part
from build_tools.proof.pairs_row import PairsRow
from build_tools.proof.visit_table import VisitCase, VisitCounts
from calc.faults import KINDS

LOOK = """
  look: {question: Whole?, fact: main-earth-looks-whole, answers: [
    {answer: It is, is: "yes", go: closed}, {answer: It is not, is: "no", go: emergency}]}
"""
LIGHTS = """
  ask: {question: Lights?, caller: lights, answers: [{answer: Bright, is: bright, go: emergency},
    {answer: Dim, is: dim, go: urgent}, {answer: Steady, is: steady, go: routine}]}
"""


def promise(kind: str, *trees: str) -> Promise:
    bound = "at_most" if kind in ("no-harm", "calm") else "at_least"
    given = {
        "id": kind,
        "kind": kind,
        "title": "Kept",
        "words": "It is.",
        "trees": trees,
        bound: 0.5,
    }
    return Promise.model_validate(given)


@pytest.fixture
def guide(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Guide:
    """A guide of small streets, which every worker loads."""
    trees = made_trees(tmp_path / "site", "site", look=LOOK, other=LOOK)
    trees |= made_trees(tmp_path / "call", "call", ask=LIGHTS)
    shipped = load(Path(__file__).parents[2] / "guide_src")
    assert shipped.sampling is not None
    small = tuple(each for each in shipped.sampling.layouts if each.id in ("three-and-three", "looped-pairs"))
    made = replace(
        shipped,
        trees=trees,
        streets={"b-row": streets.terrace(), "a-pair": streets.pair(), "c-row": streets.terrace(9)},
        promises=(promise("calm", "ask"), promise("found", "look", "other"), promise("useful", "other")),
        sampling=replace(shipped.sampling, layouts=small, streets=12),
    )
    monkeypatch.setattr(proving, "load", lambda _: made)
    monkeypatch.setattr(procedures, "TESTS", ())
    return made


@pytest.fixture
def threads() -> Iterator[ThreadPoolExecutor]:
    with ThreadPoolExecutor(1) as pool:
        yield pool


def test_dangers_and_healthy_homes_are_visited_and_passing_joints_by_the_best_crews(
    guide: Guide, threads: ThreadPoolExecutor, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[list[int], tuple[str, ...], list[str], Any, list[str]]] = []

    def counting(
        _: Guide, numbers: Iterable[int], kinds: Iterable[str], laws: Iterable[str], access: Any = None,
        trees: Iterable[str] = (),
    ) -> VisitCounts:  # fmt: skip
        asked.append((list(numbers), tuple(kinds), list(laws), access, list(trees)))
        return Counter({(VisitCase("look", asked[-1][1][0], asked[-1][2][0], "perfect"), "visits"): 1})

    monkeypatch.setattr(proving, "count_visits", counting)
    monkeypatch.setattr(proving, "pairs_on", lambda *_: ())
    assert guide.minutes is not None
    rows = proving.evidence_of(guide, Counted(), threads).visits
    laws = {name: law.when for name, law in guide.minutes.laws.items()}
    lasting = [one for one in asked if one[3] is None]
    passing = [one for one in asked if one[3] is not None]
    assert len(lasting) == len(passing) == 2
    for some in (lasting, passing):
        assert sorted(number for one in some for number in one[0]) == list(range(12))
    for _, kinds, names, _, trees in lasting:
        assert set(kinds) == {"healthy"} | {kind for kind, each in KINDS.items() if each.keeps_open}
        assert ([laws[name] for name in names], trees) == (["always"], ["look"])
    for _, kinds, names, access, trees in passing:
        assert all(KINDS[kind].keeps_open and "-pen-" in kind for kind in kinds) and len(kinds) == 4
        assert set(names) == {name for name, when in laws.items() if when != "always"}
        assert (access, trees) == (["perfect"], ["look"])
    assert {(row.case.fault, row.case.law, row.visits) for row in rows} == {
        (lasting[0][1][0], lasting[0][2][0], 2),
        (passing[0][1][0], passing[0][2][0], 2),
    }
    without = replace(guide, minutes=None)
    asked.clear()
    assert proving.evidence_of(without, Counted(), threads).visits == () and not asked


def test_no_more_than_400_streets_are_visited(
    guide: Guide, threads: ThreadPoolExecutor, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert guide.sampling is not None
    many = replace(guide, sampling=replace(guide.sampling, streets=700))
    monkeypatch.setattr(proving, "load", lambda _: many)
    monkeypatch.setattr(proving, "pairs_on", lambda *_: ())
    asked: list[int] = []
    monkeypatch.setattr(
        proving, "count_visits", lambda _, numbers, *more, **__: asked.extend(numbers) or Counter()
    )
    proving.evidence_of(many, Counted(), threads)
    assert Counter(asked) == Counter([*range(400)] * 2)


def test_pairs_are_walked_on_every_street_the_largest_first_and_told_by_name(
    guide: Guide, threads: ThreadPoolExecutor, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def pairs(name: str, street: Any, trees: Any) -> tuple[PairsRow, ...]:
        assert street is guide.streets[name] and list(trees) == list(guide.trees.values())
        asked.append(name)
        return tuple(PairsRow(tree, name, 1, 0, 0, (), ()) for tree in ("look", "other"))

    monkeypatch.setattr(proving, "pairs_on", pairs)
    monkeypatch.setattr(proving, "count_visits", lambda *_, **__: Counter())
    rows = proving.evidence_of(guide, Counted(), threads).pairs
    assert asked == ["c-row", "b-row", "a-pair"]
    assert [(row.street, row.tree) for row in rows] == [
        (name, tree) for name in ("a-pair", "b-row", "c-row") for tree in ("look", "other")
    ]


def test_parts_count_every_street_with_every_kind_of_fault_and_weigh_it(
    guide: Guide, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is promised and what each test shows, as drawn and weighed."""
    kinds = ("healthy", "main-earth-lost")
    monkeypatch.setattr(proving, "KINDS", {kind: KINDS[kind] for kind in kinds})
    whole = proving.count_part(guide, Part(1, 1))
    useful, found = Case("useful", "other", "healthy"), Case("found", "look", "main-earth-lost")
    assert whole.counts[useful, "asked"] == whole.counts[useful, "happened"] == 12
    assert 0 < whole.counts[found, "happened"] <= whole.counts[found, "asked"] < 12
    seen = [key for key, what in whole.counts if isinstance(key, Seen) and what == "asked"]
    assert {key.fault for key in seen} == set(kinds)
    shown = Seen("eyes-main-earth", "main-earth-lost", "alone")
    beside = replace(shown, where="sharing")
    asked = [whole.counts[key, "asked"] for key in (shown, beside)]
    assert sum(asked) == 12 == sum(whole.counts[key, "shows"] for key in (shown, beside))
    for key in (useful, found, shown, beside):
        rows = whole.sums[key]
        assert len(rows) == 3 and all(type(figure) is int for row in rows for figure in row)
        assert sum(rows[0][-8:]) <= 12 and max(rows[0]) > 0
    parts = [proving.count_part(guide, part) for part in Part.all(3)]
    assert (parts[0] + parts[1] + parts[2]) == whole
    assert all(any(part.counts.values()) for part in parts)
