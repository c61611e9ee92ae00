"""A counterexample on a hand-made street: what it is drawn as, what its file says, and how it is retold."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import streets
from batches import as_drawn, parted
from batches import batch_of as put_together
from made_trees import made_trees

from build_tools.guide.loading import load
from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof import counterexample_search
from build_tools.proof.counterexample import Counterexample, batch_of, failing, fails, read, write
from build_tools.proof.counterexample_replay import retell_counterexample
from build_tools.proof.counterexample_search import attach, find
from build_tools.proof.counting import cases
from build_tools.proof.drawn_oracle import DrawnOracle
from build_tools.proof.street_batch import batches
from calc.drawn_streets import draw
from calc.faults import KINDS, parse_one
from calc.work import Condition

LOOK = """
  look: {question: Whole?, fact: main-earth-looks-whole, answers: [
    {answer: It is, is: "yes", go: closed}, {answer: It is not, is: "no", go: emergency}]}
"""
CALL = """
  say: {step: Good day., go: lights}
  lights: {question: Lights?, caller: lights, answers: [
    {answer: Bright, is: bright, go: emergency}, {answer: As ever, is: steady, go: else},
    {answer: Dim, is: dim, go: urgent}]}
  else: {question: Anything else?, answers: [{answer: Something, is: odd, go: soon},
    {answer: Nothing, is: usual, go: routine}]}
"""
ROUND = """
  lights: {question: Lights?, caller: lights, answers: [{answer: Bright, is: bright, go: emergency},
    {answer: As ever, is: steady, go: again}, {answer: Dim, is: dim, go: again}]}
  again: {step: Again., go: lights}
"""


def promise(kind: str, tree: str, **more: Any) -> Promise:
    bound = "at_most" if kind in ("closed-beside", "robust", "calm") else "at_least"
    given = {"id": kind, "kind": kind, "title": f"It is {kind}", "trees": (tree,), bound: 0.5}
    return Promise.model_validate({"words": "As often as can be asked of anybody. " * 5, **given, **more})


FOUND, BESIDE, ROBUST = (promise(kind, "look") for kind in ("found", "closed-beside", "robust"))
HEARD = promise("heard", "call", noticed="dim")


def erring(guide: Guide, chance: float) -> Guide:
    assert guide.sampling is not None
    spreads = guide.sampling.spreads
    errs = replace(spreads["caller-errs"], chance=chance)
    return replace(guide, sampling=replace(guide.sampling, spreads={**spreads, "caller-errs": errs}))


@pytest.fixture(scope="module")
def guide(tmp_path_factory: pytest.TempPathFactory) -> Guide:
    trees = made_trees(tmp_path_factory.mktemp("site"), "site", look=LOOK)
    trees |= made_trees(tmp_path_factory.mktemp("call"), "call", call=CALL, round=ROUND)
    shipped = load(Path(__file__).parents[2] / "guide_src")
    assert shipped.sampling is not None
    small = tuple(each for each in shipped.sampling.layouts if each.id in ("three-and-three", "looped-pairs"))
    made = replace(
        shipped,
        trees=trees,
        promises=(FOUND, BESIDE, ROBUST, HEARD),
        sampling=replace(shipped.sampling, layouts=small, streets=210),
    )
    return erring(made, 0.0)


def worst(
    promise: str = "found", tree: str = "look", fault: str = "main-earth-lost@14", **more: Any
) -> Counterexample:
    drawn = as_drawn(streets.pair(), meters={"clamp-error": 0.02})
    whole = Counterexample(
        promise, tree, fault, "12", 7, 30, drawn.meters, drawn.caller, 2.3, drawn.later_kw, drawn.street
    )
    return replace(whole, **more)


@pytest.mark.parametrize("home", ["12", "14"])
@pytest.mark.parametrize(
    ("fault", "ohm"),
    [("service-pen-high@14=0.75", 0.75), ("service-pen-high@12", 1.0), ("main-earth-lost@14", 1.0),
     ("earth-leak@12", KINDS["earth-leak"].ohm)],
)  # fmt: skip
def test_it_is_drawn_as_its_home_and_fault(home: str, fault: str, ohm: float) -> None:
    one = worst(fault=fault, home=home)
    assert (one.drawn.visited, one.drawn.joint_ohm, one.drawn.number) == (home, ohm, 30)
    assert int(one.drawn.shares[0] * 2) == ["12", "14"].index(home)
    batch = batch_of(one)
    there, said = batch.fault(0), parse_one(fault)
    assert (batch.size, there.kind, there.at, one.kind) == (1, said.kind, said.at, said.kind)
    perfect = one.with_perfect_meters
    assert one.meters["clamp-error"] == 0.02 and set(perfect.meters.values()) == {0.0}
    assert perfect.meters.keys() == one.meters.keys()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"fault": "main-earth-lost@16"}, "cannot be on this street"),
        ({"home": "16"}, "'16' is not on this street"),
        ({"later_kw": {"12": (1.0,)}}, "every home"),
        ({"later_kw": {"12": (1.0,), "14": (1.0,), "16": (1.0,)}}, "of no other"),
        ({"later_kw": {"12": (1.0,), "14": (1.0, 1.0)}}, "14 needs a figure for each of 1 lines"),
    ],
)
def test_what_does_not_fit_the_street_is_refused(change: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        worst(**change)


def test_its_file_says_what_is_not_so_and_comes_back(tmp_path: Path) -> None:
    path = write(worst(), FOUND, tmp_path)
    assert path.name == "main-earth-lost-look-found.yaml"
    lines = path.read_text("utf-8").splitlines()
    head = [line.removeprefix("# ") for line in lines if line.startswith("#")]
    said = " ".join(head)
    assert said.startswith(f"Not so on this street: It is found. {FOUND.words.strip()} Told by: ")
    assert f"walk look --street {path.name}" in said or said.endswith(path.name)
    assert len(head) > 2 and all(len(line) <= 108 for line in head if str(tmp_path) not in line)
    assert lines[: len(head)] == [f"# {line}" for line in head], "at the head of the file"
    assert read(path) == worst()


def test_a_promise_fails_by_its_own_side(guide: Guide) -> None:
    """With a main earth lost next door, on the same pipe, the job is closed beside it: not found, and closed;
    with one's own lost it is found."""
    mine = worst(fault="main-earth-lost@12")
    for id_, next_door, here in (
        ("found", True, False),
        ("closed-beside", True, False),
        ("robust", False, True),
    ):
        assert (fails(guide, worst(id_)), fails(guide, replace(mine, promise=id_))) == (next_door, here), id_
    both = put_together(*[as_drawn(streets.pair(), home) for home in ("12", "14")], kind="main-earth-lost")
    assert failing(guide, "found", "look", both).tolist() == [False, True]
    assert failing(guide, "found", "look", both.sound).tolist() == [False, False], (
        "it speaks of no healthy one"
    )


