"""What one screen of a tree costs: the minutes that its node takes, and the words that are read on it."""

from __future__ import annotations

import re

from build_tools.guide.models import Question, Reading, Step
from build_tools.guide.trees import Node
from calc.minutes import Minutes
from calc.symptoms import ON_RECORD

__all__ = ["SEEN_AT_HOME", "minutes_of", "words_of"]

SEEN_AT_HOME = frozenset({"earthing", "phases"})
"""Facts of the record that are seen at the home as well, and looked up by nobody."""


def minutes_of(node: Node, minutes: Minutes) -> float:
    """The minutes that a node takes whenever a walk comes to it, as `proof/visits` reckons them. A probe that
    is put in soil first is not in it."""
    match node.spec:
        case Question(fact=fact):
            return minutes.act("record" if fact in ON_RECORD - SEEN_AT_HOME else "question")
        case Reading(instrument=instrument):
            return minutes.act(instrument)
        case Step(does=does):
            return sum(map(minutes.act, does)) if does else minutes.act("step")
    return minutes.act("end")


def words_of(node: Node) -> int:
    """The words on the screen of a node: what it asks or tells, its help, what proves it done, its exits."""
    spec = node.spec
    told = [node.words, spec.help, spec.proved_by if isinstance(spec, Step) else None]
    told += [exit_.label for exit_ in node.exits if not isinstance(spec, Step)]
    return sum(len(re.findall(r"[^\s\[\]|]+", text)) for text in told if text)
