"""Which faults explain what was seen at one home, and which test would tell the most next.

Against streets drawn at random: what each test showed on each of them, meter errors and load changes
included, lies in a table that the guide's builder makes. A fault is as likely as its streets that look like
this one are common.
"""

from __future__ import annotations

import base64
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from calc.faults import KINDS
from calc.instruments import INSTRUMENTS, TWO_POLE_STEPS
from calc.readings import TESTS

__all__ = [
    "ASKED",
    "PRIORS",
    "STATES",
    "TOO_LIKELY",
    "WHERE",
    "Asked",
    "Explained",
    "Sampled",
    "State",
    "before_anything",
    "code_of",
    "in_danger",
    "sampled",
    "value_of",
]

WHERE = {"here": "at this home or on the main that feeds it", "next-door": "next door on the same metalwork"}
"""Where a fault is, for the home that is visited."""

PRIORS: dict[tuple[str, str], float] = {
    ("healthy", "here"): 40,
    ("service-pen-open", "here"): 8,
    ("service-pen-high", "here"): 8,
    ("mains-pen-open", "here"): 4,
    ("mains-pen-high", "here"): 4,
    ("service-pen-open", "next-door"): 6,
    ("service-pen-high", "next-door"): 6,
    ("mains-pen-open", "next-door"): 2,
    ("mains-pen-high", "next-door"): 2,
    ("line-open", "here"): 2,
    ("mains-line-open", "here"): 2,
    ("reversed-polarity", "here"): 1,
    ("reversed-polarity-earth-live", "here"): 1,
    ("reversed-polarity-earth-live", "next-door"): 1,
    ("main-earth-lost", "here"): 4,
    ("bond-lost", "here"): 3,
    ("loose-neutral-tail", "here"): 4,
    ("loose-line-tail", "here"): 4,
    ("high-volts", "here"): 4,
}
"""Kinds of fault, where each is, and how common it is among homes that are visited because something was
noticed. Project choice, no source. `healthy` stands for every fault that does not reach this home too."""


def _title(kind: str, where: str) -> str:
    if kind == "healthy":
        return "No fault that reaches this home"
    if where == "here":
        return KINDS[kind].title
    if "pen" in kind.split("-"):
        return f"A PEN open or going bad {WHERE[where]}"
    return f"{KINDS[kind].title}, {WHERE[where]}"


STATES: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = tuple(
    (title, tuple(same)) for title, same in itertools.groupby(PRIORS, key=lambda each: _title(*each))
)
"""The states that are told apart: the words for each, and which of PRIORS it is. The PENs next door are one:
from one home nobody can tell which of them it is, and the next step is the same."""

TOO_LIKELY = 1e-3
"""A test is not proposed while a state in which it would hurt is more probable than this."""

NO_READING = 255
"""The code for what could not be taken."""

OVER_RANGE, _TOP = 251, 250


@dataclass(frozen=True, slots=True)
class Asked:
    """Something that can be seen at a home: a display, or one of `words`.

    `scale`: below it a display counts by steps as wide as each other, above it by ratio. `width`: how far
    two displays of the same state lie apart, in codes of `code_of`. `needs`: the action it needs first.
    """

    id: str
    title: str
    unit: str = ""
    words: tuple[str, ...] = ()
    high: float = 0.0
    scale: float = 0.0
    width: float = 0.0
    needs: str = ""


def _asked() -> tuple[Asked, ...]:
    found = [
        Asked("lights", "Lights", words=("normal", "bright", "dim", "off")),
        Asked("tingle", "Tingle from metalwork", words=("no", "yes")),
        Asked("neighbour-off", "A home beside this one is off", words=("no", "yes")),
        Asked("shares-metalwork", "Metalwork is shared with another home", words=("no", "yes")),
        Asked("main-earth-looks-whole", "The main earthing conductor looks whole", words=("yes", "no")),
    ]
    for test in TESTS:
        needs = test.after[0] if test.after else ""
        if needs == "lift-main-earth":
            continue  # shown in this guide so that nobody has to make them
        unit = INSTRUMENTS[test.instrument].unit
        match test.instrument:
            case "contact" | "non-contact":
                found.append(Asked(test.id, test.title, words=("dark", "lit"), needs=needs))
            case "two-pole":
                lamps = ("no lamp", *(f"{step} V lamp" for step in TWO_POLE_STEPS))
                found.append(Asked(test.id, test.title, words=lamps, needs=needs))
            case "voltmeter" if "line" in test.on:
                found.append(Asked(test.id, test.title, unit, high=450, scale=1e4, width=5, needs=needs))
            case "voltmeter":
                found.append(Asked(test.id, test.title, unit, high=1000, scale=1.0, width=16, needs=needs))
            case _:
                found.append(Asked(test.id, test.title, unit, high=200, scale=0.1, width=10, needs=needs))
    return tuple(found)


