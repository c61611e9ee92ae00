"""Trees as graphs: reached, ended, not endless."""

from __future__ import annotations

import pytest

from build_tools.checks import structure

SITE = "trees/site/main-earth.yaml"


def found(guide):
    return [
        (f.check, f.path, f.place.line, [hop.what for hop in f.hops])
        for f in structure.check(guide, list(guide.trees.values()))
    ]


def test_the_small_guide_is_sound(small_guide):
    assert found(small_guide.sound()) == []


def test_a_node_that_nothing_leads_to(small_guide):
    small_guide.edit(SITE, "label: little or none, go: lift", "label: little or none, go: leave")
    assert [(check, path) for check, path, *_ in found(small_guide.sound())] == [
        ("unreachable", ("nodes", "lift")),
        ("unreachable", ("nodes", "done")),
    ]


def test_a_call_that_nothing_leads_to(small_guide):
    small_guide.edit(SITE, "  done:\n", "  again: {call: prove, back: {good: done}}\n  done:\n")
    small_guide.write(
        "trees/site/prove.yaml",
        (small_guide.folder / SITE).read_text().replace("  again: {call: prove, back: {good: done}}\n", "")
        + "    returns: good\n",
    )
    assert [(check, path) for check, path, *_ in found(small_guide.sound())] == [
        ("unreachable", ("nodes", "again"))
    ]


LOOP = ("proved_by: The conductor is clear of its terminal.\n    go: done", "go: clamp")


def test_a_loop_needs_a_bound_and_shows_its_ring(small_guide):
    small_guide.edit(SITE, *LOOP).edit(
        SITE, "label: current is flowing, go: leave", "label: flowing, go: done"
    )
    ((check, path, line, hops),) = found(small_guide.sound())
    assert (check, path, line) == ("loop", ("nodes", "clamp"), 8)
    assert hops == ['reading `clamp`: "little or none"', "step `lift`: done"]


@pytest.mark.parametrize("through", ["clamp", "lift"])
def test_a_stated_loop_is_allowed_wherever_it_is_cut(small_guide, through):
    small_guide.edit(SITE, *LOOP).edit(
        SITE, "label: current is flowing, go: leave", "label: flowing, go: done"
    )
    text = (small_guide.folder / SITE).read_text()
    small_guide.write(SITE, text + f"loops: [{{through: {through}, at_most: 2}}]\n")
    assert found(small_guide.sound()) == []


def test_a_bound_for_a_loop_that_is_not_there(small_guide):
    text = (small_guide.folder / SITE).read_text()
    small_guide.write(SITE, text + "loops: [{through: lift, at_most: 2}]\n")
    assert [(check, path) for check, path, *_ in found(small_guide.sound())] == [
        ("idle-loop", ("loops", "1", "through"))
    ]


def test_a_bounded_loop_must_still_be_left(small_guide):
    small_guide.edit(
        SITE, "  done:\n", "  wait: {step: Wait., go: again}\n  again: {step: Wait., go: wait}\n  done:\n"
    )
    small_guide.edit(SITE, "not_steady: {go: leave}", "not_steady: {go: wait}")
    text = (small_guide.folder / SITE).read_text()
    small_guide.write(SITE, text + "loops: [{through: again, at_most: 2}]\n")
    ((check, path, _, hops),) = found(small_guide.sound())
    assert (check, path) == ("endless", ("nodes", "wait"))
    assert hops == ['reading `clamp`: "the display is not steady"', "step `wait`: here"]


def test_two_answers_that_read_alike(small_guide):
    small_guide.edit(SITE, "label: current is flowing", "label: Little or none")
    assert [(check, path) for check, path, *_ in found(small_guide.load())] == [
        ("same-answer", ("nodes", "clamp", "ranges", "2", "label"))
    ]
