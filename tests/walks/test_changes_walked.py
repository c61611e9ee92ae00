"""A reading that is judged by its change, walked: the figure before is the one that was read then."""

from __future__ import annotations

from pathlib import Path

import pytest
import streets
from batches import as_drawn, batch_of
from made_trees import made_trees

from build_tools.guide.trees import Tree
from build_tools.proof.wrong_answers import harmful_mistakes
from build_tools.walks.oracle import Oracle
from build_tools.walks.walk import Walk
from build_tools.walks.ways import Ways
from calc.faults import HEALTHY
from calc.instruments import reading
from calc.street import network
from calc.work import as_worked, done

OTHERWISE = "not_taken: {go: urgent}, over_range: {go: emergency}, not_steady: {go: urgent}"
AGAIN = f"""
  again: {{reading: Clamp., instrument: clamp, on: [neutral_tail], unit: A, change_from: rest,
    ranges: [{{to: 8, label: too little, go: unsettled}}, {{from: 8, to: 13, label: the load, go: soon}},
      {{from: 13, label: too much, go: routine}}], {OTHERWISE}}}
"""
TREES = {
    "rises": f"""
  rest: {{reading: Clamp., instrument: clamp, on: [neutral_tail], unit: A,
    ranges: [{{label: any, go: load}}], {OTHERWISE}}}
  load: {{step: Load., does: [quieten-home, switch-on-known-load], go: again}}
{AGAIN}""",
    "falls": f"""
  load: {{step: Load., does: [switch-on-known-load], go: rest}}
  rest: {{reading: Clamp., instrument: clamp, on: [neutral_tail], unit: A,
    ranges: [{{label: any, go: "off"}}], {OTHERWISE}}}
  "off": {{step: Off., does: [switch-off-known-load], go: again}}
{AGAIN}""",
    "next-door": f"""
  rest: {{reading: Clamp., instrument: clamp, on: [neutral_tail], unit: A,
    ranges: [{{label: any, go: onward}}], {OTHERWISE}}}
  onward: {{step: Go., does: [go-next-door], go: again}}
{AGAIN}""",
}


@pytest.fixture(scope="module")
def trees(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Tree]:
    folder: Path = tmp_path_factory.mktemp("changes")
    return made_trees(folder, "site", **TREES)


def ends(tree: Tree, kw: float) -> str:
    """Where the walk of a pair of homes ends with so much on at the visited one."""
    oracle = Oracle(streets.pair(kw=(kw, 2.0)), HEALTHY)
    (end,) = {each.node for each in Ways(tree, oracle, "12").endings() if each.willing}
    return end


@pytest.mark.parametrize(("kw", "end"), [(0.3, "soon"), (2.0, "unsettled"), (6.0, "routine"), (0.5, "soon")])
def test_the_known_load_is_told_by_the_change(trees: dict[str, Tree], kw: float, end: str) -> None:
    """2.4 kW is 10.4 A. From 2 kW (8.7 A) to 0.5 kW and the known load (12.6 A) is 3.9 A; from 6 kW down to
    2.9 is a fall of 13 A and more."""
    street = streets.pair(kw=(kw, 2.0))
    quiet = done(done(frozenset(), "quieten-home", "12"), "switch-on-known-load", "12")
    now, then = (
        reading(as_worked(network(street), each), "12", "clamp", ("neutral_tail",))
        for each in (quiet, frozenset())
    )
    moved = abs(now - then)
    assert end == ("unsettled" if moved < 8 else "soon" if moved < 13 else "routine")
    assert ends(trees["rises"], kw) == end


def test_a_fall_is_a_change_as_a_rise_is(trees: dict[str, Tree]) -> None:
    assert ends(trees["falls"], 1.0) == "soon"


def test_without_the_figure_before_it_is_as_not_taken(trees: dict[str, Tree]) -> None:
    """At another home: what was read next door is no figure of this one."""
    assert ends(trees["next-door"], 1.0) == "urgent"


def test_a_batch_judges_the_change_street_by_street(trees: dict[str, Tree]) -> None:
    kilowatts = (0.3, 2.0, 6.0, 0.5)
    batch = batch_of(*(as_drawn(streets.pair(kw=(kw, 2.0)), known_load_kw=2.4) for kw in kilowatts))
    walk = Walk(trees["rises"], batch, willing=True)
    walk.from_home("12", 0b1111)
    assert {end: bits for end, bits in walk.ends.items() if bits} == {
        "soon": 0b1001,
        "unsettled": 0b0010,
        "routine": 0b0100,
    }


def test_the_way_tells_both_figures(trees: dict[str, Tree]) -> None:
    ways = Ways(trees["rises"], Oracle(streets.pair(kw=(0.5, 2.0)), HEALTHY), "12")
    (ending,) = [each for each in ways.endings() if each.willing]
    told = ending.way[-1].shown
    assert told == "clamp on neutral_tail shows 13.12 A, which was 2.27 A"


def test_a_wrong_answer_at_the_first_reading_is_followed(trees: dict[str, Tree]) -> None:
    """Nothing hurts in this tree, whatever is answered; and no answer is lost on the way."""
    batch = batch_of(as_drawn(streets.pair()), kind="service-pen-open")
    assert harmful_mistakes(trees["rises"], batch, {"12": batch.place >= 0}) == {}
