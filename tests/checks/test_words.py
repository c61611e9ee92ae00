"""What a node says is what it does: readings, steps, and answers."""

from __future__ import annotations

from pathlib import Path

import pytest

from build_tools.checks import words
from build_tools.guide.loading import load
from build_tools.guide.wording import place
from calc.instruments import CLAMPED, INSTRUMENTS, LIGHTS_FROM, TOUCHED
from calc.work import ACTIONS

ROOT = Path(__file__).parents[2]
TREE = """\
title: A tree
audience: site
about: For a test.
review_by: 2099-01-01
sources: [crews]
start: node
nodes:
  node:
    {node}
  last: {{outcome: The end, priority: urgent, hand_over: The control room.}}
"""
READING = """\
reading: "{words}"
    instrument: {instrument}
    on: [{on}]
    unit: {unit}
    ranges: [{{label: any, go: last}}]
    not_taken: {{go: last}}
    over_range: {{go: last}}
    not_steady: {{go: last}}"""
STEP = """\
step: "{words}"
    help: "{help}"
    does: [{does}]
    go: last"""
QUESTION = """\
question: Is it so?
    {about}
    answers:
      - {{answer: "{yes}", is: "{is_yes}", go: last}}
      - {{answer: "{no}", is: "{is_no}", go: last}}"""


@pytest.fixture
def found(small_guide):
    def run(node):
        guide = small_guide.write("trees/site/worded.yaml", TREE.format(node=node)).sound()
        return [finding.check for finding in words.check(guide, ())]

    return run


@pytest.fixture
def of_reading(found):
    def run(sentence, instrument, *on):
        unit = INSTRUMENTS[instrument].unit
        return found(READING.format(words=sentence, instrument=instrument, on=", ".join(on), unit=unit))

    return run


@pytest.fixture
def of_step(found):
    def run(sentence, *does, helped="Gloves on."):
        return found(STEP.format(words=sentence, help=helped, does=", ".join(does)))

    return run


@pytest.fixture
def of_answers(found):
    def run(about, yes, no, is_=("yes", "no")):
        return found(QUESTION.format(about=about, yes=yes, no=no, is_yes=is_[0], is_no=is_[1]))

    return run


@pytest.mark.parametrize(
    "folder", ["guide_src", "tests/guides/small", "tests/guides/walked", "build_tools/reference/example"]
)
def test_the_guides_say_what_they_do(folder):
    assert list(words.check(load(ROOT / folder), ())) == []


@pytest.mark.parametrize(
    ("sentence", "reading"),
    [
        ("Clamp the main earth.", ("clamp", "main_earth")),
        ("Measure from neutral to earth.", ("voltmeter", "neutral", "earth")),
        ("Measure from earth to neutral.", ("voltmeter", "neutral", "earth")),
        ("Test the loop from line to the [[neutral]].", ("loop", "line", "neutral")),
        ("Measure the loop from the third line to earth.", ("loop", "line3", "earth")),
        ("Hold the non-contact indicator to the pipe.", ("non-contact", "pipe")),
        ("With the main earth off, measure from line to neutral.", ("voltmeter", "line", "neutral")),
    ],
)
def test_a_reading_that_says_what_it_is_passes(of_reading, sentence, reading):
    assert of_reading(sentence, *reading) == []


def test_a_reading_may_say_it_as_the_pages_do(of_reading):
    for name in CLAMPED:
        assert of_reading(f"Clamp {place(name)}.", "clamp", name) == [], name
    for name in TOUCHED:
        assert of_reading(f"Hold a contact indicator to {place(name)}.", "contact", name) == [], name


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_a_reading_that_names_nothing_is_refused(of_reading, instrument):
    on = CLAMPED[:1] if instrument == "clamp" else TOUCHED[: 1 if instrument in LIGHTS_FROM else 2]
    assert of_reading("Write the figure down.", instrument, *on) == ["reading-unsaid"] * (1 + len(on))


@pytest.mark.parametrize(
    ("sentence", "reading", "refused"),
    [
        ("Measure from line to earth.", ("loop", "line", "earth"), ["reading-unsaid"]),
        (
            "Test the loop from line to earth.",
            ("voltmeter", "line", "earth"),
            ["reading-says-else", "reading-unsaid"],
        ),
        ("Clamp the neutral tail.", ("clamp", "neutral_tail", "main_earth"), ["reading-unsaid"] * 2),
        (
            "Clamp the neutral tail, then the main earth.",
            ("clamp", "neutral_tail", "main_earth"),
            ["reading-unsaid"],
        ),
        (
            "Clamp the neutral tail and the main earth together.",
            ("clamp", "neutral_tail"),
            ["reading-says-else"],
        ),
        (
            "Measure from line to neutral.",
            ("voltmeter", "line2", "neutral"),
            ["reading-says-else", "reading-unsaid"],
        ),
    ],
)
def test_a_reading_that_says_another_is_refused(of_reading, sentence, reading, refused):
    assert sorted(of_reading(sentence, *reading)) == refused


