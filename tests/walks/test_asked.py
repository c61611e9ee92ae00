"""Which answer fits what is found, which faults an oracle endangers, and what walks from every home meet."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import streets
from changed_trees import with_last_exit, with_spec

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide, Tree
from build_tools.setup import result_cache
from build_tools.walks import ends
from build_tools.walks.asked_exits import AskedExit, asked_by, leads_to
from build_tools.walks.ends import acts, ends_on
from build_tools.walks.many_faults import ManyFaults
from build_tools.walks.oracle import Conditions, Oracle, kept_oracles
from build_tools.walks.walkable import can_be_walked, places
from build_tools.walks.ways import Ways
from calc.danger import HARMS, METALWORK_LIVE, measured, metalwork_volts, new_harms
from calc.faults import KINDS, catalogue, parse
from calc.instruments import CLAMPED, TOUCHED, reading
from calc.street import Street, network
from calc.symptoms import fact
from calc.work import Condition, as_worked, done

STREETS = (streets.pair(), streets.mixed(), streets.terrace())
PAIR = Path(__file__).parents[1] / "guides" / "pair"


@pytest.fixture(scope="module")
def pair() -> Guide:
    return load(PAIR)


FITS = [  # an exit, what is found, whether it leads there
    (AskedExit("range", 2, 5, None), 2, True),
    (AskedExit("range", 2, 5, None), 4.99, True),
    (AskedExit("range", 2, 5, None), 5, False),
    (AskedExit("range", 2, 5, None), 1.99, False),
    (AskedExit("range", 2, math.inf, None), math.inf, False),
    (AskedExit("range", -math.inf, math.inf, None), math.nan, False),
    (AskedExit("over_range", 0, math.inf, None), math.inf, True),
    (AskedExit("over_range", 0, math.inf, None), 3, False),
    (AskedExit("not_taken", 0, math.inf, None), math.nan, True),
    (AskedExit("not_taken", 0, math.inf, None), 3, False),
    (AskedExit("not_steady", 0, math.inf, None), 3, False),
    (AskedExit("answer", 0, math.inf, "yes"), "yes", True),
    (AskedExit("answer", 0, math.inf, "yes"), "no", False),
]


@pytest.mark.parametrize(("exit_", "found", "leads"), FITS)
def test_an_exit_fits_what_is_found(exit_: AskedExit, found: object, leads: bool) -> None:
    assert bool(leads_to(found, exit_)) == leads
    if not isinstance(found, str):
        assert np.broadcast_to(leads_to(np.array([found, found]), exit_), 2).tolist() == [leads, leads]


def test_a_node_asks_by_its_fact_or_its_instrument(pair: Guide) -> None:
    nodes = pair.trees["visit"].nodes
    look, probe = asked_by(nodes["look"]), asked_by(nodes["probe"])
    assert look and (look.fact, look.instrument, look.on) == ("main-earth-looks-whole", "", ())
    assert probe and (probe.fact, probe.instrument) == ("", "voltmeter")
    assert probe.on == ("earth", "independent_earth")
    assert [exit_.kind for exit_ in probe.exits] == [exit_.kind for exit_ in nodes["probe"].exits]
    assert asked_by(nodes["lift"]) is asked_by(nodes["danger"]) is None


@pytest.mark.parametrize("street", STREETS, ids=lambda street: street.title)
def test_a_fault_endangers_its_homes_and_who_shares_their_metalwork(street: Street) -> None:
    for fault in catalogue(street):
        expected = set()
        if KINDS[fault.kind].endangers and not KINDS[fault.kind].beyond_meter:
            for home in fault.homes(street):
                expected |= {home, *street.sharing_metalwork(home)}
        assert Oracle(street, fault).endangered == expected, fault


def test_an_oracle_says_what_the_circuit_says_and_remembers_it() -> None:
    street, fault = streets.pair(), parse("service-pen-open@14")
    oracle = Oracle(street, fault)
    nothing, lifted = frozenset[Condition](), frozenset({Condition("main-earth-lifted", "12")})
    whole = fault.applied_to(network(street))
    worked = as_worked(whole, lifted)
    for _ in range(2):
        for home in ("12", "14"):
            for conditions, there in ((nothing, whole), (lifted, worked)):
                on = ("earth", "independent_earth")
                volts = oracle.reading(home, conditions, "voltmeter", on)
                assert volts == reading(there, home, "voltmeter", on)
                assert oracle.fact("lights", home, conditions) == fact("lights", there, home)
                assert oracle.metalwork_volts(home, conditions) == metalwork_volts(there, home)
        assert oracle.harms_of(nothing, lifted) == new_harms(measured(whole), measured(worked)) != ()
        assert oracle.asked_anew == 13  # each once, however often it is asked


def closing_at_once(tree: Tree) -> Tree:
    """The tree that closes the job before anything is asked."""
    return replace(tree, start="nothing-found")


@pytest.mark.parametrize("street", STREETS, ids=lambda street: street.title)
def test_closing_at_once_is_wrong_from_every_home_that_is_endangered(pair: Guide, street: Street) -> None:
    """Nobody else would say so: each fault, from each home, and at no other."""
    tree = closing_at_once(pair.trees["visit"])
    faults = ManyFaults([Oracle(street, fault) for fault in catalogue(street)])
    hurt = set()
    for home in street.premises:
        walk = faults.walk(tree, home, willing=True)
        for bit, oracle in enumerate(faults.oracles):
            kinds = {kind for (_, kind, _), bits in walk.wrong.items() if bits >> bit & 1}
            danger = home in oracle.endangered
            assert kinds == ({"closed-beside-danger"} if danger else set()), (home, oracle.fault)
            assert [t.kind for t in Ways(tree, oracle, home).troubles()] == sorted(kinds)
            if danger:
                hurt.add(home)
    assert hurt == set(street.premises)


def test_an_end_that_tells_nobody_is_wrong_beside_a_danger_only(pair: Guide) -> None:
    tree = pair.trees["visit"]
    at_once = replace(with_spec(tree, "danger", hand_over=None), start="danger")
    for fault, expected in (("service-pen-open@2", {"kept-beside-danger"}), ("healthy", set())):
        walk = ManyFaults([Oracle(pair.streets["pair"], parse(fault))]).walk(at_once, "4", willing=True)
        assert {kind for _, kind, _ in walk.wrong} == expected
    told = ManyFaults([Oracle(pair.streets["pair"], parse("service-pen-open@2"))])
    assert told.walk(replace(tree, start="danger"), "4", willing=True).wrong == {}


def test_a_step_on_live_metal_is_wrong_where_it_is_above_the_limit(pair: Guide) -> None:
    tree = pair.trees["visit"]
    at_once = replace(with_spec(tree, "lift", hazards=("touches-metalwork",), does=()), start="lift")
    street = streets.terrace(pipe=None)
    live = 0
    for fault in catalogue(street):
        for home in street.premises:
            oracle = Oracle(street, fault)
            walk = ManyFaults([oracle]).walk(at_once, home, willing=True)
            hurts = any(node == "lift" and kind == "harm" for node, kind, _ in walk.wrong)
            expected = bool(HARMS[METALWORK_LIVE](oracle.metalwork_volts(home, frozenset())))
            assert hurts == expected, (fault, home)
            live += expected
    assert live > 3


def test_lifting_an_earth_is_wrong_where_it_raises_a_harm(pair: Guide) -> None:
    at_once = replace(pair.trees["visit"], start="lift")
    street = streets.pair()
    hurts = 0
    for fault in catalogue(street):
        for home in street.premises:
            oracle = Oracle(street, fault)
            lifted = frozenset[Condition]()
            for action in at_once.nodes["lift"].spec.does:
                lifted = done(lifted, action, home)
            raised = {(h.home, h.what) for h in oracle.harms_of(frozenset(), lifted)}
            raised.discard((home, "supply lost or far too low"))  # switched off on purpose
            walk = ManyFaults([oracle]).walk(at_once, home, willing=True)
            told = {what for _, kind, what in walk.wrong if kind == "harm"}
            assert told == {f"this step can hurt: {what}" for _, what in raised}
            hurts += bool(raised)
    assert hurts > 1


def test_ends_are_those_of_the_walks_one_by_one(
    pair: Guide, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path)
    street = pair.streets["pair"]
    kept = None
    for _ in range(2):  # reckoned, then recalled
        found = ends_on(street, pair.trees.values())
        assert found.keys() == {"visit"}
        cases = {(str(fault), home) for fault in catalogue(street) for home in street.premises}
        assert found["visit"].keys() == cases
        for (fault, home), come_to in found["visit"].items():
            ways = Ways(pair.trees["visit"], Oracle(street, parse(fault)), home)
            told = {ending.node: ending.willing for ending in ways.endings()}
            assert come_to.found == {node for node, willing in told.items() if willing}
            assert come_to.besides == {node for node, willing in told.items() if not willing}
            assert come_to.wrong == {(t.kind, t.node, t.what) for t in ways.troubles()}
        assert kept in (None, found)
        kept = found


def test_what_a_tree_does_is_its_nodes_without_their_words(pair: Guide) -> None:
    tree = pair.trees["visit"]
    for same in (
        with_spec(tree, "probe", reading="In other words."),
        with_spec(tree, "danger", outcome="Other words", hand_over="Somebody else."),
        with_spec(tree, "lift", step="Other words"),
        replace(tree, title="Another title"),
    ):
        assert acts(same) == acts(tree)
    for other in (
        with_spec(tree, "probe", on=("earth", "pipe")),
        with_spec(tree, "probe", instrument="two-pole"),
        with_spec(tree, "look", fact="tingle"),
        with_spec(tree, "lift", does=()),
        with_spec(tree, "lift", hazards=()),
        with_spec(tree, "nothing-found", closes=False),
        with_spec(tree, "danger", hand_over=None),
        replace(tree, start="look"),
        *(with_last_exit(tree, "probe", **change) for change in ({"go": "look"}, {"kind": "not_taken"})),
        *(with_last_exit(tree, "look", **change) for change in ({"is_": None}, {"low": 1}, {"high": 9})),
    ):
        assert acts(other) != acts(tree)


def test_an_instrument_is_held_to_so_many_places(pair: Guide) -> None:
    assert places("clamp") == (CLAMPED, None)
    assert places("voltmeter") == places("loop") == places("two-pole") == (TOUCHED, 2)
    assert places("contact") == places("non-contact") == (TOUCHED, 1)
    tree = pair.trees["visit"]
    assert can_be_walked(tree)
    for on in (("earth",), ("earth", "pipe", "neutral"), ("earth", "main_earth")):
        nowhere = with_spec(tree, "probe", on=on)
        assert not can_be_walked(nowhere)
        assert ends_on(pair.streets["pair"], [nowhere]) == {}


def test_the_next_door_is_each_sharing_home_once(pair: Guide) -> None:
    street = streets.terrace()
    faults = ManyFaults([Oracle(street, parse("healthy"))] * 3)
    gone: frozenset[str] = frozenset()
    order = []
    for _ in range(5):
        ((home, bits),) = faults.doors("2", gone)
        assert bits == 0b111
        order.append(home)
        gone |= {home}
    assert order == list(street.sharing_metalwork("2")) and faults.doors("2", gone) == ()


def test_metal_that_no_record_shows_leads_to_no_next_door() -> None:
    street = streets.terrace()
    (water,) = street.metalwork
    hidden = replace(street, metalwork=(replace(water, unrecorded=(("6", "8"),)),))
    faults = ManyFaults([Oracle(hidden, parse("healthy"))])
    assert faults.doors("2", frozenset({"4"})) == (("6", 1),)
    assert faults.doors("2", frozenset({"4", "6"})) == ()


class Asked(Oracle):
    """An oracle that counts how often it is asked, whatever it remembers."""

    times = 0

    def fact(self, name: str, home: str, conditions: Conditions) -> str:
        self.times += 1
        return super().fact(name, home, conditions)


def test_each_fault_is_asked_once_and_only_where_a_walk_comes(pair: Guide) -> None:
    look = asked_by(pair.trees["visit"].nodes["look"])
    assert look
    found = ("healthy", "main-earth-lost@4", "service-pen-open@4")
    oracles = [Asked(pair.streets["pair"], parse(fault)) for fault in found]
    faults = ManyFaults(oracles)
    for here, times in ((0b001, [1, 0, 0]), (0b010, [1, 1, 0]), (0b111, [1, 1, 1]), (0b011, [1, 1, 1])):
        yes, no = faults.leaving(look, "4", frozenset(), here)
        assert (yes & here, no & here) == (here & 0b101, here & 0b010)
        assert [oracle.times for oracle in oracles] == times


def test_what_an_oracle_answered_is_kept_for_the_next_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path)
    street, faults = streets.pair(), (parse("healthy"), parse("service-pen-open@12"))

    def asked(*homes: tuple[int, str]) -> list[int]:
        """How much each had to reckon in a run that asks some of them for a home's volts."""
        result_cache.start_afresh()
        with kept_oracles(street, faults) as oracles:
            for which, home in homes:
                there = faults[which].applied_to(network(street))
                assert oracles[which].metalwork_volts(home, frozenset()) == metalwork_volts(there, home)
        return [oracle.asked_anew for oracle in oracles]

    assert asked((1, "12")) == [0, 1]
    assert asked((1, "12"), (0, "12")) == [1, 0]
    assert asked((1, "14")) == [0, 1]
    assert asked((0, "12"), (1, "12"), (1, "14")) == [0, 0]


def test_each_site_tree_has_its_ends_and_is_walked_once(
    pair: Guide, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tree, street = pair.trees["visit"], pair.streets["pair"]
    one, two = replace(tree, id="one"), replace(tree, id="two", start="look")
    call = replace(tree, id="call", audience="call")
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path / "alone")
    alone = ends_on(street, [two])
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path / "together")
    both = ends_on(street, [call, one, two])
    assert both.keys() == {"one", "two"}
    assert both["two"] == alone["two"] != both["one"]
    monkeypatch.setattr(ends, "ManyFaults", lambda _: pytest.fail("walked again"))
    assert ends_on(street, [two, call, one]) == both
