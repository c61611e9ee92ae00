"""One wrong answer on the way, and callers who answer by what they notice."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import streets
from batches import as_drawn, batch_of, parted
from made_trees import made_trees
from streets import by_the_book

from build_tools.guide.trees import Guide, Tree
from build_tools.proof.caller_model import Caller, Mistakes, outcomes
from build_tools.proof.counting import endangered_streets, visited_streets
from build_tools.proof.street_batch import StreetBatch, batches, bits_of
from build_tools.proof.wrong_answers import Mistake, harmful_mistakes
from calc.faults import KINDS
from calc.sampling import Sampling

DANGERS = [kind for kind, each in KINDS.items() if each.endangers]


@pytest.fixture(scope="module")
def sampling(guide: Guide) -> Sampling:
    assert guide.sampling is not None
    return by_the_book(guide.sampling)


def faulty(sampling: Sampling, kind: str, numbers: range) -> list[StreetBatch]:
    return [part for whole in batches(sampling, numbers) for part in whole.with_fault(kind)]


def mistakes(tree: Tree, sampling: Sampling, kind: str, numbers: range = range(150)) -> Counter[Mistake]:
    counted: Counter[Mistake] = Counter()
    for batch in faulty(sampling, kind, numbers):
        found = harmful_mistakes(tree, batch, visited_streets(batch))
        counted.update({mistake: int(mask.sum()) for mistake, mask in found.items()})
    return counted


def without_guards(tree: Tree, *guards: str) -> Tree:
    """The tree with questions taken out: what led to one leads on to where its "no" led."""

    def past(name: str) -> str:
        while name in guards:
            name = next(exit_.go for exit_ in tree.nodes[name].exits if exit_.is_ == "no")
        return name

    nodes = {
        name: replace(node, exits=tuple(replace(exit_, go=past(exit_.go)) for exit_ in node.exits))
        for name, node in tree.nodes.items()
    }
    return replace(tree, nodes=nodes)


@pytest.mark.parametrize(
    "kind", ["service-pen-open", "main-earth-lost", "mains-pen-open", "loose-neutral-tail"]
)
def test_no_single_mistake_hurts_on_the_shipped_tree(guide: Guide, sampling: Sampling, kind: str) -> None:
    assert mistakes(guide.trees["bright-and-dim-lights"], sampling, kind) == Counter()


GONE_ON_FROM = {"another": "metal-again", "another-more": "come-back"}
"""Where another home is asked for, and what follows where there is none."""


def none_left(asked: str) -> Mistake:
    """Who is asked for another home says that there is none."""
    return Mistake(asked, "No, all have been tested or there is none")


def test_a_home_missed_is_harmful_where_nobody_asks_twice(guide: Guide, sampling: Sampling) -> None:
    tree = without_guards(guide.trees["bright-and-dim-lights"], "homes-read-out", "joint-read-out")
    assert mistakes(tree, sampling, "service-pen-open").keys() == set(map(none_left, GONE_ON_FROM))
    assert mistakes(tree, sampling, "mains-pen-open").keys() == {Mistake("past-a-joint", "No, none does")}


def test_what_one_mistake_leads_to_is_what_taking_it_leads_to(guide: Guide, sampling: Sampling) -> None:
    """The same found the long way: the exit made right by force, and the tree walked from there."""
    from build_tools.walks.walk import Visit, Walk

    tree = without_guards(guide.trees["bright-and-dim-lights"], "homes-read-out", "joint-read-out")
    missed = 0
    for batch in faulty(sampling, "service-pen-open", range(200)):
        endangered = endangered_streets(batch)
        found = harmful_mistakes(tree, batch, visited_streets(batch))
        for home, mask in visited_streets(batch).items():
            first = Walk(tree, batch, willing=True)
            first.from_home(home, bits_of(mask))
            by_mistake = dict.fromkeys(GONE_ON_FROM, 0)
            for visit, here in first.seen.items():
                if visit.node in GONE_ON_FROM:
                    wrong = here & bits_of(batch.next_door(home, visit.gone_to) != "")
                    forced = Walk(tree, batch, willing=True)
                    on = GONE_ON_FROM[visit.node]
                    forced.from_visit(Visit(on, visit.home, visit.gone_to, visit.conditions), home, wrong)
                    by_mistake[visit.node] |= forced.ends.get("sound", 0) & bits_of(endangered)
            for asked, ended in by_mistake.items():
                missed += ended.bit_count()
                harmful = found.get(none_left(asked), np.zeros(batch.size, bool))
                assert bits_of(harmful & mask) == ended, asked
    assert missed > 5


@pytest.fixture(scope="module", params=["healthy", "mains-pen-open"])
def caller(request: pytest.FixtureRequest, sampling: Sampling) -> Caller:
    (batch, *_) = faulty(sampling, request.param, range(200))
    return Caller(batch, visited_streets(batch))


def test_callers_of_healthy_streets_notice_next_to_nothing_dangerous(sampling: Sampling) -> None:
    """A wet hand that feels 0.6 mA feels the 1.5 V of a sound neutral under load: one in some hundred."""
    felt = 0
    for batch in faulty(sampling, "healthy", range(200)):
        caller = Caller(batch, visited_streets(batch))
        felt += int(caller.noticed("tingle").sum())
        assert not caller.noticed("bright").any()
        assert not caller.in_danger().any()
    assert felt <= 2


def test_a_broken_main_is_noticed_by_many_and_the_same_words_come_of_it(sampling: Sampling) -> None:
    felt = bright = 0
    for batch in faulty(sampling, "mains-pen-open", range(200)):
        caller = Caller(batch, visited_streets(batch))
        felt += int(caller.noticed("tingle").sum())
        bright += int(caller.noticed("bright").sum())
        either = caller.noticed("tingle") | caller.noticed("bright")
        assert ((caller.words("danger") == "yes") == either).all()
    assert felt > 100
    assert bright > 40


@pytest.mark.parametrize("id_", ["caller-intake", "caller-tingle", "caller-lights", "caller-neighbour"])
def test_a_caller_without_mistakes_is_led_by_what_is_so(guide: Guide, caller: Caller, id_: str) -> None:
    tree = guide.trees[id_]
    ends = outcomes(tree, caller, 1, Mistakes(0.0))
    assert sum(int(mask.sum()) for mask in ends.values()) == caller.batch.size
    emergency = np.zeros(caller.batch.size, bool)
    for node, mask in ends.items():
        if getattr(tree.nodes[node].spec, "priority", None) == "emergency":
            emergency |= mask
    in_danger = caller.words("danger") == "yes"
    assert (emergency >= in_danger).all()
    if caller.batch.kind == "healthy":
        assert not emergency.any()


def test_one_answer_in_twenty_is_wrong(guide: Guide, sampling: Sampling) -> None:
    tree = guide.trees["caller-tingle"]
    (batch, *_) = faulty(sampling, "healthy", range(3000))
    ends = outcomes(tree, Caller(batch, visited_streets(batch)), 1, Mistakes(0.05))
    once_wrong = ends["get-out"].mean() / 0.05
    assert 0.02 < once_wrong < 0.07, (
        "the second answer is one in twenty too, five of its six wrong ones a danger"
    )
    again = outcomes(tree, Caller(batch, visited_streets(batch)), 1, Mistakes(0.05))
    assert all((again[node] == mask).all() for node, mask in ends.items())


MISLED = """
  first: {question: Whole?, fact: main-earth-looks-whole, answers: [
    {answer: It is, is: "yes", go: either}, {answer: It is not, is: "no", go: turn},
    {answer: Cannot see, go: round}]}
  round: {step: Look again., go: turn}
  turn: {question: Seen?, answers: [{answer: At last, go: lift}, {answer: Not yet, go: round}]}
  lift: {step: Lift., does: [lift-main-earth], go: soon}
  either: {question: Which?, answers: [{answer: One, go: second}, {answer: Two, go: second}]}
  second: {question: Shares?, fact: shares-metalwork, answers: [
    {answer: It does, is: "yes", go: kept}, {answer: It does not, is: "no", go: say},
    {answer: No record, go: third}]}
  say: {step: Say so., go: third}
  third: {question: Whole?, fact: main-earth-looks-whole, answers: [{answer: Yes, is: "yes", go: closed},
    {answer: No, is: "no", go: urgent}]}
  kept: {outcome: Keep it in mind., priority: soon}
"""


def test_each_mistake_is_told_by_itself_with_the_streets_where_it_hurts(tmp_path: Path) -> None:
    """With a service PEN open at 12: on a street with no pipe, on one with a pipe, and seen from next door
    with no pipe, where nothing hurts. Harm may come of a mistake some steps on, and round a loop; the right
    answer is none, nor any where nothing decides, nor one that leads to no danger."""
    tree = made_trees(tmp_path, "site", misled=MISLED)["misled"]
    apart = parted(streets.pair())
    drawn = (as_drawn(apart), as_drawn(streets.pair()), as_drawn(apart, "14"))
    batch = batch_of(*drawn, kind="service-pen-open")
    found = harmful_mistakes(tree, batch, visited_streets(batch))
    assert {(each.node, each.answer): mask.tolist() for each, mask in found.items()} == {
        ("first", "It is not"): [True, True, False],
        ("first", "Cannot see"): [True, True, False],
        ("second", "It does not"): [False, True, False],
        ("second", "No record"): [True, True, False],
    }
