"""What is begun is ended on every way, and nothing is ended that was not begun."""

from __future__ import annotations

import pytest

from build_tools.checks import begun
from calc.work import ACTIONS

TREE = """\
title: A tree
audience: site
about: For a test.
review_by: 2099-01-01
sources: [crews]
start: first
nodes:
  first: {{step: Begin., does: [{first}], go: ask}}
  ask:
    question: Which way?
    answers:
      - {{answer: On, go: then}}
      - {{answer: Out, go: {out}}}
  then: {{step: End., does: [{then}], go: last}}
  last: {{outcome: The end, priority: routine, closes: {closes}}}
  left: {{outcome: Left, priority: urgent}}
"""


@pytest.fixture
def found(small_guide):
    def run(first, then, out="last", closes=False):
        text = TREE.format(first=first, then=then, out=out, closes=str(closes).lower())
        guide = small_guide.write("trees/site/worked.yaml", text).load()
        return [(f.check, f.path[1]) for f in begun.check(guide, [guide.trees["worked"]])]

    return run


def test_the_small_guide_leaves_nothing(small_guide):
    guide = small_guide.sound()
    assert list(begun.check(guide, list(guide.trees.values()))) == []


@pytest.mark.parametrize(
    ("on", "off"), [("switch-on-known-load", "switch-off-known-load"), ("quieten-home", "end-quiet")]
)
def test_a_test_leaves_nothing_on_any_way(found, on, off):
    assert found(on, off) == [("left-begun", "last")]
    assert found(on, off, out="left") == [("left-begun", "left")]
    assert found(on, off, out="then") == []
    assert found(on, "go-next-door", out="then") == [("left-begun", "last")]


@pytest.mark.parametrize("action", [one for one, (_, begins) in ACTIONS.items() if begins])
def test_a_job_is_closed_with_nothing_left(found, action):
    assert ("left-begun", "last") in found(action, "go-next-door", closes=True)


def test_a_switch_may_be_left_open_where_the_job_stays_open(found):
    assert found("open-main-switch", "go-next-door", out="left") == []


@pytest.mark.parametrize("action", [one for one, (_, begins) in ACTIONS.items() if not begins])
def test_what_was_not_begun_is_not_ended(found, action):
    assert found("go-next-door", action) == [("ended-unbegun", "then")]
    assert found(action, "go-next-door") == [("ended-unbegun", "first")]
