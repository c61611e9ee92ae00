"""What each crew of a batch of visits finds wanting, and the mistakes that it makes all through its visit.

Each street's crew is drawn from a stream of its own, always in the same order, so that a chance which
changes moves nothing else: neither the street nor the rest of the crew.
"""

from __future__ import annotations

import math
import random
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from calc.instruments import INSTRUMENTS
from calc.minutes import CHANCES, Minutes

__all__ = ["PERFECT", "SCREENS", "Crews", "chances_of"]

PERFECT: Mapping[str, float] = dict.fromkeys(CHANCES, 0.0)
"""Everything is there, and nobody makes a mistake."""

SCREENS = 2000
"""No visit has more; one that does goes round in a loop."""


@dataclass
class Crews:
    """The crews of a batch, one a street, each thing as the bits of the streets where it is so.

    `out`, `no_soil` and `hidden`: by home. `unsteady`: by the number of the screen at which a display would
    not hold still. `flat`: by instrument, where it shows 0, and where it shows nothing.
    """

    size: int
    jaw_share: float
    out: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    no_soil: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    hidden: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    unsteady: dict[int, int] = field(default_factory=lambda: defaultdict(int))
    flat: dict[str, tuple[int, int]] = field(default_factory=dict)
    no_record: int = 0
    record_wrong: int = 0
    eye_misses: int = 0
    stays_here: int = 0
    says_nothing: int = 0
    jaw_open: int = 0

    @classmethod
    def drawn(
        cls, seed: int, numbers: Iterable[int], homes: Iterable[str], chances: Mapping[str, float]
    ) -> Crews:
        """The crews of the drawn streets of these numbers."""
        numbers, homes = tuple(numbers), tuple(homes)
        crews = cls(len(numbers), chances["jaw-share"])
        flat = {name: [0, 0] for name in INSTRUMENTS}
        for place, number in enumerate(numbers):
            chance, bit = random.Random(f"{seed}/{number}/crew"), 1 << place

            def so(name: str, chance: random.Random = chance, bit: int = bit) -> int:
                return bit if chance.random() < chances[name] else 0

            for name in ("no_record", "record_wrong", "eye_misses", "stays_here", "says_nothing", "jaw_open"):
                setattr(crews, name, getattr(crews, name) | so(_CHANCE_OF[name]))
            tester, way = chance.choice(tuple(INSTRUMENTS)), chance.randrange(2)
            flat[tester][way] |= so("flat-meter")
            for home in homes:
                crews.out[home] |= so("neighbour-out")
                crews.no_soil[home] |= so("no-soil")
                crews.hidden[home] |= so("main-earth-hidden")
            for screen in _now_and_then(chance, chances["not-steady"]):
                crews.unsteady[screen] |= bit
        crews.flat = {name: (zero, nothing) for name, (zero, nothing) in flat.items()}
        return crews


_CHANCE_OF = {
    "no_record": "no-record",
    "record_wrong": "record-wrong",
    "eye_misses": "eye-misses",
    "stays_here": "stays-here",
    "says_nothing": "record-says-nothing",
    "jaw_open": "jaw-not-closed",
}


def chances_of(minutes: Minutes) -> Mapping[str, float]:
    """The chances as the author states them."""
    return {name: minutes.chance(name) for name in CHANCES}


def _now_and_then(chance: random.Random, often: float) -> Iterable[int]:
    """The numbers up to SCREENS that come up, each with this chance: from one to the next by a geometric
    leap."""
    at = 0
    while (
        often
        and (at := at + (1 if often == 1 else 1 + int(math.log(1 - chance.random()) / math.log(1 - often))))
        <= SCREENS
    ):
        yield at - 1
