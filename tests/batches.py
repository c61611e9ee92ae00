"""Streets as if they had been drawn, made by hand, and batches of them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from build_tools.proof.street_batch import StreetBatch, batched
from calc.drawn_streets import Drawn
from calc.street import Street

__all__ = ["as_drawn", "batch_of", "parted"]

METERS = ("clamp-error", "clamp-stray-a", "loop-error", "loop-offset-ohm", "voltmeter-error")


def as_drawn(street: Street, visited: str = "12", **more: Any) -> Drawn:
    """The street as if it had been drawn: instruments that do not err, loads that stay as they are, a caller
    who notices nothing, a fault at the first of its places. Anything else that `Drawn` takes may be given;
    of `meters` and `caller` some."""
    caller = {
        "caller-body-ohm": 1000.0,
        "caller-feels-ma": 1e6,
        "caller-sees-volts": 1e6,
        "caller-sees-dip": 1.0,
    }
    given = {
        "number": 0,
        "layout": "by hand",
        "later_kw": {home: premises.load_kw for home, premises in street.premises.items()},
        "known_load_kw": 2.3,
        "shares": (0.0, 0.0),
        "joint_ohm": 1.0,
    }
    meters = {**dict.fromkeys(METERS, 0.0), **more.pop("meters", {})}
    return Drawn(
        street=street,
        visited=visited,
        meters=meters,
        caller={**caller, **more.pop("caller", {})},
        **{**given, **more},
    )


def batch_of(*drawn: Drawn, kind: str = "healthy") -> StreetBatch:
    """The streets as one batch with a kind of fault, numbered in this order."""
    (whole,) = batched(replace(each, number=number) for number, each in enumerate(drawn))
    (batch,) = whole.with_fault(kind)
    return batch


def parted(street: Street) -> Street:
    """The street with its pipe interrupted between any two homes: nothing stands in for a broken PEN."""
    (pipe,) = street.metalwork
    return replace(street, metalwork=(replace(pipe, gaps=tuple(pipe.pairs)),))
