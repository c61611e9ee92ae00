"""What a caller may be asked and told."""

from __future__ import annotations

import pytest

from build_tools.checks import callers
from build_tools.checks.callers import acts_asked

CALL = "trees/call/tingle-told.yaml"


def found(guide):
    return [(f.check, ".".join(f.path)) for f in callers.check(guide, ())]


def test_the_small_guide_asks_nothing_dangerous(small_guide):
    assert found(small_guide.sound()) == []


@pytest.mark.parametrize(
    "text",
    [
        "Do not touch the taps.",
        "Don't touch, open or lift anything.",
        "Don’t open the meter box.",
        "Never take the cover off, and keep away from it.",
        "Nobody should touch metal pipes.",
        "Has anyone touched it since?",
        "Is the front door open?",
        "Leave the doors open.",
        "Stay in touch with the people next door.",
        "We will open the cover and measure it.",
        "The crew may disconnect your supply.",
        "Keep away from the opened box.",
        "Hands off, no cut, no join.",
        "They must not join or touch the wires.",
        "Do not go near the meter.",
    ],
)
def test_what_may_be_said(text):
    assert list(acts_asked(text)) == []


@pytest.mark.parametrize(
    ("text", "act"),
    [
        ("Please touch the tap again.", "touch"),
        ("Could you open the meter cupboard?", "open"),
        ("Do not worry, open the box.", "open"),
        ("Do not wait. Open the box.", "open"),
        ("Never touch the pipe but lift the lid.", "lift"),
        ("Do not touch the pipe and remove the cover.", "remove"),
        ("Take the cover off.", "take the cover off"),
        ("They must not cut it, and they join it.", "join"),
        ("Get out, and go near the meter.", "go near"),
        ("Is it safe to open it?", "open"),
        ("Try touching it with one finger.", "try touching"),
        ("The crew will come, but you can measure it now.", "measure"),
        ("Do you feel it when you touch the tap?", "touch"),
    ],
)
def test_what_may_not_be_said(text, act):
    assert list(acts_asked(text)) == [act]


@pytest.mark.parametrize(
    ("old", "new", "path"),
    [
        (
            "question: Did you feel it more than once?",
            "question: Can you touch it once more?",
            "nodes.felt.question",
        ),
        (
            "say: [A crew will come to you today.]",
            "say: [Stay calm., Open the box.]",
            "nodes.send-today.say.2",
        ),
        ("say: [A crew will come to you today.]", "advice: [Open the box.]", "nodes.send-today.advice.1"),
    ],
)
def test_it_is_found_wherever_it_is_said(small_guide, old, new, path):
    assert found(small_guide.edit(CALL, old, new).sound()) == [("caller-at-risk", path)]


def test_crews_may_be_told_to(small_guide):
    small_guide.edit(
        "trees/site/main-earth.yaml", "advice: [Report it.]", "advice: [Open the cut-out and measure.]"
    )
    assert found(small_guide.sound()) == []


@pytest.mark.parametrize(
    ("node", "path"),
    [
        ("{step: Look., hazards: [opens-cover], go: send-now}", "nodes.more.hazards"),
        ("{step: Look., does: [open-main-switch], go: send-now}", "nodes.more.does"),
        (
            "{reading: Look., instrument: loop, on: [pipe], unit: A, ranges: [{label: a, go: send-now}]}",
            "nodes.more.reading",
        ),
    ],
)
def test_no_readings_and_no_hazards_on_the_telephone(small_guide, node, path):
    small_guide.edit(CALL, "  send-now:\n", f"  more: {node}\n  send-now:\n")
    assert found(small_guide.sound()) == [("caller-at-risk", path)]


def test_hard_words_are_told_with_the_hardest(small_guide):
    small_guide.edit(
        CALL, "A crew will come to you today.", "Immediate electrical investigation is necessitated."
    )
    small_guide.edit("guide.yaml", "at_least: 60", "at_least: 80")
    assert found(small_guide.sound()) == [("hard-to-take-in", "nodes.send-today.say.1")]


def test_in_danger_nobody_is_told_to_touch_anything(small_guide):
    text = (small_guide.folder / "guide.yaml").read_text("utf-8")
    danger = (
        "danger_now:\n  call: [Keep off metal., Open the fuse board and look.]\n  site: [Open nothing.]\n"
    )
    small_guide.write("guide.yaml", text + danger)
    assert found(small_guide.sound()) == [("caller-at-risk", "danger_now.call.2")]


def test_a_matter_is_shared_by_two_questions(small_guide):
    """By its name, or by what the other is answered by."""
    felt = "  felt:\n    question: Did you feel it more than once?\n"
    small_guide.edit(CALL, felt, f"{felt}    matter: danger\n")
    assert found(small_guide.sound()) == [("asked-once", "nodes.felt.matter")]
    hot = "    question: Is anything hot, or is there smoke?\n"
    small_guide.edit(CALL, hot, f"{hot}    matter: danger\n")
    assert found(small_guide.sound()) == []