ASKED: dict[str, Asked] = {asked.id: asked for asked in _asked()}
"""What can be asked of a visit, by id; tests by their id in calc.readings."""


def code_of(asked: Asked, value: float | str) -> int:
    """One byte for what was seen: the place of a word, or a display rounded; infinite is over range.

    Raises ValueError for a word that is not one of `asked.words`.
    """
    if isinstance(value, str):
        return asked.words.index(value)
    if math.isnan(value):
        return NO_READING
    if value > asked.high:
        return OVER_RANGE
    return round(_TOP * math.asinh(value / asked.scale) / math.asinh(asked.high / asked.scale))


def value_of(asked: Asked, code: int) -> float:
    """The display that a code stands for; infinite for over range."""
    if code >= OVER_RANGE:
        return math.inf
    return asked.scale * math.sinh(code / _TOP * math.asinh(asked.high / asked.scale))


@dataclass(frozen=True, slots=True)
class Sampled:
    """The table: for each thing asked one byte a street, the streets of each state together.

    `counts`: streets of each of PRIORS, in its order. `hurts`: 1 where an action would hurt.
    """

    counts: tuple[int, ...]
    columns: Mapping[str, bytes]
    hurts: Mapping[str, bytes]

    @property
    def starts(self) -> tuple[int, ...]:
        """Where the streets of each of STATES begin, and the end of all."""
        counts = iter(self.counts)
        each = [sum(itertools.islice(counts, len(same))) for _, same in STATES]
        return tuple(itertools.accumulate(each, initial=0))

    def to_data(self) -> dict[str, Any]:
        """As plain data, for JSON."""
        return {
            "counts": list(self.counts),
            "columns": {name: base64.b64encode(column).decode() for name, column in self.columns.items()},
            "hurts": {name: base64.b64encode(column).decode() for name, column in self.hurts.items()},
        }


def sampled(data: Mapping[str, Any]) -> Sampled:
    """The table from plain data; read once for each."""
    return _read(tuple(data["counts"]), tuple(data["columns"].items()), tuple(data["hurts"].items()))


@lru_cache(maxsize=2)
def _read(counts: tuple[int, ...], columns: Any, hurts: Any) -> Sampled:
    return Sampled(
        counts,
        {name: base64.b64decode(column) for name, column in columns},
        {name: base64.b64decode(column) for name, column in hurts},
    )


@dataclass(frozen=True, slots=True)
class State:
    """One of STATES by its place, with its probability."""

    place: int
    probability: float

    @property
    def title(self) -> str:
        """In words."""
        return STATES[self.place][0]

    @property
    def endangers(self) -> bool:
        """Whether it can kill or burn, shown or not, wherever on the metalwork it is."""
        return any(KINDS[kind].endangers for kind, _ in STATES[self.place][1])


def in_danger(states: Sequence[State]) -> float:
    """How probable it is that one of the states that can kill or burn is there, whichever of them.

    >>> round(in_danger(before_anything()), 3)
    0.519
    """
    return math.fsum(state.probability for state in states if state.endangers)


def before_anything() -> tuple[State, ...]:
    """Every state, the most common first, before anything is seen."""
    total = math.fsum(PRIORS.values())
    states = [
        State(place, math.fsum(PRIORS[each] for each in same) / total)
        for place, (_, same) in enumerate(STATES)
    ]
    return tuple(sorted(states, key=lambda state: -state.probability))


