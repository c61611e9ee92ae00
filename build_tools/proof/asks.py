"""What a node asks, as far as it decides the way out: equal for equal questions, wherever they stand."""

from __future__ import annotations

from typing import NamedTuple

from build_tools.guide import ExitKind, Node
from build_tools.shapes import Question, Reading

__all__ = ["Asks", "asked_by"]


class Asks(NamedTuple):
    """A fact, or a reading with an instrument, and the exits: kind, bounds and word of each."""

    fact: str
    instrument: str
    on: tuple[str, ...]
    exits: tuple[tuple[ExitKind, float, float, str | None], ...]


def asked_by(node: Node) -> Asks | None:
    """What a node asks of what is there; None where nothing there decides."""
    exits = tuple((exit_.kind, exit_.low, exit_.high, exit_.is_) for exit_ in node.exits)
    match node.spec:
        case Question(fact=str() as fact):
            return Asks(fact, "", (), exits)
        case Reading(instrument=instrument, on=on):
            return Asks("", instrument, on, exits)
    return None
