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
