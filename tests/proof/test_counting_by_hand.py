"""Each kind of promise counted over a few hand-made streets by trees of one question."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import streets
from batches import as_drawn, batch_of, parted
from made_trees import made_trees

from build_tools.guide.loading import load
from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof.cases import ANY, Case, Counts
from build_tools.proof.counting import (
    cases,
    count,
    count_batch,
    endangered_streets,
    is_about,
    visited_streets,
    walk_batch,
)
from build_tools.proof.doubts import AS_DRAWN, End
from build_tools.proof.street_batch import StreetBatch
from build_tools.proof.weighing import Weighing
from calc.faults import KINDS

LOOK = """
  look: {question: Whole?, fact: main-earth-looks-whole, answers: [
    {answer: It is, is: "yes", go: closed}, {answer: It is not, is: "no", go: emergency},
    {answer: Cannot see, go: urgent}]}
"""
RECORD = """
  ask: {question: Shares?, fact: shares-metalwork, answers: [
    {answer: It does, is: "yes", go: either}, {answer: It does not, is: "no", go: closed}]}
  either: {question: Either?, answers: [{answer: One, go: urgent}, {answer: Two, go: soon}]}
"""
LIFT = "  lift: {step: Lift., does: [lift-main-earth], go: soon}"
UNFIT = (
    'look: {question: Whole?, fact: main-earth-looks-whole, answers: [{answer: No, is: "no", go: urgent}]}'
)
LIGHTS = """
  lights: {question: Lights?, caller: lights, answers: [
    {answer: Bright, is: bright, go: emergency}, {answer: Dim, is: dim, go: urgent},
    {answer: Steady, is: steady, go: routine}]}
