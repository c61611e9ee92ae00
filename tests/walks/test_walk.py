"""One search for one street and for many: what is reached, what is wrong, and a shortest way there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide, Tree
from build_tools.proof.counting import visited_streets, walk_batch
from build_tools.proof.street_batch import StreetBatch, batches
from build_tools.walks.many_faults import ManyFaults
from build_tools.walks.oracle import Oracle
from build_tools.walks.walk import Visit
from build_tools.walks.ways import Ways
from calc.faults import catalogue, parse

TESTS = Path(__file__).parents[1]
TREE = "visit"


@pytest.fixture(scope="module")
def pair() -> Guide:
    return load(TESTS / "guides" / "pair")


def parted_by_a_clamp(tree: Tree) -> Tree:
    """A tree that does the same on two ways: with a PEN open here, and with one open next door."""
    nodes = dict(tree.nodes)
    for name in ("lift", "restore", "nothing-found"):
        exits = tuple(replace(exit_, go=f"{exit_.go}-too") for exit_ in nodes[name].exits)
        nodes[f"{name}-too"] = replace(nodes[name], id=f"{name}-too", exits=exits)
    for name in ("restore", "restore-too"):
        spec = nodes[name].spec.model_copy(update={"hazards": ("touches-metalwork",)})
        nodes[name] = replace(nodes[name], spec=spec)
    low, high, *others = nodes["both"].exits
    exits = (replace(low, go="lift"), replace(high, go="lift-too"), *others)
    return replace(tree, start="both", nodes={**nodes, "both": replace(nodes["both"], exits=exits)})


@pytest.mark.parametrize("change", [lambda tree: tree, parted_by_a_clamp], ids=["as it is", "parted"])
@pytest.mark.parametrize("willing", [True, False])
def test_each_of_many_faults_comes_to_what_it_comes_to_alone(
    pair: Guide, willing: bool, change: Callable[[Tree], Tree]
) -> None:
    street, tree = pair.streets["pair"], change(pair.trees[TREE])
    faults = ManyFaults([Oracle(street, fault) for fault in catalogue(street)])
    for home in street.premises:
        among = faults.walk(tree, home, willing)
        assert all(among.ends.values()) and all(among.wrong.values())  # nothing of no street
        for bit, oracle in enumerate(faults.oracles):
            alone = ManyFaults([oracle]).walk(tree, home, willing)
            assert {node for node, some in among.ends.items() if some >> bit & 1} == alone.ends.keys()
            assert {what for what, some in among.wrong.items() if some >> bit & 1} == alone.wrong.keys()


@pytest.mark.parametrize("fault", ["healthy", "service-pen-open@2", "main-earth-lost@4"])
def test_a_way_is_told_without_a_gap_and_the_nearest_first(pair: Guide, fault: str) -> None:
    ways = Ways(pair.trees[TREE], Oracle(pair.streets["pair"], parse(fault)), "4")
    for willing in (True, False):
        told = [ending for ending in ways.endings() if ending.willing == willing]
        assert [len(ending.way) for ending in told] == sorted(len(ending.way) for ending in told)
        for ending in told:
            assert ending.way[0].visit.node == pair.trees[TREE].start
            passed = [*(passage.visit for passage in ending.way), ending.at]
            for passage, (_, after) in zip(ending.way, pairwise(passed), strict=True):
                assert passage.exit.go == after.node
            assert len(set(passed)) == len(passed)


def test_a_harm_is_told_with_its_home_and_volts(pair: Guide) -> None:
    tree, street = pair.trees[TREE], pair.streets["pair"]
    lifted = next(node for node in tree.nodes.values() if "lift-main-earth" in getattr(node.spec, "does", ()))
    ways = Ways(tree, Oracle(street, parse("service-pen-open@2")), "4")
    (one, *_) = (ending for ending in ways.endings())
    (*_, harm) = ways.wrong_at(one.way[0].visit._replace(node=lifted.id, home="4"))
    assert harm.startswith("this step can hurt: volts across the lifted main earth: 4: volts across")
    assert harm.endswith(" V)")


class Parted(ManyFaults):
    """Two streets, each with another home next door."""

    def doors(self, started_at: str, gone_to: frozenset[str]) -> tuple[tuple[str, int], ...]:
        return () if gone_to else (("2", 0b01), ("6", 0b10))


def test_each_street_has_its_own_next_door(pair: Guide) -> None:
    """What the next home is may be another from street to street; the job begins and ends at one."""
    tree = pair.trees[TREE]
    (out,), (back,) = tree.nodes["next-door"].exits, tree.nodes["back"].exits
    nodes = {
        **tree.nodes,
        "next-door": replace(tree.nodes["next-door"], exits=(replace(out, go="back"),)),
        "back": replace(tree.nodes["back"], exits=(replace(back, go="another"),)),
    }
    streets = Parted([Oracle(pair.streets["pair"], parse("healthy"))] * 2)
    asking = nodes["another"]
    leave = tuple(replace(exit_, go="danger") if exit_.is_ == "no" else exit_ for exit_ in asking.exits)
    nodes["another"] = replace(asking, exits=leave)
    walk = streets.walk(replace(tree, start="another", nodes=nodes), "4", willing=True)
    there = {visit.home: here for visit, here in walk.seen.items() if visit.node == "back"}
    assert there == {"2": 0b01, "6": 0b10}
    ended = {visit: here for visit, here in walk.seen.items() if visit.node == "danger"}
    assert ended == {
        Visit("danger", "4", frozenset({"2"})): 0b01,
        Visit("danger", "4", frozenset({"6"})): 0b10,
    }


def alone_of(batch: StreetBatch, index: int) -> StreetBatch:
    """One street of a batch."""
    return batch.only(np.arange(batch.size) == index)


@pytest.mark.parametrize("willing", [True, False])
@pytest.mark.parametrize("kind", ["healthy", "service-pen-open", "loose-neutral-tail"])
def test_each_of_many_drawn_streets_comes_to_what_it_comes_to_alone(kind: str, willing: bool) -> None:
    guide = load(TESTS.parent / "guide_src")
    assert guide.sampling is not None
    tree = guide.trees["test-one-home"]
    for whole in batches(guide.sampling, range(30)):
        batch = next(iter(whole.with_fault(kind)), None)
        if batch is None:  # no home has a PEN of its own
            continue
        among = walk_batch(tree, batch, visited_streets(batch), willing)
        for index in range(batch.size):
            one = alone_of(batch, index)
            alone = walk_batch(tree, one, visited_streets(one), willing)
            assert {node for node, mask in among.ends.items() if mask[index]} == alone.ends.keys()
            for what in ("hurt", "closed_beside", "lost"):
                assert getattr(among, what)[index] == getattr(alone, what)[0]
