"""When a bad joint is bad: always, at times, with load, or after somebody has done something near it.

A joint opens with load, weather and hour, and may be quiet while a crew is there. What chance decides is
drawn beforehand from a stream of its own, as the turns that the joint takes; whether it is bad now then
follows from the turns and from what is so now, for one joint and for arrays of many alike.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from functools import reduce
from operator import xor
from typing import Any, ClassVar, Literal, NamedTuple

__all__ = ["JointLaw", "Now", "When"]

When = Literal["always", "at-times", "with-load", "after-disturbance"]

_STRICT: dict[str, Any] = {"extra": "forbid", "use_attribute_docstrings": True}

_NEEDS: dict[str, tuple[str, ...]] = {
    "always": (),
    "at-times": ("bad_share", "bad_minutes"),
    "with-load": ("above_a",),
    "after-disturbance": ("bad_share", "opens", "closes"),
}
"""What each kind of law has to state, and no other has."""


class Now(NamedTuple):
    """What decides, besides the turns drawn: the minutes on the clock, the amperes that the joint carries
    when it is sound, and how often something was done near it. Arrays for many joints."""

    minute: Any = 0.0
    amperes: Any = 0.0
    disturbed: Any = 0


@dataclass(frozen=True, slots=True)
class JointLaw:
    """When a joint is bad. Raises ValueError unless it states just what its kind needs."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    source: str
    """Where the law is from, in a few words."""
    when: When
    """When the joint is bad: `always`; `at-times`, by itself; `with-load`; `after-disturbance`, by what is
    done near it."""
    bad_share: float | None = None
    """The share of all time in which it is bad (`at-times`), or the chance that it is bad before anything
    is done (`after-disturbance`), 0 to 1."""
    bad_minutes: float | None = None
    """How long it stays bad, on the average, in minutes (`at-times`)."""
    above_a: float | None = None
    """It is bad while the sound joint would carry more than so many amperes (`with-load`)."""
    opens: float | None = None
    """The chance that a good joint goes bad when something is done near it, 0 to 1 (`after-disturbance`)."""
    closes: float | None = None
    """The chance that a bad joint becomes good when something is done near it, 0 to 1
    (`after-disturbance`)."""

    def __post_init__(self) -> None:
        if self.when not in _NEEDS:
            raise ValueError(f"when must be one of {', '.join(_NEEDS)}, got {self.when!r}")
        for name in ("bad_share", "bad_minutes", "above_a", "opens", "closes"):
            if (getattr(self, name) is None) == (name in _NEEDS[self.when]):
                said = "needs" if name in _NEEDS[self.when] else "has no"
                raise ValueError(f"a law `{self.when}` {said} {name}")
        for name in ("bad_share", "opens", "closes"):
            chance = getattr(self, name)
            if chance is not None and not 0 <= chance <= 1:
                raise ValueError(f"{name} must be from 0 to 1, got {chance:g}")
        if self.when == "at-times" and self.bad_share in (0.0, 1.0):
            raise ValueError("bad_share of a law `at-times` must lie between 0 and 1")
        if self.bad_minutes is not None and not 0 < self.bad_minutes < math.inf:
            raise ValueError(f"bad_minutes must be above 0, got {self.bad_minutes:g}")
        if self.above_a is not None and not 0 <= self.above_a < math.inf:
            raise ValueError(f"above_a must be 0 or more, got {self.above_a:g}")

    def turns(self, chance: random.Random, until: float) -> tuple[float, ...]:
        """When the joint turns from good to bad or back, up to `until`: minutes for a law `at-times`, and the
        number of the disturbance for `after-disturbance`; a first turn at 0 makes it bad from the start.

        The same stream gives the same turns; how long it has been bad or good tells nothing of when it turns
        (a two-state process without memory).
        """
        if self.when == "at-times":
            return self._turns_in_time(chance, until)
        if self.when == "after-disturbance":
            return self._turns_when_disturbed(chance, int(until))
        return ()

    def _turns_in_time(self, chance: random.Random, until: float) -> tuple[float, ...]:
        assert self.bad_share is not None and self.bad_minutes is not None
        good_minutes = self.bad_minutes * (1 - self.bad_share) / self.bad_share
        is_bad = chance.random() < self.bad_share
        turns, minute = [0.0] if is_bad else [], 0.0
        while (
            minute := minute + chance.expovariate(1 / (self.bad_minutes if is_bad else good_minutes))
        ) < until:
            turns.append(minute)
            is_bad = not is_bad
        return tuple(turns)

    def _turns_when_disturbed(self, chance: random.Random, until: int) -> tuple[float, ...]:
        assert self.bad_share is not None and self.opens is not None and self.closes is not None
        is_bad = chance.random() < self.bad_share
        turns = [0.0] if is_bad else []
        for disturbance in range(1, until + 1):
            if chance.random() < (self.closes if is_bad else self.opens):
                turns.append(float(disturbance))
                is_bad = not is_bad
        return tuple(turns)

    def is_bad(self, turns: tuple[Any, ...], now: Now) -> Any:
        """Whether the joint is bad now. With arrays in `turns` (the first turns of many joints, then the
        second, infinite where there is none) and in `now`: which of them are."""
        match self.when:
            case "with-load":
                return now.amperes > self.above_a
            case "always":
                return now.minute >= 0
        so_far = now.minute if self.when == "at-times" else now.disturbed
        return reduce(xor, (turn <= so_far for turn in turns), so_far < 0)

    def bad_minutes_of(self, is_bad: Any, minutes: Any) -> Any:
        """How many of the next minutes a joint that is bad or good now will be bad, on the average, when
        nobody does anything near it and the loads stay as they are. Arrays as for `is_bad`.

        `at-times`: the mean of a two-state process, which forgets its state with a time constant of its own.
        """
        if self.when != "at-times":
            return is_bad * minutes
        assert self.bad_share is not None and self.bad_minutes is not None
        forgets = self.bad_minutes * (1 - self.bad_share)
        held = forgets * (1 - math.e ** (-minutes / forgets))
        return self.bad_share * minutes + (is_bad - self.bad_share) * held