def test_a_figure_asked_for_again_need_not_be_told_again(found):
    first = READING.format(words="Clamp the main earth.", instrument="clamp", on="main_earth", unit="A")
    for sentence, refused in (("The figure once more.", []), ("The loop once more.", ["reading-says-else"])):
        again = READING.format(words=sentence, instrument="clamp", on="main_earth", unit="A")
        assert found(f"{first}\n  again:\n    {again}\n    same_as: node") == refused


SAID = {
    "lift-main-earth": "Disconnect the main earthing conductor.",
    "restore-main-earth": "Connect the main earthing conductor.",
    "open-main-switch": "Switch the home off.",
    "close-main-switch": "Take the lock off and switch the home on.",
    "switch-on-known-load": "Switch on the known load.",
    "switch-off-known-load": "Switch the known load off.",
    "quieten-home": "Ask them to leave heaters off.",
    "end-quiet": "Say that heaters may go on again.",
    "withdraw-cut-out-fuse": "Withdraw the cut-out fuse.",
    "replace-cut-out-fuse": "Put the cut-out fuse back.",
    "go-next-door": "Go to that home.",
    "come-back": "Go back to the first home.",
}


@pytest.mark.parametrize("action", SAID)
def test_a_step_does_what_it_says_and_not_the_opposite(of_step, action):
    assert ACTIONS.keys() <= SAID.keys()
    assert of_step(SAID[action], action) == []
    opposite = words.UNDONE_BY[action]
    assert of_step(SAID[opposite], action) == ["action-unsaid", "opposite-said"]
    assert of_step(f"{SAID[action]} {SAID[opposite]}", action) == ["opposite-said"]
    assert of_step(f"{SAID[action]} {SAID[opposite]}", action, opposite) == []


def test_what_is_forbidden_is_not_said(of_step):
    assert of_step("Do not switch the home on.", "close-main-switch") == ["action-unsaid"]
    assert of_step("Switch the home off, and never switch the home on.", "open-main-switch") == []


def test_one_of_several_things_may_stand_in_the_help(of_step):
    does, helped = ("switch-off-known-load", "end-quiet"), "Tell them that the test is over."
    assert of_step("Switch the load off.", *does) == ["action-unsaid"]
    assert of_step("Switch the load off.", *does, helped=helped) == []
    assert of_step("Go on.", "end-quiet", helped=helped) == ["action-unsaid"]


@pytest.mark.parametrize(
    ("about", "yes", "no", "is_"),
    [
        ("fact: tingle", "Yes, or not sure", "No", ("yes", "no")),
        ("fact: main-earth-looks-whole", "It is whole", "It is broken", ("yes", "no")),
        ("fact: contact-indicator-lights", "It lights", "It stays dark", ("yes", "no")),
        ("fact: lights", "Some are brighter", "They are dim", ("bright", "dim")),
        ("fact: earthing", "TN-C-S", "TN-S", ("tn-c-s", "tn-s")),
    ],
)
def test_answers_stand_for_what_they_say(of_answers, about, yes, no, is_):
    assert of_answers(about, yes, no, is_) == []
    assert of_answers(about, no, yes, is_) == ["answer-says-else"] * 2


def test_words_that_are_not_certain_pass(of_answers):
    assert of_answers("fact: tingle", "Somebody", "Cannot be told") == []
    assert of_answers("remember: asked", "No", "Yes") == []


@pytest.mark.parametrize(
    ("denied", "ordered"),
    [
        ("Do not touch it.", "Touch it."),
        ("Keep clear, and touch no metal.", "Keep clear, and touch the metal."),
        ("Disconnect and reset nothing.", "Disconnect it."),
        ("Nobody is to join the ends.", "Join the ends."),
        ("Nobody goes near it.", "Go near it."),
        ("Do not lift it, nor touch it.", "Lift it, but do not touch it."),
    ],
)
def test_nothing_is_ordered_in_danger_that_must_be_left_alone(small_guide, denied, ordered):
    outcome = (
        "step: Look.\n    go: end\n  end:\n    outcome: The end\n    priority: {}\n"
        "    hand_over: The control room.\n    advice: ['{}']"
    )
    for priority, advice, refused in (
        ("emergency", denied, []),
        ("emergency", ordered, ["done-in-danger"]),
        ("urgent", ordered, []),
    ):
        text = TREE.format(node=outcome.format(priority, advice))
        guide = small_guide.write("trees/site/worded.yaml", text).sound()
        assert [finding.check for finding in words.check(guide, ())] == refused, advice


def test_what_a_crew_does_at_once_is_held_to_it_too(small_guide):
    text = (small_guide.folder / "guide.yaml").read_text("utf-8")
    for order, refused in (("Touch nothing.", 0), ("Touch it.", 2)):
        danger = f"{{title: Live, heard_as: [live], say: [Keep off.], do: ['{order}'], sources: [crews]}}"
        added = f"danger_now: {{site: ['{order}']}}\ndangers: {{live: {danger}}}\n"
        guide = small_guide.write("guide.yaml", f"{text}\n{added}").sound()
        assert [f.check for f in words.check(guide, ())] == ["done-in-danger"] * refused