@pytest.mark.parametrize("kind", ["main-earth-lost", "service-pen-open"])
def test_the_first_street_by_number_is_found(guide: Guide, kind: str) -> None:
    assert guide.sampling is not None
    broken = sorted(
        batch.drawn[n].number
        for whole in batches(guide.sampling, range(30))
        for batch in whole.with_fault(kind)
        for n in np.flatnonzero(failing(guide, "closed-beside", "look", batch))
    )
    found = find(guide, BESIDE, "look", kind)
    assert found is not None and found.number == broken[0] and fails(guide, found)
    drawn = draw(guide.sampling, found.number)
    assert (found.home, found.seed, found.meters) == (drawn.visited, guide.sampling.seed, drawn.meters)
    assert (found.caller, found.later_kw, found.kind) == ({}, drawn.later_kw, kind)
    assert found.street.premises == drawn.street.premises and str(found.number) in found.street.title
    assert find(guide, BESIDE, "look", "healthy") is None


def test_streets_are_searched_some_at_once_until_one_is_found(
    guide: Guide, monkeypatch: pytest.MonkeyPatch
) -> None:
    kinds = ("main-earth-lost", "service-pen-open", "reversed-polarity", "mains-pen-open")
    at_once = [find(guide, FOUND, "look", kind) for kind in kinds]
    monkeypatch.setattr(counterexample_search, "_AT_ONCE", 1)
    assert [find(guide, FOUND, "look", kind) for kind in kinds] == at_once
    assert any(one and one.number > 0 for one in at_once)


def test_of_a_call_all_kinds_of_fault_are_tried_and_the_caller_kept(guide: Guide) -> None:
    assert guide.sampling is not None
    few = replace(guide, sampling=replace(guide.sampling, streets=3))
    found = find(few, HEARD, "call", "any")
    assert found is not None and found.caller == draw(guide.sampling, found.number).caller != {}


