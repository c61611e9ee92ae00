"""No figure is no good news, and no call closes a job."""

import pytest

from build_tools.checks import calm


def test_a_reading_not_taken_may_not_end_well(small_guide):
    small_guide.edit("trees/site/main-earth.yaml", "not_taken: {go: leave}", "not_taken: {go: lift}")
    guide = small_guide.sound()
    found = list(calm.check(guide, list(guide.trees.values())))
    assert [(f.check, f.path[1:]) for f in found] == [("no-figure-leads-on", (found[0].path[1], "not_taken"))]
    assert found[0].place.file == "trees/site/main-earth.yaml"


def test_the_small_guide_is_left_alone(small_guide):
    guide = small_guide.sound()
    assert list(calm.check(guide, list(guide.trees.values()))) == []


READING = """\
title: A tree
audience: site
about: For a test.
review_by: 2099-01-01
sources: [crews]
start: look
nodes:
  look:
    reading: Hold it on.
    instrument: {instrument}
    on: [{on}]
    unit: {unit}
    ranges:
      - {{to: 10, label: little, go: {little}}}
      - {{from: 10, label: much, go: {much}}}
    not_taken: {{go: soon}}
    over_range: {{go: {over}}}
    not_steady: {{go: soon}}
  soon: {{outcome: It can wait, priority: soon}}
  now: {{outcome: It cannot, priority: urgent}}
"""

STANDING_ALIKE = {"instrument": "voltmeter", "on": "neutral, earth", "unit": "V"}
LOOP = {"instrument": "loop", "on": "line, earth", "unit": "ohm"}
LINE = {"instrument": "voltmeter", "on": "line, neutral", "unit": "V"}
PAIR = {"instrument": "clamp", "on": "neutral_tail, main_earth", "unit": "A"}


def of(small_guide, held, little, much, over):
    text = READING.format(**held, little=little, much=much, over=over)
    guide = small_guide.write("trees/site/look.yaml", text).sound()
    return [f.check for f in calm.check(guide, [guide.trees["look"]])]


def test_over_range_never_ends_well(small_guide):
    assert of(small_guide, LINE, "soon", "soon", over="soon") == ["no-figure-leads-on"]
    assert of(small_guide, LINE, "soon", "soon", over="now") == []


@pytest.mark.parametrize("held", [STANDING_ALIKE, LOOP, LINE, PAIR])
def test_more_is_never_better_where_it_is_worse(small_guide, held):
    worse = "worse-ends-better" in of(small_guide, held, "now", "soon", over="now")
    assert worse == (held in (STANDING_ALIKE, LOOP))
    assert "worse-ends-better" not in of(small_guide, held, "soon", "now", over="now")
