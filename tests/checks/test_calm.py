"""No figure is no good news, and no call closes a job."""

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
