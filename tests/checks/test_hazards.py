"""Hazards of actions, and the priority of dangers that are named."""

from __future__ import annotations

import pytest

from build_tools.checks import hazards
from build_tools.shapes import Priority
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
def test_an_action_that_can_hurt_carries_its_tag(found, action):
    tag = hazards.CARRIES.get(action)
    assert found(action) == ([("untagged-action", 11)] if tag else [])
    assert found(action, tags="works-live") == ([("untagged-action", 11)] if tag else [])
    assert found(action, tags=f"works-live, {tag or 'opens-cover'}") == []


def test_the_hazards_are_those_of_known_actions():
    assert hazards.CARRIES.keys() <= ACTIONS.keys()
    assert set(hazards.CARRIES.values()) == {"opens-earth-path", "loads-the-neutral", "re-energises"}


@pytest.mark.parametrize("fault", KINDS)
@pytest.mark.parametrize("priority", Priority.__args__)
def test_a_danger_that_is_named_is_for_today(found, fault, priority):
    late = priority not in ("emergency", "urgent")
    expected = [("danger-put-off", 15)] if late and KINDS[fault].endangers else []
    assert found(priority=priority, fault=fault) == expected