class Explained:
    """What was seen at a home, by id of ASKED, as codes; what could not be taken is left out.

    Weights of streets are multiplied as each thing seen is added, so that the next one costs little.
    """

    def __init__(self, table: Sampled, seen: Mapping[str, int] = {}) -> None:
        self.table, self.seen = table, dict[str, int]()
        self.weights = [
            prior / count
            for prior, count in zip(PRIORS.values(), table.counts, strict=True)
            for _ in range(count)
        ]
        self._apart = [0.0] * len(self.weights)
        for name, code in seen.items():
            self.add(name, code)

    def add(self, name: str, code: int) -> None:
        """One thing more that was seen."""
        if code == NO_READING:
            return
        self.seen[name] = code
        apart = [_apart(ASKED[name], code, other) for other in range(256)]
        likely = [max(math.exp(-each / 2), 1e-4) for each in apart]
        column = self.table.columns[name]
        weights = [weight * likely[shown] for weight, shown in zip(self.weights, column, strict=True)]
        total = math.fsum(weights)
        self.weights = [weight / total for weight in weights]
        self._apart = [so_far + apart[shown] for so_far, shown in zip(self._apart, column, strict=True)]

    @property
    def fits(self) -> bool:
        """Whether any street looks like this: the nearest lies no further off than one reading in a hundred
        would by chance."""
        many = len(self.seen)
        return not many or min(self._apart) <= many + 2.33 * math.sqrt(2 * many) + 4

    def states(self) -> tuple[State, ...]:
        """Every state, the most probable first."""
        by_state = self._by_state(self.weights)
        total = math.fsum(by_state)
        states = [State(place, share / total) for place, share in enumerate(by_state)]
        return tuple(sorted(states, key=lambda state: -state.probability))

    def _by_state(self, weights: Sequence[float]) -> list[float]:
        starts = self.table.starts
        return [math.fsum(weights[a:b]) for a, b in itertools.pairwise(starts)]

    def hurts(self, action: str) -> float:
        """How probable the likeliest state is in which `action` would hurt somebody; 0 for none."""
        if not action:
            return 0.0
        hurt = self.table.hurts[action]
        total = math.fsum(self.weights)
        return max(self._by_state([w if h else 0.0 for w, h in zip(self.weights, hurt, strict=True)])) / total

    def telling(self) -> tuple[tuple[str, float], ...]:
        """Tests not yet made that may be made, and the bits each is expected to tell, the most first."""
        allowed = {need: self.hurts(need) <= TOO_LIKELY for need in {one.needs for one in ASKED.values()}}
        found = [
            (name, self._told(name))
            for name, one in ASKED.items()
            if name not in self.seen and allowed[one.needs]
        ]
        return tuple(sorted(found, key=lambda each: -each[1]))

    def _told(self, name: str) -> float:
        """The expected fall in entropy, the displays parted into classes two widths wide."""
        one, column, starts = ASKED[name], self.table.columns[name], self.table.starts
        step = max(1, round(2 * one.width)) if one.width else 1
        table: dict[int, list[float]] = {}
        states = len(STATES)
        for place, (a, b) in enumerate(itertools.pairwise(starts)):
            for weight, shown in zip(self.weights[a:b], column[a:b], strict=True):
                row = table.get(shown // step)
                if row is None:
                    row = table[shown // step] = [0.0] * states
                row[place] += weight
        whole = [math.fsum(each) for each in zip(*table.values(), strict=True)]
        total = math.fsum(whole)
        after = math.fsum(math.fsum(row) / total * _bits(row) for row in table.values())
        return _bits(whole) - after

    def would_show(self, place: int, name: str) -> tuple[float, float, float] | str:
        """What this state would show, given what was seen: 5 %, half and 95 %; for words the likeliest."""
        starts, one = self.table.starts, ASKED[name]
        part = slice(starts[place], starts[place + 1])
        shown: dict[int, float] = {}
        for weight, code in zip(self.weights[part], self.table.columns[name][part], strict=True):
            if code != NO_READING:
                shown[code] = shown.get(code, 0.0) + weight
        if not shown:
            return "no reading"
        if one.words:
            return one.words[max(shown, key=lambda code: shown[code])]
        total, so_far, quantiles = math.fsum(shown.values()), 0.0, list[float]()
        for code in sorted(shown):
            so_far += shown[code]
            while len(quantiles) < 3 and so_far >= (0.05, 0.5, 0.95)[len(quantiles)] * total * (1 - 1e-9):
                quantiles.append(value_of(one, code))
        return quantiles[0], quantiles[1], quantiles[2]


def _apart(asked: Asked, code: int, other: int) -> float:
    """How far apart two codes lie, as the square of widths."""
    if asked.words:
        return 0.0 if code == other else 9.0
    if NO_READING in (code, other) or OVER_RANGE in (code, other):
        return 0.0 if code == other else 16.0
    return ((code - other) / asked.width) ** 2


def _bits(shares: Sequence[float]) -> float:
    total = math.fsum(shares)
    if not total:
        return 0.0
    return -math.fsum(share / total * math.log2(share / total) for share in shares if share > 0)