def test_where_the_promise_is_kept_there_is_nothing_to_show(guide: Guide) -> None:
    """Neither among the first some hundred streets nor after them."""
    kept = replace(guide, trees={**guide.trees, "look": replace(guide.trees["look"], start="emergency")})
    assert attach(kept, Path("nowhere"), FOUND, "look", "main-earth-lost") == ()


def test_the_worst_street_is_cut_down_kept_and_linked(guide: Guide, tmp_path: Path) -> None:
    kept, told, drawn = attach(guide, tmp_path, BESIDE, "look", "main-earth-lost")
    (path,) = tmp_path.iterdir()
    smallest = read(path)
    assert fails(guide, smallest) and len(smallest.street.premises) <= 2
    assert f"from drawn street {smallest.number}" in str(kept)
    assert "walk look --street" in str(told) and "calculators/one-street.html#" in str(drawn)


def test_a_call_is_retold_answer_by_answer(guide: Guide) -> None:
    """Who never errs says what is so; who always does, something else each time."""
    one = worst("heard", "call", fault="protective-conductor-lost@14")
    for chance, ends, wrong in ((0.0, {"routine"}, 0), (1.0, {"emergency", "urgent"}, 1)):
        report = retell_counterexample(erring(guide, chance), one, "by hand")
        (way,) = report.ways
        assert way.outcome in ends
        asked = [stage for stage in way.stages if stage.node != "say"]
        assert [stage.node for stage in way.stages][:2] == ["say", "lights"] and len(asked) == 2 - wrong
        assert sum("answered wrongly" in stage.shown for stage in asked) == wrong
        assert asked[0].shown.startswith("what is so: steady")
        assert any("is kept here" in note for note in report.notes)
    with pytest.raises(ValueError, match="does not end"):
        retell_counterexample(replace(guide, promises=(promise("heard", "round", noticed="dim"),)),
            replace(one, tree="round"), "by hand")  # fmt: skip


@pytest.mark.parametrize(
    ("tree", "id_", "says"), [("look", "other", "does not make"), ("call", "found", "no tree")]
)
def test_what_the_guide_does_not_say_any_more_is_told(guide: Guide, tree: str, id_: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        retell_counterexample(guide, worst(id_, tree), "by hand")


def test_notes_say_whether_it_is_broken_and_by_which_mistake(guide: Guide) -> None:
    notes = retell_counterexample(guide, worst("robust", fault="main-earth-lost@12"), "by hand").notes
    assert any("street 30 of seed 7" in note for note in notes)
    assert any("robust (It is robust) is broken here" in note for note in notes)
    assert any(note.endswith("look: It is") for note in notes)
    assert not any("meters" in note for note in notes), "the meters have no part in it"
    kept = retell_counterexample(guide, worst(fault="main-earth-lost@12"), "by hand").notes
    assert len(kept) == 2 and "is kept here" in kept[1]


def test_as_an_oracle_it_answers_for_its_one_street() -> None:
    one = worst(fault="main-earth-lost@12")
    batch = batch_of(one)
    oracle = DrawnOracle(batch, parse_one(one.fault))
    nothing, lifted = frozenset[Condition](), frozenset({Condition("main-earth-lifted", "12")})
    assert oracle.fact("main-earth-looks-whole", "12", nothing) == "no"
    assert oracle.fact("main-earth-looks-whole", "14", nothing) == "yes"
    on = ("line", "neutral")
    assert (
        oracle.reading("12", nothing, "voltmeter", on)
        == batch.readings("12", nothing, "voltmeter", on)[0]
        > 200
    )
    assert oracle.metalwork_volts("12", nothing) == batch.metalwork_volts("12", nothing)[0]
    broken = worst(fault="service-pen-open@12", street=parted(streets.pair()))
    there = DrawnOracle(batch_of(broken), parse_one(broken.fault))
    assert {harm.home for harm in there.harms_of(nothing, lifted)} == {"12"}
    assert all(type(harm.volts) is float and harm.volts > 50 for harm in there.harms_of(nothing, lifted))
    assert there.harms_of(lifted, lifted) == ()


def test_cases_of_other_promises_are_not_looked_at(guide: Guide) -> None:
    batch = batch_of(worst("robust", fault="main-earth-lost@12"))
    details = [case.detail for case, _, _ in cases(replace(guide, promises=(ROBUST,)), batch)]
    assert details == ["", "look: It is"]
    assert failing(guide, "robust", "look", batch).tolist() == [True]
