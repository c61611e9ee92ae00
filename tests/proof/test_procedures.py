"""The tests of a small guide as its trees use them: how each is made, and which displays are usual."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from changed_trees import with_last_exit, with_node, with_spec

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide, Tree
from build_tools.proof import procedures as module
from build_tools.proof.procedures import (
    HOME_KINDS,
    OTHER_LIMITS,
    PLAIN,
    HomeKind,
    How,
    Limits,
    Procedure,
    conditions_at,
    procedures,
)
from calc.instruments import INSTRUMENTS
from calc.readings import TESTS as READINGS

PROBE = How("voltmeter", ("earth", "independent_earth"))


@pytest.fixture(scope="module")
def pair() -> Guide:
    return load(Path(__file__).parents[1] / "guides" / "pair")


@pytest.fixture(autouse=True)
def _of_the_trees_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tests that no tree of so small a guide uses have no limits."""
    monkeypatch.setattr(module, "TESTS", ())


def of(guide: Guide, *trees: Tree) -> dict[str, Procedure]:
    return procedures(replace(guide, trees={tree.id: tree for tree in trees}))


def with_edge(tree: Tree, name: str, volts: float) -> Tree:
    """The tree with another figure between the two ranges of a reading."""
    low, high, *others = tree.nodes[name].exits
    exits = (replace(low, high=volts), replace(high, low=volts), *others)
    return with_node(tree, replace(tree.nodes[name], exits=exits))


def test_a_test_is_named_after_how_it_is_made() -> None:
    assert PROBE.id == "voltmeter-earth-independent-earth"
    loaded = How("clamp", ("neutral_tail", "main_earth"), ("home-quiet", "known-load-on"))
    assert loaded.id == "clamp-neutral-tail-main-earth-with-home-quiet-known-load-on"


def test_each_test_of_a_tree_is_usual_where_the_job_can_still_be_closed(pair: Guide) -> None:
    found = of(pair, pair.trees["visit"])
    usual = {id_: one.usual for id_, one in found.items()}
    assert usual == {
        PROBE.id: ((0, 10),),
        "eyes-main-earth": (),
        "voltmeter-line-earth": ((207, 253),),
        "loop-line-earth": ((0, 0.8),),
        "loop-line-neutral": ((0, 0.8),),
        "clamp-neutral-tail-main-earth-with-known-load-on": ((2, math.inf),),
    }
    assert list(found) == list(usual), "in the order of the walk"
    assert found["eyes-main-earth"].words == {"yes"}
    assert (found["eyes-main-earth"].fact, found[PROBE.id].fact) == ("main-earth-looks-whole", None)
    assert found[PROBE.id].nodes == (("visit", "probe"),)
    assert all(tuple(one.limits) == HOME_KINDS for one in found.values())


def test_ranges_that_touch_are_one_and_others_stay_apart(pair: Guide) -> None:
    low, high = pair.trees["visit"].nodes["probe"].exits[:2]
    for second, usual in ((10, ((0, 20),)), (12, ((0, 10), (12, 20)))):
        probe = pair.trees["visit"].nodes["probe"]
        middle = replace(high, low=second, high=20, go=low.go)
        exits = (middle, low, replace(high, low=20))
        assert of(pair, with_node(pair.trees["visit"], replace(probe, exits=exits)))[PROBE.id].usual == usual


def test_usual_is_what_no_tree_takes_as_an_alarm(pair: Guide) -> None:
    one = pair.trees["visit"]
    two = replace(with_edge(one, "probe", 6), id="two")
    for trees in ((one, two), (two, one)):
        probe = of(pair, *trees)[PROBE.id]
        assert probe.usual == ((0, 6),)
        assert probe.nodes == tuple((tree.id, "probe") for tree in trees)
    never = replace(with_last_exit(one, "look", go="polarity"), id="two")
    either = of(pair, never)["eyes-main-earth"]
    assert either.words == {"yes", "no"}
    for trees in ((one, never), (never, one)):
        assert of(pair, *trees)["eyes-main-earth"].words == {"yes"}


