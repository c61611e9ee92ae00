"""An edge is a figure that the guide quotes; a guide that quotes none is left alone."""

from build_tools.checks import edges

QUOTED = "It may be carrying a neighbour's current"


def found(small_guide):
    guide = small_guide.sound()
    return list(edges.check(guide, list(guide.trees.values())))


def test_a_guide_that_quotes_no_figure_is_left_alone(small_guide):
    assert found(small_guide) == []


def test_an_edge_that_the_words_say_is_right(small_guide):
    small_guide.edit("trees/site/main-earth.yaml", QUOTED, f"The 0.5 A is a choice. {QUOTED}")
    assert found(small_guide) == []


def test_an_edge_that_the_words_contradict_is_refused(small_guide):
    small_guide.edit("trees/site/main-earth.yaml", QUOTED, f"The 0.4 A is a choice. {QUOTED}")
    assert [(f.check, f.path[-2:]) for f in found(small_guide)] == [("edge-unsaid", ("1", "to"))]


def test_a_figure_that_another_reading_quotes_says_nothing_here(small_guide):
    """0.1 V of neutral to earth is no edge of line to neutral, though both are read by the voltmeter."""
    small_guide.write("trees/site/volts.yaml", VOLTS.format(edge=0.1))
    assert [(f.check, f.path[1]) for f in found(small_guide)] == [("edge-unsaid", "volts")]
    small_guide.write("trees/site/volts.yaml", VOLTS.format(edge=253))
    assert found(small_guide) == []


VOLTS = """\
title: Volts
audience: site
about: For a test.
review_by: 2099-01-01
sources: [crews]
start: volts
nodes:
  volts:
    reading: Measure from line to neutral.
    instrument: voltmeter
    on: [line, neutral]
    unit: V
    ranges:
      - {{to: {edge}, label: low, go: apart}}
      - {{from: {edge}, label: high, go: apart}}
    not_taken: {{go: last}}
    over_range: {{go: last}}
    not_steady: {{go: last}}
  apart:
    reading: Measure from neutral to earth. It is 0.1 V.
    instrument: voltmeter
    on: [neutral, earth]
    unit: V
    ranges: [{{label: any, go: last}}]
    not_taken: {{go: last}}
    over_range: {{go: last}}
    not_steady: {{go: last}}
  last:
    outcome: The end
    priority: emergency
"""
