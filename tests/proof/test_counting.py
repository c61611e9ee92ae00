"""What is counted of each promise, held against walks and streets one by one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import pytest

from build_tools.guide.models import Outcome
from build_tools.guide.trees import Guide, Node, Tree
from build_tools.proof.caller_model import Caller, answers, chance, mistakes, outcomes
from build_tools.proof.cases import ANY, Case
from build_tools.proof.counting import cases, count, endangered_streets, visited_streets, walk_batch
from build_tools.proof.street_batch import StreetBatch, faulty_batches
from calc.danger import endangered_homes
from calc.faults import KINDS

DANGEROUS = sorted(kind for kind, each in KINDS.items() if each.endangers and not each.beyond_meter)
HARMLESS = sorted(KINDS.keys() - DANGEROUS)


def faulty(guide: Guide, kind: str, streets: int = 40) -> list[StreetBatch]:
    assert guide.sampling is not None
    return list(faulty_batches(guide.sampling, range(streets), [kind]))


def promising(guide: Guide, *kinds: str, **altered: Any) -> Guide:
    """The guide with its promises of some kinds only."""
    kept = (promise.model_copy(update=altered) for promise in guide.promises if promise.kind in kinds)
    return replace(guide, promises=tuple(kept))


def kind_of(guide: Guide, promise: str) -> str:
    """The kind of a promise by its id."""
    return next(one.kind for one in guide.promises if one.id == promise)


def erring(guide: Guide, chance: float) -> Guide:
    """The guide whose callers err so often."""
    assert guide.sampling is not None
    spreads = guide.sampling.spreads
    spreads = spreads | {"caller-errs": replace(spreads["caller-errs"], chance=chance)}
    return replace(guide, sampling=replace(guide.sampling, spreads=spreads))


def with_nodes(guide: Guide, tree: Tree, *nodes: Node) -> Guide:
    """The guide in which a tree has other nodes in place of its own."""
    other = replace(tree, nodes={**tree.nodes, **{node.id: node for node in nodes}})
    return replace(guide, trees={**guide.trees, tree.id: other})


@pytest.mark.parametrize("kind", ["service-pen-open", "mains-pen-open", "healthy", "high-volts"])
def test_each_street_is_visited_at_one_home_and_is_endangered_as_it_is_alone(guide: Guide, kind: str) -> None:
    seen = set()
    for batch in faulty(guide, kind):
        visited, endangered = visited_streets(batch), endangered_streets(batch)
        assert sum(mask.astype(int) for mask in visited.values()).tolist() == [1] * batch.size
        for i, home in enumerate(drawn.visited for drawn in batch.drawn):
            assert visited[home][i]
            fault = batch.fault(i)
            street = batch.drawn[i].street
            alone = kind in DANGEROUS and home in endangered_homes(street, fault.homes(street))
            assert endangered[i] == alone, (kind, home, fault)
            seen.add(bool(alone))
    assert seen == ({True, False} if kind == "service-pen-open" else seen)


class Alone(NamedTuple):
    """What the walks of a tree come to in one street."""

    closes: bool
    hurts: bool
    closes_beside_danger: bool
    is_lost: bool


def counted_alone(tree: Tree, batch: StreetBatch, willing: bool) -> Iterator[Alone]:
    """For each street what its walks come to."""
    walked = walk_batch(tree, batch, visited_streets(batch), willing)
    for i in range(batch.size):
        ends = {node for node, mask in walked.ends.items() if mask[i]}
        closes = any(getattr(tree.nodes[node].spec, "closes", False) for node in ends)
        wrong = (bool(mask[i]) for mask in (walked.hurt, walked.closed_beside, walked.lost))
        yield Alone(closes, *wrong)


@pytest.mark.parametrize("kind", ["service-pen-open", "mains-pen-open"])
def test_a_danger_is_found_where_the_walk_neither_closes_nor_is_lost(guide: Guide, kind: str) -> None:
    some = promising(guide, "found", "elsewhere")
    for batch in faulty(guide, kind, 25):
        endangered = endangered_streets(batch)
        for case, asked, happened in cases(some, batch):
            walks = counted_alone(guide.trees[case.tree], batch, willing=True)
            assert happened.tolist() == [not (one.closes or one.is_lost) for one in walks]
            assert (
                asked.tolist()
                == (endangered if kind_of(guide, case.promise) == "found" else ~endangered).tolist()
            )


def test_a_walk_that_is_lost_has_found_nothing(guide: Guide) -> None:
    """Whatever is found at the first question that decides, no answer fits it any more."""
    tree = guide.trees["test-one-home"]
    deciding = next(node for node in tree.nodes.values() if node.kind == "reading" and node.id == "volts")
    kept = tuple(one for one in deciding.exits if one.kind not in ("range", "over_range"))
    lame = with_nodes(guide, tree, replace(deciding, exits=kept))
    promises = promising(lame, "found", "elsewhere", trees=(tree.id,))
    lost = found = 0
    for batch in faulty(guide, "service-pen-open"):
        walked = walk_batch(lame.trees[tree.id], batch, visited_streets(batch), willing=True)
        lost += int(walked.lost.sum())
        for _, _, happened in cases(promises, batch):
            assert not (happened & walked.lost).any()
            found += int(happened.sum())
    assert lost > 10


def test_harm_is_counted_over_every_answer_and_closing_over_what_is_found(guide: Guide) -> None:
    some = promising(guide, "no-harm", "closed-beside", "useful")
    for kind in ("healthy", "service-pen-open"):
        for batch in faulty(guide, kind, 25):
            rows = {(case.promise, case.tree, case.detail): (a, h) for case, a, h in cases(some, batch)}
            for (promise, tree, detail), (asked, happened) in rows.items():
                if detail:
                    continue
                walks = list(
                    counted_alone(guide.trees[tree], batch, willing=kind_of(guide, promise) == "useful")
                )
                kind_of_it = kind_of(guide, promise)
                told = {"useful": "closes", "no-harm": "hurts", "closed-beside": "closes_beside_danger"}
                assert happened.tolist() == [getattr(one, told[kind_of_it]) for one in walks]
                endangered = endangered_streets(batch)
                assert (
                    asked.tolist()
                    == (endangered if kind_of_it == "closed-beside" else endangered | True).tolist()
                )


def test_where_a_healthy_street_ends_instead_of_closed_is_told_by_outcome(guide: Guide) -> None:
    some = promising(guide, "useful")
    for batch in faulty(guide, "healthy"):
        rows = {(case.tree, case.detail): (asked, happened) for case, asked, happened in cases(some, batch)}
        for (tree, node), (asked, happened) in rows.items():
            if node:
                closed = rows[tree, ""][1]
                walked = walk_batch(guide.trees[tree], batch, visited_streets(batch), willing=True)
                assert happened.tolist() == walked.ends[node].tolist()
                assert asked.tolist() == (happened & ~closed).tolist()


def test_a_tree_that_closes_at_once_hurts_wherever_a_home_is_endangered(guide: Guide) -> None:
    """From every home, and beside every danger: closed beside it, and nothing else is wrong."""
    tree = guide.trees["bright-and-dim-lights"]
    closing = next(node for node in tree.nodes.values() if getattr(node.spec, "closes", False))
    at_once = replace(tree, start=closing.id)
    hurt = 0
    for kind in DANGEROUS:
        for batch in faulty(guide, kind, 12):
            for home in batch.street.premises:
                every = {home: np.ones(batch.size, bool)}
                walked = walk_batch(at_once, batch, every, willing=True)
                for i, drawn in enumerate(batch.drawn):
                    homes = batch.fault(i).homes(drawn.street)
                    assert walked.closed_beside[i] == (home in endangered_homes(drawn.street, homes)), (
                        kind,
                        home,
                    )
                hurt += int(walked.closed_beside.sum())
                assert not walked.lost.any() and not walked.hurt.any()
    assert hurt > 100
    for kind in HARMLESS:
        for batch in faulty(guide, kind, 12):
            walked = walk_batch(at_once, batch, visited_streets(batch), willing=True)
            assert not walked.hurt.any() and not walked.closed_beside.any()


def test_which_promise_speaks_of_which_fault(guide: Guide) -> None:
    about: dict[str, set[str]] = {}
    for kind in ("healthy", "high-volts", "service-pen-open"):
        about[kind] = {case.promise for batch in faulty(guide, kind, 6) for case, _, _ in cases(guide, batch)}

    def promised(kind: str, *of: str) -> set[str]:
        spoken_of = (one for one in guide.promises if not one.faults or kind in one.faults)
        return {one.id for one in spoken_of if one.kind in of}

    dangers = {one.kind for one in guide.promises} - {"useful", "calm"}
    assert about["service-pen-open"] == promised("service-pen-open", *dangers)
    assert about["healthy"] == promised("healthy", "useful", "calm")
    assert about["high-volts"] == promised("high-volts", "calm")


@pytest.mark.parametrize("errs", [0.0, 0.4])
def test_callers_err_as_often_as_the_sampling_says(guide: Guide, errs: float) -> None:
    """Who has nothing to tell is given no emergency, but by a wrong answer."""
    some = promising(erring(guide, errs), "calm")
    given = asked = 0
    for batch in faulty(guide, "healthy", 200):
        for case, of, happened in cases(some, batch):
            if case.fault == ANY:
                asked += int(of.sum())
                given += int((of & happened).sum())
    assert asked > 100
    assert (given > 0.1 * asked) if errs else (given == 0)


def test_a_call_is_counted_by_the_priority_that_it_ends_with(guide: Guide) -> None:
    assert guide.sampling is not None
    worse = ["emergency", "urgent", "soon", "routine", "unsettled"]
    seen = set()
    for batch in faulty(guide, "mains-pen-open", 60):
        caller = Caller(batch, visited_streets(batch))
        err = mistakes(guide.sampling)
        for promise in (one for one in guide.promises if one.kind == "heard"):
            some = replace(guide, promises=(promise,))
            rows = {(case.tree, case.fault): (a, h) for case, a, h in cases(some, batch)}
            for tree in promise.trees:
                ends = outcomes(guide.trees[tree], caller, guide.sampling.seed, err)
                given = np.zeros(batch.size, bool)
                for node, mask in ends.items():
                    spec = guide.trees[tree].nodes[node].spec
                    assert isinstance(spec, Outcome)
                    seen.add(spec.priority)
                    if spec.priority in worse[: worse.index(promise.priority) + 1]:
                        given |= mask
                asked = caller.noticed(promise.noticed or "")
                for fault in (batch.kind, ANY):
                    got_asked, got = rows[tree, fault]
                    assert got_asked.tolist() == asked.tolist()
                    assert got.tolist() == given.tolist()
    assert len(seen) > 1


def test_a_count_is_of_the_streets_that_were_asked(guide: Guide) -> None:
    some = promising(guide, "found")
    counts = count(some, range(30), ["service-pen-open"])
    for promise in (one for one in some.promises if "service-pen-open" in one.faults):
        for tree in promise.trees:
            case = Case(promise.id, tree, "service-pen-open")
            asked = happened = 0
            for batch in faulty(guide, "service-pen-open", 30):
                for one, of, found in cases(some, batch):
                    if one == case:
                        asked += int(of.sum())
                        happened += int((of & found).sum())
            assert (counts[case, "asked"], counts[case, "happened"]) == (asked, happened)
            assert 0 < happened <= asked < 30


# What callers say.


@pytest.fixture(scope="module")
def asked(guide: Guide) -> Node:
    """A question of a call tree with two answers."""
    nodes = (node for tree in guide.trees.values() for node in tree.nodes.values() if tree.audience == "call")
    return next(node for node in nodes if node.kind == "question" and len({e.is_ for e in node.exits}) >= 2)


def test_a_wrong_answer_is_any_other_one_and_as_often_as_is_said(asked: Node) -> None:
    words = np.array([asked.exits[0].is_] * 10_000)
    lot = (np.arange(10_000) + 0.5) / 10_000
    places = answers(asked, words, lot, 0.05)
    assert (places != 0).mean() == pytest.approx(0.05, abs=2e-4)
    others = len(asked.exits) - 1
    for place in range(1, len(asked.exits)):
        assert (places == place).mean() == pytest.approx(0.05 / others, abs=2e-4)
    assert (answers(asked, words, lot, 0.0) == 0).all()


def test_a_wrong_answer_is_never_the_right_one(asked: Node) -> None:
    lot = np.full(len(asked.exits), 0.01)
    words = np.array([exit_.is_ for exit_ in asked.exits])
    right = [next(i for i, one in enumerate(asked.exits) if one.is_ == word) for word in words]
    assert (answers(asked, words, lot, 0.05) != np.array(right)).all()
    assert answers(asked, words, np.full(len(words), 0.06), 0.05).tolist() == right


def test_a_word_that_no_answer_stands_for_is_refused(asked: Node) -> None:
    with pytest.raises(KeyError, match="no answer stands for"):
        answers(asked, np.array(["perhaps"]), np.array([0.5]), 0.05)


def test_lots_are_even_and_each_question_has_its_own(guide: Guide) -> None:
    (batch, *_) = faulty(guide, "healthy", 2000)
    one, other = chance("tree", "node", batch, 1), chance("tree", "another", batch, 1)
    for lot in (one, other):
        assert lot.shape == (batch.size,)
        assert (np.histogram(lot, 4, (0, 1))[0] > 0.2 * batch.size).all()
    for lot in (other, chance("tree", "node", batch, 2), chance("other", "node", batch, 1)):
        # unrelated numbers: four standard errors
        assert abs(np.corrcoef(one, lot)[0, 1]) < 4 / np.sqrt(batch.size)
    alone = batch.only(np.arange(batch.size) == 3)
    assert chance("tree", "node", alone, 1).tolist() == [one[3]]