def test_what_no_tree_tests_has_limits_of_its_own_at_every_home(
    pair: Guide, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same test is one with the home made ready, and another with the known load on."""
    asked = ("loop-line-earth", "known-load-neutral-and-earth")
    others = {
        "clamp-neutral-and-earth": How("clamp", ("neutral_tail", "main_earth")),
        "two-pole-line-earth": How("two-pole", ("line", "earth")),
        "lifted-line-to-loose-earth": How(
            "two-pole", ("line", "earth"), ("main-earth-lifted", "main-switch-open")
        ),
    }
    *tests, lifted = (test for test in READINGS if test.id in (*asked, *others))
    off_first = replace(lifted, after=("open-main-switch", *lifted.after))
    monkeypatch.setattr(module, "TESTS", (*tests, off_first))
    ready = with_spec(pair.trees["visit"], "load", does=("quieten-home", "switch-on-known-load"))
    found = [one for one in of(pair, ready).values() if not one.nodes]
    assert found == [
        Procedure(how, dict.fromkeys(HOME_KINDS, Limits(OTHER_LIMITS[test]))) for test, how in others.items()
    ]


def test_of_several_usual_ranges_all_is_left_that_both_trees_share(pair: Guide) -> None:
    """Up to 10 and from 12 to 20 V to one, from 10 to 15 V to the other."""
    one = pair.trees["visit"]
    probe = one.nodes["probe"]
    low, high = probe.exits[:2]
    split = (low, replace(high, low=12, high=20, go=low.go), replace(high, low=20))
    middle = (replace(low, go=high.go), replace(low, low=10, high=15), replace(high, low=15))
    first, second = (with_node(one, replace(probe, exits=exits)) for exits in (split, middle))
    for trees in ((first, replace(second, id="two")), (second, replace(first, id="two"))):
        assert of(pair, *trees)[PROBE.id].usual == ((12, 15),)


def test_only_trees_that_can_close_a_job_have_limits(pair: Guide) -> None:
    tree = pair.trees["visit"]
    assert of(pair, with_spec(tree, "nothing-found", closes=False)) == {}
    assert of(pair, replace(tree, audience="call")) == {}


def test_a_test_after_something_was_found_has_none(pair: Guide) -> None:
    """Where every exit comes to a danger, nothing that is read there is usual: no job is closed any more."""
    tree = pair.trees["visit"]
    first, *others = tree.nodes["probe"].exits
    again = replace(tree.nodes["loop-earth"], id="again", exits=(replace(first, go="danger"),))
    found = replace(tree.nodes["probe"], exits=(first, replace(others[0], go="again"), *others[1:]))
    changed = with_node(with_node(tree, found), again)
    assert ("visit", "again") not in of(pair, changed)["loop-line-earth"].nodes
    assert of(pair, changed)[PROBE.id].usual == ((0, 10),)


def test_conditions_are_those_of_the_home_where_the_walk_is(pair: Guide) -> None:
    """Next door nothing was done, and what was done and undone does not hold."""
    tree = with_last_exit(pair.trees["visit"], "load-off", go="next-door")
    quiet = with_spec(tree, "load-off", does=("quieten-home",))
    reached: dict[str, set[frozenset[str]]] = {}
    for node, conditions in conditions_at(quiet):
        reached.setdefault(node, set()).add(conditions)
    assert reached["both"] == {frozenset({"known-load-on"})}
    assert reached["next-door"] == {frozenset({"known-load-on", "home-quiet"})}
    assert reached["probe"] == {frozenset()}
    plain = dict(conditions_at(pair.trees["visit"]))
    assert plain["another"] == plain["nothing-found"] == frozenset()
    assert plain["restore"] == {"main-earth-lifted", "main-switch-open"}


def test_a_question_of_the_records_leads_a_home_by_its_own_answer(pair: Guide) -> None:
    tree = with_spec(pair.trees["visit"], "look", fact="earthing")
    whole, not_whole = tree.nodes["look"].exits
    exits = (replace(whole, is_="tt"), replace(not_whole, is_="tn-c-s", go="load"))
    tree = with_node(tree, replace(tree.nodes["look"], exits=exits))
    assert "loop-earth" in dict(conditions_at(tree, HomeKind("tt", "1")))
    assert "loop-earth" not in dict(conditions_at(tree, PLAIN))
    assert "both" in dict(conditions_at(tree, PLAIN))
    nowhere = dict(conditions_at(tree, HomeKind("tn-s", "3")))
    assert "both" not in nowhere and "loop-earth" not in nowhere
    kinds = of(pair, tree)["loop-line-earth"].limits
    assert set(kinds) == {kind for kind in HOME_KINDS if kind.earthing == "tt"}


@pytest.mark.parametrize(
    ("test", "usual", "unusual"),
    [
        ("two-pole-line-neutral", {230}, {0, 12, 24, 50, 120, 400, 690}),
        ("two-pole-line-earth", {230}, {0, 12, 24, 50, 120, 400, 690}),
        ("two-pole-neutral-earth", {0}, {12, 24, 50, 120, 230, 400, 690}),
        ("lifted-line-to-loose-earth", {0, 12, 24, 50, 120, 230}, {400, 690}),
        ("clamp-neutral-and-earth", {0, 0.1, 40, 900}, set()),
        ("clamp-both-tails", {0, 0.1, 40, 900}, set()),
        ("non-contact-metalwork", {0}, {INSTRUMENTS["non-contact"].high}),
    ],
)
def test_what_people_take_as_usual_of_the_other_tests(
    test: str, usual: set[float], unusual: set[float]
) -> None:
    """Lamps go by the highest that lights: the 230 V lamp and no other, or none; of a clamp, anything."""
    shown = {figure for figure in usual | unusual for low, high in OTHER_LIMITS[test] if low <= figure < high}
    assert shown == usual
    assert test in {each.id for each in READINGS}
