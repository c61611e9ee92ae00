"""Hazards of actions, and the priority of dangers that are named."""

from __future__ import annotations

import pytest

from build_tools.checks import hazards
from build_tools.guide.models import Priority
from calc.faults import KINDS
from calc.work import ACTIONS

TREE = """\
title: A tree
audience: site
about: For a test.
review_by: 2099-01-01
sources: [crews]
start: work
nodes:
  work:
    step: Do it.
    hazards: [{hazards}]
    does: [{action}]
    go: last
  last:
    outcome: The end
    priority: {priority}
    holds: [{fault}]
"""


@pytest.fixture
def found(small_guide):
    def run(action="go-next-door", tags="", priority="routine", fault="line-open"):
        text = TREE.format(action=action, hazards=tags, priority=priority, fault=fault)
        guide = small_guide.write("trees/site/worked.yaml", text).sound()
        return [(f.check, f.place.line) for f in hazards.check(guide, ())]

    return run


def test_the_small_guide_names_its_hazards(small_guide):
    assert list(hazards.check(small_guide.sound(), ())) == []


@pytest.mark.parametrize("action", ACTIONS)
def test_an_action_that_can_hurt_carries_its_tags(found, action):
    tags = hazards.CARRIES.get(action, ())
    assert found(action) == [("untagged-action", 11) for _ in tags]
    for left in tags:
        others = ", ".join({"works-live", *tags} - {left})
        assert found(action, tags=others) != []
    assert found(action, tags=", ".join({"works-live", *tags})) == []


def test_the_hazards_are_those_of_known_actions():
    assert hazards.CARRIES.keys() <= ACTIONS.keys()


READY = """\
  work:
    step: Make ready.
    hazards: [{hazards}]
    go: probe
  probe:
    reading: Hold it on.
    instrument: {instrument}
    on: [{on}]
    unit: {unit}
    ranges: [{{label: any, go: last}}]
  last:
"""


@pytest.mark.parametrize(
    ("instrument", "on", "unit", "probes"),
    [
        ("voltmeter", "earth, independent_earth", "V", True),
        ("loop", "line, earth", "ohm", True),
        ("two-pole", "line, earth", "V", True),
        ("clamp", "main_earth", "A", False),
    ],
)
def test_no_probe_before_a_step_that_makes_ready(small_guide, instrument, on, unit, probes):
    def checks(tags):
        head, _, tail = TREE.partition("  work:\n")
        end = tail[tail.index("    outcome:") :].format(priority="routine", fault="line-open")
        nodes = READY.format(hazards=tags, instrument=instrument, on=on, unit=unit)
        guide = small_guide.write("trees/site/worked.yaml", head + nodes + end).sound()
        return [f.check for f in hazards.check(guide, [guide.trees["worked"]])]

    assert checks("") == (["live-work-unsaid"] if probes else [])
    assert checks("works-live") == []


@pytest.mark.parametrize("fault", KINDS)
@pytest.mark.parametrize("priority", Priority.__args__)
def test_a_danger_that_is_named_is_for_today(found, fault, priority):
    late = priority not in ("emergency", "urgent")
    expected = [("danger-put-off", 15)] if late and KINDS[fault].endangers else []
    assert found(priority=priority, fault=fault) == expected
