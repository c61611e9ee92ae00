"""Whoever rings is asked for danger first, and told at once what to do."""

from __future__ import annotations

from build_tools.checks import dangers

CALL = "trees/call/tingle-told.yaml"
DANGERS = """
dangers:
  held:
    title: Held
    sources: [crews]
    say: [Do not touch them.]
    do: [Make it dead.]
    heard_as: [stuck]
"""
WHICH = """  which:
    question: Which is it?
    answers:
      - {answer: Smoke, go: WHERE}
      - {answer: None of these, go: felt}
"""


def found(guide):
    return [(each.check, ".".join(each.path)) for each in dangers.check(guide, guide.trees.values())]


def asked(small_guide, *, first, which, tells):
    """The call whose first yes goes to `first`, whose question of which it is goes to `which`."""
    settings = (small_guide.folder / "guide.yaml").read_text("utf-8")
    small_guide.write("guide.yaml", settings + DANGERS)
    small_guide.edit(CALL, '{answer: "Yes", go: send-now}\n      - {answer: "No", go: felt}',
                     f'{{answer: "Yes", go: {first}}}\n      - {{answer: "No", go: felt}}')  # fmt: skip
    more = WHICH.replace("WHERE", which)
    if which == "third":
        more += WHICH.replace("which:", "third:").replace("WHERE", "send-now")
    small_guide.edit(CALL, "  felt:\n", f"{more}  felt:\n")
    if tells:
        small_guide.edit(CALL, "    outcome: Send a crew now\n",
                         "    outcome: Send a crew now\n    dangers: true\n")  # fmt: skip
    return found(small_guide.sound())


def test_what_to_do_is_told_after_the_first_yes_or_after_which_it_is(small_guide):
    assert asked(small_guide, first="send-now", which="send-today", tells=True) == []


def test_one_question_of_which_it_is_may_stand_between(small_guide):
    small_guide.edit(
        CALL, '{answer: "Yes", is: "yes", go: send-now}', '{answer: "Yes", is: "yes", go: send-today}'
    )
    assert asked(small_guide, first="which", which="send-now", tells=True) == []


def test_two_questions_between_are_too_many(small_guide):
    small_guide.edit(
        CALL, '{answer: "Yes", is: "yes", go: send-now}', '{answer: "Yes", is: "yes", go: send-today}'
    )
    assert asked(small_guide, first="which", which="third", tells=True) == [("danger-unasked", "nodes.hot")]


def test_an_end_that_tells_nothing_is_none(small_guide):
    assert asked(small_guide, first="which", which="send-now", tells=False) == [
        ("danger-unasked", "nodes.hot")
    ]
