"""What each node of a tree buys, held against the readings themselves and the counts of the proof."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_trees import made_trees

from build_tools.guide.trees import Guide, Tree
from build_tools.plan.leaving_out import ClosingWay, Written
from build_tools.plan.walked_without import Bought, Counted, closing_way, count
from build_tools.proof import counting
from build_tools.proof.cases import Case
from build_tools.proof.counting import endangered_streets, of_visits
from build_tools.proof.street_batch import batches
from calc.work import Condition

OTHERWISE = "not_taken: {go: urgent}, over_range: {go: urgent}, not_steady: {go: urgent}"
VOLTS = f"""
  volts: {{reading: Volts., instrument: voltmeter, on: [line, neutral], unit: V,
    ranges: [{{to: 216.2, label: low, go: urgent}}, {{from: 216.2, to: 253, label: usual, go: load}},
      {{from: 253, label: high, go: emergency}}], {OTHERWISE}}}
  load: {{step: Load., does: [switch-on-known-load], go: pair}}
  pair: {{reading: Pair., instrument: clamp, on: [neutral_tail, main_earth], unit: A,
    ranges: [{{to: 3, label: none, go: emergency}}, {{from: 3, label: carries, go: "off"}}], {OTHERWISE}}}
  "off": {{step: Switch off., does: [switch-off-known-load], go: closed}}
