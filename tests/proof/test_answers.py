"""Which answer a simulated caller gives: the one that stands for what is so, or now and then another."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from changed_trees import asking

from build_tools.guide.loading import load
from build_tools.guide.trees import Node
from build_tools.proof.caller_model import answers

WORDS = np.array(["none", "felt", "none", "felt", "felt", "none"])


def question(*words: str | None) -> Node:
    """A question with an answer for each word."""
    visit = load(Path(__file__).parents[1] / "guides" / "pair").trees["visit"]
    asked = asking(visit, "tingle", "danger", "not-proven").nodes["tingle"]
    return replace(asked, exits=tuple(replace(asked.exits[0], is_=word) for word in words))


def test_a_caller_who_makes_no_mistake_says_what_is_so() -> None:
    """The first answer that stands for it; one that stands for nothing is never given."""
    lot = np.linspace(0, 0.99, 6)
    assert answers(question(None, "felt", "none", "felt"), WORDS, lot, 0.0).tolist() == [2, 1, 2, 1, 1, 2]


def test_a_mistake_is_any_other_answer_as_likely_as_the_next() -> None:
    """Those whose lot is below the chance of a mistake, parted evenly among the other answers."""
    lot = np.array([0.0, 0.04, 0.08, 0.09, 0.12, 0.119])
    given = answers(question("felt", "none", "maybe", "yes"), WORDS, lot, 0.12)
    assert given.tolist() == [0, 2, 3, 3, 0, 3]


@pytest.mark.parametrize("errs", [0.0, 1.0])
def test_of_one_answer_there_is_no_other(errs: float) -> None:
    assert answers(question("usual"), np.full(3, "usual"), np.zeros(3), errs).tolist() == [0, 0, 0]


def test_what_no_answer_stands_for_is_told_with_its_words() -> None:
    with pytest.raises(KeyError, match=r"tingle: no answer stands for .*'none'"):
        answers(question("felt", "maybe"), WORDS, np.ones(6), 0.05)
