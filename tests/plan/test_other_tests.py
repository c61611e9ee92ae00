"""Which test is the best to add: one that was taken away; and what counts as a false alarm."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from made_trees import made_trees

from build_tools.guide.trees import Guide, Tree
from build_tools.plan.other_tests import (
    Added,
    OtherTest,
    Seen,
    best_added,
    other_tests,
)
from build_tools.plan.walked_without import closing_way, count
from build_tools.proof.procedures import HomeKind, How, procedures
from calc.readings import TESTS

PLAIN, ELECTRODE = HomeKind("tn-c-s", "1"), HomeKind("tt", "1")
LOOP = OtherTest("Loop", How("loop", ("line", "earth")))


def without(guide: Guide, tree: Tree, *names: str) -> Tree:
    """The tree as if it had never had these nodes."""
    way = closing_way(guide, tree, range(20))
    shorter = way.without(*(one for one in way.written if one.node in names))
    return replace(
        shorter, nodes={id_: node for id_, node in shorter.nodes.items() if node.name not in names}
    )


VOLTS = """
  volts: {reading: Volts., instrument: voltmeter, on: [line, neutral], unit: V,
    ranges: [{to: 216.2, label: low, go: urgent}, {from: 216.2, to: 253, label: usual, go: closed},
      {from: 253, label: high, go: emergency}],
    not_taken: {go: urgent}, over_range: {go: urgent}, not_steady: {go: urgent}}
"""


@pytest.mark.parametrize(
    ("fault", "best"),
    [
        ("reversed-polarity", ("two-pole-line-earth", "two-pole-neutral-earth", "voltmeter-neutral-earth")),
        ("mains-pen-open", ("loop-line-earth", "loop-line-neutral", "voltmeter-earth-independent-earth")),
    ],
)
def test_what_volts_from_line_to_neutral_cannot_show_is_the_best_to_add(
    guide: Guide, tmp_path: Path, fault: str, best: tuple[str, ...]
) -> None:
    """Common practice, no source: polarity shows against earth alone, and an open PEN in the loop or at a
    probe."""
    volts = replace(guide, trees=made_trees(tmp_path, "site", volts=VOLTS))
    way = closing_way(volts, volts.trees["volts"], range(100))
    shown = count(volts, way, range(100), [fault, "healthy"]).shown
    first, *others = best_added(other_tests(volts, way), shown)
    assert first.test in best
    assert not first.is_made
    assert set(first.by_fault) == {fault}
    assert first.found > 10
    assert first.gain >= max(one.gain for one in others)


def test_of_what_was_taken_out_of_a_tree_something_is_the_best_to_add(guide: Guide) -> None:
    """All that shows a loose neutral tail is taken out: something of it is to come back first."""
    fault = "loose-neutral-tail"
    tree = without(
        guide, guide.trees["test-one-home"], "neutral-to-earth", "loop-to-neutral", "neutral-under-load"
    )
    way = closing_way(guide, tree, range(100))
    tests = other_tests(guide, way)
    first = best_added(tests, count(guide, way, range(100), [fault, "healthy"]).shown)[0]
    (test,) = (one for one in tests if one.id == first.test)
    assert (test.how.instrument, test.how.on) in (
        ("loop", ("line", "neutral")),
        ("voltmeter", ("neutral", "earth")),
    )
    assert first.found > 10


def test_what_a_tree_makes_is_no_test_to_add(guide: Guide) -> None:
    tests = {
        one.title: one for one in other_tests(guide, closing_way(guide, guide.trees["test-one-home"], ()))
    }
    titles = {test.id: test.title for test in TESTS}
    assert tests[titles["loop-line-neutral"]].is_made
    assert tests[titles["contact-metalwork"]].is_made  # a question about the indicator
    assert not tests[titles["clamp-both-tails"]].is_made
    assert not any("lifted" in title for title in tests)


def test_limits_of_other_trees_are_taken_where_there_are_some(guide: Guide) -> None:
    shorter = without(guide, guide.trees["test-one-home"], "loop-to-neutral")
    tests = other_tests(guide, closing_way(guide, shorter, range(5)))
    (loop,) = (one for one in tests if one.how == How("loop", ("line", "neutral")))
    stated = procedures(guide)[loop.how.id].limits
    assert loop.usual == {kind: limits.usual for kind, limits in stated.items()}
    assert loop.usual is not None
    assert loop.usual[PLAIN] == ((0.0, 0.35),)


def seen(*figures: float, first: int = 0) -> list[Seen]:
    return [Seen(first + place, place, figure) for place, figure in enumerate(figures)]


def test_a_limit_lies_above_healthy_homes_of_its_kind_and_alarms_are_counted_on_others() -> None:
    shown = {
        ("loop-line-earth", PLAIN, "healthy"): seen(0.2, 0.1, 0.3, 0.5),  # even numbers: 0.2 and 0.3
        ("loop-line-earth", ELECTRODE, "healthy"): seen(50, 50, first=4),
        ("loop-line-earth", PLAIN, "service-pen-high"): seen(0.3, 0.4, 2, first=10),
        ("loop-line-earth", ELECTRODE, "service-pen-high"): seen(40, 60, first=20),
    }
    (added,) = best_added([LOOP], shown)
    assert (added.found, added.missed) == (3, 5)  # 0.4 and 2, and 60
    assert (added.alarms, added.healthy) == (1, 3)  # 0.5 of the odd ones 0.1, 0.5 and 50
    assert added.gain == 3 / 5 - 1 / 3


def test_a_test_at_two_homes_of_one_street_finds_it_once() -> None:
    shown = {
        ("loop-line-earth", PLAIN, "healthy"): seen(0.2, 0.2),
        ("loop-line-earth", PLAIN, "sheath-open"): [
            Seen(7, 0, 3.0),
            Seen(7, 0, 4.0),
            Seen(8, 1, float("nan")),
        ],
    }
    (added,) = best_added([LOOP], shown)
    assert (added.found, added.missed, dict(added.by_fault)) == (1, 2, {"sheath-open": 1})


def test_where_no_healthy_street_closes_nothing_is_an_alarm() -> None:
    shown = {("loop-line-earth", PLAIN, "sheath-open"): seen(9.0)}
    (added,) = best_added([LOOP], shown)
    assert (added.found, added.missed, added.healthy) == (0, 1, 0)
    assert isinstance(added, Added)
