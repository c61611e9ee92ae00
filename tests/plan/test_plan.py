"""The verb: what it prints, and refuses; minutes and rules of each node."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from build_tools.cli import command_line
from build_tools.guide.trees import Guide
from build_tools.plan.demanded import demanding, ways_of
from build_tools.plan.leaving_out import Written
from build_tools.plan.plan_report import as_json, as_text
from build_tools.plan.planning import Plan, Share, planned
from build_tools.plan.screens import words_of
from build_tools.plan.walked_without import closing_way, count
from build_tools.proof.crews import PERFECT, Crews
from build_tools.proof.lasting import Lasting
from build_tools.proof.street_batch import faulty_batches
from build_tools.proof.visits import Followed, visit_batch

STREETS = 40


@pytest.fixture(scope="module")
def plan(guide: Guide) -> Plan:
    way = closing_way(guide, guide.trees["test-one-home"], range(STREETS))
    faults = ["service-pen-open", "loose-line-tail", "healthy"]
    return planned(guide, way, count(guide, way, range(STREETS), faults), STREETS)


def test_minutes_are_those_of_a_visit(guide: Guide, plan: Plan) -> None:
    """On a healthy street that ends well, a visit takes the minutes of the nodes that it passes."""
    assert guide.sampling is not None and guide.minutes is not None
    one_line = {row.node.node: row.minutes for row in plan.rows}
    others = (
        "loop-to-sheath",
        "loop-to-electrode",
        "volts-second",
        "loop-second",
        "volts-third",
        "loop-third",
        "apart-under-load",
    )
    passed = sum(minutes for name, minutes in one_line.items() if name not in others)
    told = set()
    for batch in faulty_batches(guide.sampling, range(STREETS), ["healthy"]):
        lasting, streets = Lasting(batch, guide.minutes), tuple(each.number for each in batch.drawn)
        crews = Crews.drawn(1, streets, batch.street.premises, PERFECT)
        came = visit_batch(Followed(guide.trees["test-one-home"]), lasting, crews, 1)
        for number in np.flatnonzero(came.ends.get("carries", np.zeros(batch.size, bool))):
            home = batch.drawn[number].street.premises[batch.drawn[number].visited]
            if home.earthing == "tn-c-s" and len(home.phases) == 1:
                told.add(came.minutes[number])
    assert sorted(told) == pytest.approx([passed + guide.minutes.act("end")])


def test_each_node_is_told_with_the_rules_that_want_it(plan: Plan) -> None:
    rules = {row.node.node: row.rules for row in plan.rows}
    assert "no-closing-without-the-pair" in rules["known-load-both"]
    assert rules["earth-again"] == ("one-mistake-is-caught",)
    assert "indicator-before-all" in rules["indicator"]
    assert rules["earthing"] == ()


def test_no_rule_wants_a_node_when_there_are_no_rules(guide: Guide) -> None:
    ruleless = replace(guide, rules=())
    way = closing_way(guide, guide.trees["test-one-home"], range(5))
    assert demanding(ruleless, ways_of(ruleless, way), Written("test-one-home", "indicator")) == ()


def test_words_are_those_on_the_screen(guide: Guide) -> None:
    node = guide.trees["test-one-home"].nodes["quieten"]
    told = (
        "Ask the occupier to leave ovens, showers and heaters off until you say so, "
        "and switch off what the home generates.",
        "Solar panels, a battery, a vehicle that gives back: open their own isolators, and no other switch. "
        "Lights and a fridge may stay on.",
        "The occupier has said that they are off, and each inverter shows that it gives nothing.",
    )
    assert node.spec.why  # folded away until somebody opens it
    assert words_of(node) == sum(len(text.split()) for text in told)


def test_a_share_has_exact_bounds() -> None:
    """None of 59: at most 5 % at 95 %, since 0.95 to the 59th is below 0.05. The rule of three, in its exact
    form."""
    assert Share(0, 59).high < 0.05 < Share(0, 58).high
    assert (Share(0, 0).low, Share(0, 0).high) == (0.0, 1.0)


def test_the_text_names_every_node_and_says_what_is_no_proof(plan: Plan) -> None:
    text = as_text(plan)
    for row in plan.rows:
        assert row.node.node in text
    assert "No proof" in text
    assert "Not counted" in text
    assert max(map(len, text.split("\n"))) <= 130


def test_a_test_that_loses_nothing_is_offered_with_its_bound_and_its_rules(plan: Plan) -> None:
    rows = {row.node.node: row for row in plan.rows}
    volts = rows["volts-third"]
    assert volts.finds_nothing_alone
    assert volts.only.high == pytest.approx(1 - 0.05 ** (1 / volts.only.asked))
    text = " ".join(as_text(plan).split())
    assert re.search(
        r"volts-third, 1 min: at most [\d.]+% of .{,60}; wanted by every-line-before-closing", text
    )
    assert not any(row.finds_nothing_alone for row in plan.rows if row.only.happened)
    assert not rows["quieten"].finds_nothing_alone  # no test


def test_json_has_the_same_figures(plan: Plan) -> None:
    told = json.loads(as_json(plan))
    assert told["caught"]["happened"] == plan.caught.happened
    nodes = {one["node"]: one for one in told["nodes"]}
    for row in plan.rows:
        assert nodes[row.node.node]["only"]["happened"] == row.only.happened
        assert tuple(nodes[row.node.node]["rules"]) == row.rules
    assert [one["test"] for one in told["added"]] == [one.test for one in plan.added]


def test_the_verb_counts_in_two_processes(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["--quiet", "plan", "test-one-home", "--streets", "12", "--faults", "service-pen-open", "--json"]
    assert command_line.main(asked) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["tree"], told["streets"]) == ("test-one-home", 12)
    assert set(told["caught_by_fault"]) <= {"service-pen-open"}
    assert told["closed"]["asked"] == 12


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["test-one-hom"], "did you mean `test-one-home`"),
        (["caller-tingle"], "no site tree is called caller-tingle"),
        (["test-one-home", "--faults", "service-pen"], "did you mean `service-pen-"),
        (["test-one-home", "--faults", "high-volts"], "no kind of fault beside which no job may be closed"),
    ],
)
def test_a_name_that_is_not_there_is_wrong_use(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command_line.main(["plan", *words]) == 2
    assert said in capsys.readouterr().err