"""
HERE, NEXT_DOOR = as_drawn(streets.pair()), as_drawn(streets.pair(), "14")
APART = as_drawn(parted(streets.pair()), "14")
"""Visited where the fault is; at the home that shares its pipe; and at one that does not."""


@pytest.fixture(scope="module")
def guide(tmp_path_factory: pytest.TempPathFactory) -> Guide:
    site = made_trees(
        tmp_path_factory.mktemp("site"), "site", look=LOOK, record=RECORD, lift=LIFT, unfit=f"  {UNFIT}"
    )
    call = made_trees(tmp_path_factory.mktemp("call"), "call", lights=LIGHTS)
    shipped = load(Path(__file__).parents[2] / "guide_src")
    assert shipped.sampling is not None
    spreads = shipped.sampling.spreads
    errs = replace(spreads["caller-errs"], chance=0.0, doubt=(0.0, 1.0))
    small = tuple(each for each in shipped.sampling.layouts if each.id in ("three-and-three", "looped-pairs"))
    sampling = replace(shipped.sampling, layouts=small, spreads={**spreads, "caller-errs": errs})
    return replace(shipped, trees={**site, **call}, sampling=sampling, promises=())


def promise(kind: str, *trees: str, **more: Any) -> Promise:
    """A promise named after its kind."""
    bound = "at_most" if kind in ("no-harm", "closed-beside", "robust", "calm") else "at_least"
    given = {"id": kind, "kind": kind, "title": "It is kept", "words": "It is.", "trees": trees, bound: 0.5}
    return Promise.model_validate({**given, **more})


def counted(
    guide: Guide, batch: StreetBatch, *promises: Promise
) -> dict[tuple[str, ...], tuple[list[bool], ...]]:
    """Promise, tree, fault and detail -> who was asked, and where it happened."""
    found = cases(replace(guide, promises=promises), batch)
    return {
        (case.promise, case.tree, case.fault, case.detail): (asked.tolist(), happened.tolist())
        for case, asked, happened in found
    }


YES, NO = True, False


def test_what_is_found_closed_and_missed_with_a_main_earth_lost(guide: Guide) -> None:
    """It is seen where it is; next door the job is closed beside it, and apart nothing is wrong."""
    kind = "main-earth-lost"
    batch = batch_of(HERE, NEXT_DOOR, APART, kind=kind)
    kinds = ("found", "elsewhere", "closed-beside", "robust", "no-harm")
    found = counted(guide, batch, *(promise(each, "look", "unfit") for each in kinds))
    assert found["found", "look", kind, ""] == ([YES, YES, NO], [YES, NO, NO])
    assert found["elsewhere", "look", kind, ""] == ([NO, NO, YES], [YES, NO, NO])
    assert found["closed-beside", "look", kind, ""] == ([YES, YES, NO], [NO, YES, NO])
    assert found["no-harm", "look", kind, ""] == ([YES] * 3, [NO] * 3)
    assert found["robust", "look", kind, ""] == ([YES] * 3, [YES, NO, NO])
    assert found["robust", "look", kind, "look: It is"] == ([YES, NO, NO],) * 2
    assert found["found", "unfit", kind, ""] == ([YES, YES, NO], [YES, NO, NO]), "lost is not found"
    assert {case[:2] for case in found} == {(each, tree) for each in kinds for tree in ("look", "unfit")}
    assert {case[3] for case in found} == {"", "look: It is"}


def test_a_step_that_hurts_is_counted_where_it_does(guide: Guide) -> None:
    kind = "service-pen-open"
    batch = batch_of(as_drawn(parted(streets.pair())), APART, kind=kind)
    found = counted(guide, batch, promise("no-harm", "lift"), promise("closed-beside", "lift"))
    assert found["no-harm", "lift", kind, ""] == ([YES, YES], [YES, NO])
    assert found["closed-beside", "lift", kind, ""] == ([YES, NO], [NO, NO])


def test_where_a_healthy_street_ends_is_told_by_end(guide: Guide) -> None:
    found = counted(guide, batch_of(HERE, APART, NEXT_DOOR), promise("useful", "record", "look"))
    assert found == {
        ("useful", "record", "healthy", ""): ([YES] * 3, [NO, YES, NO]),
        ("useful", "record", "healthy", "urgent"): ([YES, NO, YES],) * 2,
        ("useful", "record", "healthy", "soon"): ([YES, NO, YES],) * 2,
        ("useful", "look", "healthy", ""): ([YES] * 3, [YES] * 3),
    }


def test_a_walk_follows_what_people_answer_unless_they_are_willing(guide: Guide) -> None:
    batch = batch_of(HERE, NEXT_DOOR, kind="main-earth-lost")
    start = visited_streets(batch)
    assert {home: mask.tolist() for home, mask in start.items()} == {"12": [YES, NO], "14": [NO, YES]}
    assert visited_streets(batch_of(HERE, HERE)).keys() == {"12"}
    willing, any_way = (walk_batch(guide.trees["look"], batch, start, each) for each in (True, False))
    ends = {"emergency": [YES, NO], "closed": [NO, YES]}
    assert {node: mask.tolist() for node, mask in willing.ends.items() if mask.any()} == ends
    assert {node: mask.tolist() for node, mask in any_way.ends.items() if mask.any()} == {
        **ends,
        "urgent": [YES, YES],
    }
    lost = walk_batch(guide.trees["unfit"], batch, start, True)
    assert (lost.lost.tolist(), lost.hurt.tolist()) == ([NO, YES], [NO, NO])
    assert endangered_streets(batch).tolist() == [YES, YES] and not endangered_streets(batch.sound).any()


SEES = [
    as_drawn(streets.pair(), caller=each)
    for each in ({"caller-sees-volts": 0.0}, {"caller-sees-dip": 0.0}, {}, {"caller-feels-ma": 0.0})
]
"""Callers who say bright, dim, and twice steady, the last of whom feels a tingle."""


@pytest.mark.parametrize(
    ("priority", "given"),
    [("emergency", [YES, NO, NO, NO]), ("urgent", [YES, YES, NO, NO]), ("routine", [YES] * 4)],
)
def test_a_call_is_given_a_priority_or_a_higher_one(guide: Guide, priority: str, given: list[bool]) -> None:
    kind = "protective-conductor-lost"
    heard = promise("heard", "lights", noticed="dim", priority=priority)
    found = counted(guide, batch_of(*SEES, kind=kind), heard)
    assert found == {("heard", "lights", each, ""): ([NO, YES, NO, NO], given) for each in (kind, ANY)}
    calm = counted(guide, batch_of(*SEES), promise("calm", "lights", priority=priority))
    assert calm == {("calm", "lights", each, ""): ([NO, YES, YES, NO], given) for each in ("healthy", ANY)}


def test_who_is_in_danger_is_not_asked_whether_it_is_calm(guide: Guide) -> None:
    high = streets.pair(volts=260)
    batch = batch_of(as_drawn(high), as_drawn(streets.pair()))
    (asked, _) = counted(guide, batch, promise("calm", "lights"))["calm", "lights", ANY, ""]
    assert asked == [NO, YES]


def test_a_promise_is_about_dangers_but_to_be_useful_or_calm() -> None:
    about = {
        kind: {fault for fault in KINDS if is_about(promise(kind, "look", **more), fault)}
        for kind, more in (("found", {}), ("useful", {}), ("calm", {}), ("heard", {"noticed": "dim"}))
    }
    dangers = {fault for fault, each in KINDS.items() if each.endangers}
    assert about == {
        "found": dangers,
        "heard": dangers,
        "useful": {"healthy"},
        "calm": KINDS.keys() - dangers,
    }
    some = promise("found", "look", faults=("service-pen-open", "high-volts"))
    assert [fault for fault in KINDS if is_about(some, fault)] == ["service-pen-open"]


def test_counts_are_of_who_was_asked_and_weighed_but_for_details(guide: Guide) -> None:
    assert guide.sampling is not None
    kind = "main-earth-lost"
    made = replace(guide, promises=(promise("robust", "look"), promise("elsewhere", "look")))
    batch = batch_of(HERE, NEXT_DOOR, APART, kind=kind)
    counts: Counts = Counter()
    weighing = Weighing(guide.sampling)
    for _ in range(2):
        count_batch(made, batch, counts, weighing)
    weighing.count(batch)
    robust, elsewhere = (Case(each, "look", kind) for each in ("robust", "elsewhere"))
    detail = replace(robust, detail="look: It is")
    told = {case: (counts[case, "asked"], counts[case, "happened"]) for case in (robust, elsewhere, detail)}
    assert told == {robust: (6, 2), elsewhere: (2, 0), detail: (2, 2)}
    assert weighing.sums.keys() == {robust, elsewhere}
    place = weighing.ends.index(End("supply-volts", "low"))  # not drawn here, so as drawn
    assert weighing.sums[robust][:, place].tolist() == [6 * AS_DRAWN, 2 * AS_DRAWN, 6 * AS_DRAWN**2]


def test_calls_are_walked_anew_by_callers_who_err_less_or_more(guide: Guide) -> None:
    """None errs as drawn, nor at the low end; at the high end each does, and none who saw dim says so."""
    assert guide.sampling is not None
    kind = "service-pen-high"
    heard = promise("heard", "lights", noticed="dim", priority="urgent")
    made = replace(guide, promises=(heard, promise("found", "look")))
    batch = batch_of(*[SEES[1]] * 100, kind=kind)
    weighing = Weighing(guide.sampling)
    counts: Counts = Counter()
    count_batch(made, batch, counts, weighing)
    weighing.count(batch)
    case = Case("heard", "lights", kind)
    assert (counts[case, "asked"], counts[case, "happened"]) == (100, 100)
    low, high = (weighing.ends.index(End("caller-errs", at)) for at in ("low", "high"))
    assert weighing.sums[case][:, low].tolist() == [100, 100, 100]
    asked, given, squares = weighing.sums[case][:, high].tolist()
    assert asked == squares == 100 and 30 < given < 70, "bright or steady instead"
    found = Case("found", "look", kind)
    assert not weighing.sums[found][:, [low, high]].any(), "no call"


def test_all_batches_of_these_streets_and_kinds_are_counted(guide: Guide) -> None:
    made = replace(guide, promises=(promise("elsewhere", "look"), promise("found", "look")))
    kinds = ["main-earth-lost", "service-pen-open"]
    counts = count(made, range(20), kinds)
    for kind in kinds:
        asked = [counts[Case(each, "look", kind), "asked"] for each in ("found", "elsewhere")]
        assert sum(asked) == 20 and min(asked) > 0
    assert np.sum([n for (case, _), n in count(made, range(20)).items() if case.fault == kinds[0]]) == sum(
        n for (case, _), n in counts.items() if case.fault == kinds[0]
    )
