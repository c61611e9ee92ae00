"""The walks that a tree's page replays are walks of the tree, each of a fault that matters."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from changed_trees import asking, with_spec

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide
from build_tools.setup import result_cache
from build_tools.walks import replays
from build_tools.walks.ends import ends_on
from build_tools.walks.replays import Replay, replays_on
from calc import faults
from calc.instruments import read
from calc.street import network

PAIR = Path(__file__).parents[1] / "guides" / "pair"


@pytest.fixture(scope="module")
def pair() -> Guide:
    return load(PAIR)


@pytest.fixture(scope="module")
def replayed(pair: Guide) -> tuple[Replay, ...]:
    return replays_on(pair.streets["pair"], pair.trees.values())["visit"]


def test_the_first_reading_is_the_instruments_own(pair: Guide, replayed: tuple[Replay, ...]) -> None:
    """Held against `calc.instruments` on a network made here, without the walk."""
    for replay in replayed:
        hop = replay.hops[0]
        spec: Any = pair.trees["visit"].nodes[hop.node].spec
        there = replay.fault.applied_to(network(pair.streets["pair"]))
        assert hop.display == read(there, replay.home, spec.instrument, spec.on).text


def test_each_hop_leads_to_the_next_and_the_last_to_the_outcome(
    pair: Guide, replayed: tuple[Replay, ...]
) -> None:
    nodes = pair.trees["visit"].nodes
    for replay in replayed:
        assert (replay.hops[0].node, replay.hops[0].home) == ("probe", replay.home)
        led = [nodes[hop.node].exits[hop.exit].go for hop in replay.hops]
        assert led == [*(hop.node for hop in replay.hops[1:]), replay.outcome]
        assert nodes[replay.outcome].kind == "outcome"


def test_each_comes_to_what_is_found_at_a_home_of_the_fault(
    pair: Guide, replayed: tuple[Replay, ...]
) -> None:
    street = pair.streets["pair"]
    ends = ends_on(street, pair.trees.values())["visit"]
    for replay in replayed:
        assert replay.home in (replay.fault.homes(street) or street.premises)
        assert replay.outcome in ends[str(replay.fault), replay.home].found


def test_there_is_one_for_the_healthy_street_and_every_fault_that_endangers_where_it_first_can_be(
    pair: Guide, replayed: tuple[Replay, ...]
) -> None:
    first: dict[str, faults.Fault] = {}
    for fault in faults.catalogue(pair.streets["pair"]):
        if faults.KINDS[fault.kind].keeps_open or fault.kind == "healthy":
            first.setdefault(fault.kind, fault)
    assert [replay.fault for replay in replayed] == list(first.values())


def test_what_is_found_comes_before_a_nearer_end_that_an_answer_alone_leads_to(
    pair: Guide, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody is hurt and the smoke is not asked about, so that the walk shows the tests; but the end that is
    written for a fault is shown for it."""
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path)
    tree, street = pair.trees["visit"], pair.streets["pair"]
    known = with_spec(tree, "danger", holds=("main-earth-lost",)).nodes["danger"]
    tree = replace(tree, nodes={**tree.nodes, "known": replace(known, id="known")})
    tree = asking(asking(tree, "is-it-known", "known", "probe"), "hurt", "not-proven", "is-it-known")
    outcomes = {replay.fault.kind: replay.outcome for replay in replays_on(street, [tree])["visit"]}
    assert outcomes.pop("main-earth-lost") == "known"
    assert outcomes.pop("healthy") == "nothing-found"
    assert set(outcomes.values()) == {"danger"}


def test_a_tree_that_is_not_walked_has_none_and_no_tree_is_walked_twice(
    pair: Guide, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path)
    call = replace(pair.trees["visit"], id="call", audience="call")
    trees, street = (pair.trees["visit"], call), pair.streets["pair"]
    once = replays_on(street, iter(trees))
    assert once.keys() == {"visit"}
    monkeypatch.setattr(replays, "kept_oracles", lambda *_: pytest.fail("walked again"))
    assert replays_on(street, trees) == once


def test_another_step_in_any_tree_is_walked_anew(
    pair: Guide, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path)
    one, street = pair.trees["visit"], pair.streets["pair"]
    replays_on(street, [one, replace(one, id="two")])
    changed = replays_on(street, [one, replace(one, id="two", start="look")])["two"]
    assert {replay.hops[0].node for replay in changed} == {"look"}