"""
STREETS = range(100)


def of(bought: Bought, node: str | None, what: str, *faults: str) -> int:
    """A figure of a node by its name, over some kinds of fault."""
    return sum(
        count
        for key, count in bought.counts.items()
        if key.what == what and key.fault in faults and (key.node.node if key.node else None) == node
    )


@pytest.fixture
def made(guide: Guide, tmp_path: Path) -> Guide:
    """A guide of one tree: the volts, and the pair with the known load on."""
    return replace(guide, trees=made_trees(tmp_path, "site", volts=VOLTS))


def walked(guide: Guide, tree: Tree, *faults: str) -> tuple[ClosingWay, Bought]:
    way = closing_way(guide, tree, STREETS)
    return way, count(guide, way, STREETS, faults)


def test_what_only_a_node_finds_is_what_the_readings_say(made: Guide) -> None:
    assert made.sampling is not None
    _, bought = walked(made, made.trees["volts"], "service-pen-open", "healthy")
    only_pair, only_volts, caught, asked, false = 0, 0, 0, 0, 0
    for batch in of_visits(batches(made.sampling, STREETS), ["service-pen-open", "healthy"]):
        (home,) = {each.visited for each in batch.drawn}
        volts = batch.readings(home, frozenset(), "voltmeter", ("line", "neutral"))
        load = frozenset({Condition("known-load-on", home)})
        low = batch.readings(home, load, "clamp", ("neutral_tail", "main_earth")) < 3
        odd, endangered = (volts < 216.2) | (volts >= 253), endangered_streets(batch)
        only_pair += int((low & ~odd & endangered).sum())
        only_volts += int((odd & ~low & endangered).sum())
        caught += int(((odd | low) & endangered).sum())
        asked += int(endangered.sum())
        false += int((low & ~odd & batch.of_kind("healthy")).sum())
    assert only_pair > 3
    assert of(bought, "pair", "only", "service-pen-open") == only_pair
    assert of(bought, "volts", "only", "service-pen-open") == only_volts
    assert of(bought, None, "caught", "service-pen-open") == caught
    assert of(bought, None, "endangered", "service-pen-open") == asked
    assert of(bought, "pair", "costs", "healthy") == false


def test_only_the_pair_under_load_finds_an_open_service_pen_beside_a_pipe(made: Guide) -> None:
    """Common practice, no source: where a pipe stands in for the PEN, ordinary volts are usual."""
    _, bought = walked(made, made.trees["volts"], "service-pen-open")
    found, lost = (of(bought, "pair", what, "service-pen-open") for what in ("alone", "only"))
    assert lost > of(bought, None, "caught", "service-pen-open") / 2
    assert found >= lost


def test_without_the_load_no_healthy_home_of_little_load_passes_the_pair(made: Guide) -> None:
    _, bought = walked(made, made.trees["volts"], "healthy")
    assert of(bought, "load", "opens", "healthy") > 10
    assert of(bought, "pair", "opens", "healthy") == of(bought, "volts", "opens", "healthy") == 0


def doubled(tree: Tree, name: str) -> Tree:
    """The tree in which a reading is made twice, one after the other."""
    first, again = tree.nodes[name], f"{name}-again"
    copy = replace(first, id=again)
    on = tuple(
        replace(exit_, go=again if exit_.go == first.exits[0].go else exit_.go) for exit_ in first.exits
    )
    return replace(tree, nodes={**tree.nodes, name: replace(first, exits=on), again: copy})


LOOSE = ("loose-neutral-tail", "loose-line-tail", "service-line-high")


@pytest.fixture(scope="module")
def once_and_twice(guide: Guide) -> tuple[Bought, Bought]:
    """What the nodes of a tree buy as it is, and with one of its readings made twice."""
    tree = guide.trees["test-one-home"]
    _, once = walked(guide, tree, *LOOSE)
    _, twice = walked(guide, doubled(tree, "loop-to-neutral"), *LOOSE)
    return once, twice


def test_of_a_reading_made_twice_neither_finds_anything_alone(once_and_twice: tuple[Bought, Bought]) -> None:
    once, twice = once_and_twice
    assert of(once, "loop-to-neutral", "only", *LOOSE) > 0
    for name in ("loop-to-neutral", "loop-to-neutral-again"):
        assert of(twice, name, "only", *LOOSE) == 0
    assert of(twice, "loop-to-neutral-again", "first", *LOOSE) == 0
    alone = of(once, "loop-to-neutral", "alone", *LOOSE)
    assert of(twice, "loop-to-neutral-again", "alone", *LOOSE) == alone


def test_of_a_reading_made_twice_each_guards_the_other(once_and_twice: tuple[Bought, Bought]) -> None:
    once, twice = once_and_twice
    only = of(once, "loop-to-neutral", "only", *LOOSE)
    for name in ("loop-to-neutral", "loop-to-neutral-again"):
        assert of(twice, name, "guards", *LOOSE) >= only > 0


def test_the_second_look_finds_nothing_and_guards_the_first(guide: Guide) -> None:
    """Where a pipe stands in for a main earth that is gone, no test shows it: common practice, no source."""
    _, bought = walked(guide, guide.trees["test-one-home"], "main-earth-lost")
    assert of(bought, "earth-again", "only", "main-earth-lost") == 0
    assert of(bought, "earth-again", "guards", "main-earth-lost") > 3
    assert of(bought, "volts-third", "guards", "main-earth-lost") == 0


def test_what_is_guarded_is_harmed_by_some_mistake_where_the_proof_counts_them(guide: Guide) -> None:
    """The promise `robust` counted by the proof, for the tree as it is and with the second look left out."""
    kind, tree, streets = "main-earth-lost", guide.trees["tingle-on-pipework"], range(30)
    way = closing_way(guide, tree, streets)
    guards = of(count(guide, way, streets, [kind]), "earth-again", "guards", kind)
    promise = next(one for one in guide.promises if one.id == "robust-elsewhere")
    promise = promise.model_copy(update={"trees": (tree.id,)})

    def harmed(altered: Tree) -> int:
        asked = replace(guide, promises=(promise,), trees={**guide.trees, tree.id: altered})
        return counting.count(asked, streets, [kind])[Case(promise.id, tree.id, kind), "happened"]

    without = harmed(way.without(Written("test-one-home", "earth-again")))
    assert harmed(tree) + guards >= without >= guards > 0


@pytest.mark.parametrize("name", ["known-load-both", "known-load-tail", "another", "past-a-joint"])
def test_what_is_lost_is_what_the_proof_finds_less_of(guide: Guide, name: str) -> None:
    """The promise `found` counted by the proof, for the tree as it is and with the node left out."""
    kind, tree, streets = "mains-pen-open", guide.trees["tingle-on-pipework"], range(30)
    way = closing_way(guide, tree, streets)
    bought = count(guide, way, streets, [kind])
    (written,) = (one for one in way.written if one.node == name)
    promise = next(one for one in guide.promises if one.id == "main-found")
    promise = promise.model_copy(update={"trees": (tree.id,)})

    def found(altered: Tree) -> tuple[int, int]:
        asked = replace(guide, promises=(promise,), trees={**guide.trees, tree.id: altered})
        counts, case = counting.count(asked, streets, [kind]), Case(promise.id, tree.id, kind)
        return counts[case, "asked"], counts[case, "happened"]

    asked, today = found(tree)
    assert asked == of(bought, None, "endangered", kind)
    assert today == of(bought, None, "caught", kind)
    assert today - found(way.without(written))[1] == of(bought, name, "only", kind)


def test_a_called_node_is_told_once_and_left_out_wherever_it_is_written(guide: Guide) -> None:
    way = closing_way(guide, guide.trees["tingle-on-pipework"], range(20))
    written = Written("test-one-home", "probe")
    assert way.written[written] == ("here.probe", "next-door.probe")
    led_to = {exit_.go for node in way.without(written).nodes.values() for exit_ in node.exits}
    assert {"here.probe", "next-door.probe"} & led_to == set()
    assert {"here.probe", "next-door.probe"} < {e.go for n in way.tree.nodes.values() for e in n.exits}


def test_to_leave_out_another_home_is_to_go_to_none(guide: Guide) -> None:
    way = closing_way(guide, guide.trees["tingle-on-pipework"], range(40))
    assert way.usual["another"] == "metal-again"  # though more homes than not have a neighbour to go to
    bought = count(guide, way, range(40), ["service-pen-open", "healthy"])
    assert of(bought, "another", "opens", "healthy") > 3  # a home that was not gone to is read out
    assert of(bought, "another", "only", "service-pen-open") == 0


def test_a_tree_that_closes_nothing_ends_well_where_its_caller_goes_on(guide: Guide) -> None:
    assert closing_way(guide, guide.trees["test-one-home"], range(10)).ends == {"carries"}
    assert closing_way(guide, guide.trees["tingle-on-pipework"], range(10)).ends == {"sound"}


def test_parts_add_up(guide: Guide) -> None:
    tree, faults = guide.trees["test-one-home"], ["service-pen-open", "healthy"]
    way = closing_way(guide, tree, range(24))
    layouts = {batch.drawn[0].layout for batch in batches(guide.sampling, range(24))}  # type: ignore[arg-type]
    assert len(layouts) > 3
    whole = count(guide, way, range(24), faults)
    both = count(guide, way, range(10), faults) + count(guide, way, range(10, 24), faults)
    assert (both.counts, both.size) == (whole.counts, whole.size)
    bits = {node: found.bit_count() for node, found in whole.found.items()}
    assert {node: found.bit_count() for node, found in both.found.items()} == bits
    for key, seen in whole.shown.items():
        figures = np.sort([one.figure for one in seen])
        assert np.array_equal(np.sort([one.figure for one in both.shown[key]]), figures, equal_nan=True)
        assert len({one.street for one in both.shown[key]}) == len({one.street for one in seen})


def test_each_test_by_itself_finds_no_more_than_all_together(guide: Guide) -> None:
    faults = ("service-pen-open", "mains-pen-high", "loose-line-tail")
    _, bought = walked(guide, guide.trees["test-one-home"], *faults)
    together = 0
    for found in bought.found.values():
        together |= found
    assert together.bit_count() == of(bought, None, "caught", *faults)
    for node, found in bought.found.items():
        assert found.bit_count() == of(bought, node.node, "alone", *faults)
        assert of(bought, node.node, "only", *faults) <= found.bit_count()


def test_a_figure_that_was_never_counted_is_none(made: Guide) -> None:
    _, bought = walked(made, made.trees["volts"], "healthy")
    assert bought.counts[Counted(None, "service-pen-open", "streets")] == 0
    assert of(bought, None, "endangered", "healthy") == 0
