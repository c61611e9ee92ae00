"""What a node asks, as far as it decides the way out: equal for equal questions, wherever they stand."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

from build_tools.guide.models import Question, Reading
from build_tools.guide.trees import ExitKind, Node
from calc.instruments import INSTRUMENTS
from calc.many import rounded

__all__ = ["AskedExit", "Asks", "asked_by", "earlier", "judged", "leads_to"]


class AskedExit(NamedTuple):
    """An exit as far as what is found decides it: its kind, the bounds of a range, the word of an answer."""

    kind: ExitKind
    low: float
    high: float
    is_: str | None


class Asks(NamedTuple):
    """A fact, or a reading with an instrument, and the exits. `before`: what was done when the reading was
    taken that this one is judged by its change from; None where it is judged by itself."""

    fact: str
    instrument: str
    on: tuple[str, ...]
    exits: tuple[AskedExit, ...]
    before: frozenset[Any] | None = None


def asked_by(node: Node) -> Asks | None:
    """What a node asks of what is there; None where nothing there decides."""
    exits = tuple(AskedExit(exit_.kind, exit_.low, exit_.high, exit_.is_) for exit_ in node.exits)
    match node.spec:
        case Question(fact=str() as fact):
            return Asks(fact, "", (), exits)
        case Reading(instrument=instrument, on=on):
            return Asks("", instrument, on, exits)
    return None


def earlier(node: Node) -> str:
    """The node of the reading that this one is judged by its change from; empty where there is none."""
    name = node.spec.change_from if isinstance(node.spec, Reading) else None
    return node.id.removesuffix(node.name) + name if name else ""


def judged(asks: Asks, read: Callable[[frozenset[Any]], Any], conditions: frozenset[Any]) -> Any:
    """The figure that a reading is judged by: what `read` finds now, or how far that has moved."""
    now = read(conditions)
    if asks.before is None:
        return now
    return rounded(abs(now - read(asks.before)), INSTRUMENTS[asks.instrument].decimals)


def leads_to(found: Any, exit_: AskedExit) -> Any:
    """Whether what is found calls for an exit: a word, or a figure as calc.instruments.reading gives it. With
    an array of them, where."""
    match exit_.kind:
        case "answer":
            return found == exit_.is_
        case "range":
            return (exit_.low <= found) & (found < exit_.high)
        case "over_range":
            return found == math.inf
        case "not_taken":
            return found != found
    return False
