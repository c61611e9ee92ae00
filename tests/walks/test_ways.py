"""What a way is told by: each hop in words, and what is wrong there with its figures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from changed_trees import with_spec, without_exit

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide, Tree
from build_tools.walks.oracle import Oracle
from build_tools.walks.walk import TOUCHED
from build_tools.walks.ways import Ways
from calc.danger import Harm, metalwork_volts
from calc.faults import parse
from calc.instruments import read
from calc.street import network

PAIR = Path(__file__).parents[1] / "guides" / "pair"


@pytest.fixture(scope="module")
def pair() -> Guide:
    return load(PAIR)


def ways(guide: Guide, tree: Tree, fault: str, home: str = "4") -> Ways:
    return Ways(tree, Oracle(guide.streets["pair"], parse(fault)), home)


def test_each_hop_says_what_was_shown_answered_or_done(pair: Guide) -> None:
    told = ways(pair, pair.trees["visit"], "healthy")
    found, not_taken = told.endings()
    volts = read(network(pair.streets["pair"]), "4", "voltmeter", ("earth", "independent_earth")).text
    assert [hop.what for hop in found.hops[:2]] == [
        f"probe: voltmeter on earth, independent_earth shows {volts}",
        "look: answered 'It is'",
    ]
    assert found.hops[-1].what == "restore: done"
    assert [hop.what for hop in not_taken.hops] == ["probe: could not take it"]
    assert not any(passage.display for passage in not_taken.way)


MISSING = [  # a fault, the node, the answer that is not written, what is told there
    ("main-earth-lost@4", "look", "It is not", "main-earth-looks-whole is 'no'"),
    ("healthy", "another", "There is", "another-home-to-test is 'yes'"),
    ("healthy", "another", "There is none", "another-home-to-test is 'no'"),
]


@pytest.mark.parametrize(("fault", "node", "label", "detail"), MISSING)
def test_what_no_answer_fits_is_told(pair: Guide, fault: str, node: str, label: str, detail: str) -> None:
    (trouble,) = ways(pair, without_exit(pair.trees["visit"], node, label), fault).troubles()
    assert (trouble.kind, trouble.node, trouble.detail) == ("no-answer", node, detail)


def test_a_reading_that_no_range_holds_is_told_as_it_is_shown(pair: Guide) -> None:
    tree = replace(without_exit(pair.trees["visit"], "both", "next to nothing"), start="both")
    told = ways(pair, tree, "service-pen-open@4")
    there = parse("service-pen-open@4").applied_to(network(pair.streets["pair"]))
    shown = read(there, "4", "clamp", ("neutral_tail", "main_earth")).text
    assert [trouble.detail for trouble in told.troubles()] == [f"clamp shows {shown}"]


def test_metal_that_is_touched_while_live_is_told_with_its_volts(pair: Guide) -> None:
    fault = "service-pen-open@6"  # nobody shares a pipe with it
    lifting = with_spec(pair.trees["visit"], "lift", hazards=("touches-metalwork",), does=())
    told = ways(pair, replace(lifting, start="lift"), fault, home="6")
    volts = metalwork_volts(parse(fault).applied_to(network(pair.streets["pair"])), "6")
    expected = str(Harm("6", TOUCHED, volts))
    assert [trouble.detail for trouble in told.troubles() if trouble.kind == "harm"] == [expected]
    first = next(iter(told.endings())).way[0]
    assert list(told.wrong_at(first.visit)) == [f"this step can hurt: {TOUCHED}: {expected}"]
