"""What simulated visits go by, as an author states it: minutes, people, chances, and laws of bad joints."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from calc.exposure import People
from calc.instruments import INSTRUMENTS
from calc.joint_law import JointLaw
from calc.work import ACTIONS

__all__ = ["ACTS", "CHANCES", "MADE_SAFE", "PERSONS", "Minutes", "Stated"]

_STRICT: dict[str, Any] = {"extra": "forbid", "use_attribute_docstrings": True}

ACTS: dict[str, str] = {
    "question": "to ask or look, and pick an answer",
    "record": "to have a record of the street looked up and read out",
    "step": "a step that changes nothing on the street: to warn, prove testers, uncover",
    "probe": "to put a probe in soil away from all metalwork, once at each home",
    **{name: f"one reading with: {tester.title.lower()}" for name, tester in INSTRUMENTS.items()},
    **dict.fromkeys(ACTIONS, "to do it"),
    "go-next-door": "to be let in and set up at the next home",
    "come-back": "to go back to the first home",
    "end": "to tell people and hand over",
}
"""What takes time in a visit: each kind of act, each instrument and each action of calc.work."""

MADE_SAFE: dict[str, str] = {
    "emergency": "until what was handed over as an emergency is made safe",
    "urgent": "the same for today",
    "soon": "the same within days",
    "routine": "the same at the next planned work",
    "unsettled": "until somebody comes back to what was left open",
    "closed": "until the next call about what was closed, where a danger was left",
}
"""Each priority of an end, and `closed`: the minutes for which a fault lasts after the visit."""

PERSONS: dict[str, str] = {
    "at-home": "persons at a home, on the average of day and night",
    "touch-dry": "share of that time in which one touches earthed metalwork with dry skin",
    "touch-wet": "share of that time in which one touches it with wet skin",
}
"""Who can be hurt at each home meanwhile."""

CHANCES: dict[str, str] = {
    "neighbour-out": "nobody lets the crew in, for each home next door",
    "no-record": "no record of the street is there, for each visit",
    "no-soil": "no soil for a probe, for each home",
    "main-earth-hidden": "the main earth can be neither seen nor clamped, for each home",
    "not-steady": "a display does not hold still, for each reading",
    "record-wrong": "the record leaves out what pipes join, for everybody who reads it, for each visit",
    "eye-misses": "what is to be seen is missed whenever it is looked for, for each visit",
    "stays-here": "the crew's habit is to go to no other home, for each visit",
    "record-says-nothing": "the crew's habit is to answer that the record shows nothing, for each visit",
    "jaw-not-closed": "the clamp's jaw does not close, so that it reads a share, for each visit",
    "jaw-share": "the share of the true current that it then reads",
    "flat-meter": "one tester goes flat after it was proved and shows 0, or nothing, for each visit",
}
"""What can be wanting, and mistakes that share a cause: how likely each is, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Stated:
    """A figure and where it is from. Raises ValueError for one below 0."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    value: float
    """The figure: minutes, persons, or a chance or share from 0 to 1."""
    source: str
    """Where it is from, in a few words."""

    def __post_init__(self) -> None:
        if not 0 <= self.value < math.inf:
            raise ValueError(f"value must be 0 or more, got {self.value:g}")


@dataclass(frozen=True, slots=True)
class Minutes:
    """What simulated visits go by. Every key of ACTS, MADE_SAFE, PERSONS and CHANCES is stated, and no other.

    Raises ValueError where that is not so.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    acts: dict[str, Stated]
    """What takes time in a visit -> its minutes: `question`, `record`, `step`, `probe`, `end`, each
    instrument, and each action that a step `does`."""
    made_safe: dict[str, Stated]
    """Each priority of an end, and `closed` -> the minutes until what was left is made safe."""
    persons: dict[str, Stated]
    """Who is `at-home`, and the shares of that time in which metalwork is touched: `touch-dry`,
    `touch-wet`."""
    chances: dict[str, Stated]
    """What can be wanting or go wrong in a visit -> how likely it is, 0 to 1."""
    laws: dict[str, JointLaw]
    """Name -> when a bad joint is bad. Faults of joints are walked with each of them."""

    def __post_init__(self) -> None:
        stated = {"acts": ACTS, "made_safe": MADE_SAFE, "persons": PERSONS, "chances": CHANCES}
        for field, known in stated.items():
            _states(field, getattr(self, field), known)
        for name, chance in self.chances.items():
            if chance.value > 1:
                raise ValueError(f"chances: {name} must be from 0 to 1, got {chance.value:g}")
        if not self.laws:
            raise ValueError("laws must name at least one")
        _ = self.people

    @property
    def people(self) -> People:
        """Who is at home, as calc.exposure takes them. Raises ValueError for shares above the whole."""
        return People(*(self.persons[name].value for name in PERSONS))

    def act(self, name: str) -> float:
        """The minutes that an act takes."""
        return self.acts[name].value

    def chance(self, name: str) -> float:
        """How likely something is to be wanting or wrong."""
        return self.chances[name].value


def _states(field: str, given: Mapping[str, Stated], known: Mapping[str, str]) -> None:
    if missing := sorted(known.keys() - given.keys()):
        raise ValueError(f"{field} must also state {', '.join(missing)}")
    if unknown := sorted(given.keys() - known.keys()):
        raise ValueError(f"{field}: nothing is called {', '.join(unknown)}")
