"""How a measured share moves with what is judged, from the streets weighed. Needs no numpy, for pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from build_tools.proof.binomial import bounds, is_beyond
from build_tools.proof.doubts import OHMS
from calc.faults import KINDS

__all__ = ["AT_LEAST", "UNMOVED", "Corner", "Moved", "judged"]

AT_LEAST = 50
"""An end of which fewer streets speak (effective number of the weighed ones) is not known."""

_BY_CHANCE = 0.0005
"""Chance on either side that an end which moves nothing seems to: so few that among all ends of a row, some
sixty, one seldom does."""


@dataclass(frozen=True, slots=True)
class Moved:
    """How a share moves. `ends`: those that move it, as places in `Evidence.ends`, each with the share there,
    the greatest move first. `unknown`: those of which fewer than AT_LEAST streets speak.

    An end moves a share when the share as drawn lies outside the exact 99.9 % bounds of its own at that end.
    """

    ends: tuple[tuple[int, float], ...] = ()
    unknown: tuple[int, ...] = ()

    @classmethod
    def of(cls, kept: Sequence[Any]) -> Moved:
        """As it was kept. Raises ValueError or TypeError for what is none."""
        ends, unknown = kept
        return cls(tuple((int(end), float(share)) for end, share in ends), tuple(unknown))

    @classmethod
    def by_weights(cls, share: float, sums: Sequence[Sequence[int]]) -> Moved:
        """From the share as drawn and the sums of weights (three rows, a column for each end)."""
        found, unknown = [], []
        for end, (asked, happened, squares) in enumerate(zip(*sums, strict=True)):
            streets = asked**2 / squares if squares else 0.0
            if streets < AT_LEAST:
                unknown.append(end)
                continue
            there = happened / asked
            if is_beyond(share, streets, there * streets, _BY_CHANCE):
                found.append((end, round(there, 4)))
        found.sort(key=lambda one: (-abs(one[1] - share), one[0]))
        return cls(tuple(found), tuple(unknown))

    def between(self, share: float) -> tuple[float, float]:
        """The least and the greatest share over all ends, the share as drawn among them."""
        shares = [share, *(there for _, there in self.ends)]
        return min(shares), max(shares)


UNMOVED = Moved()
"""Nothing is known to move it."""


@dataclass(frozen=True, slots=True)
class Corner:
    """A share at a corner: streets asked, in how many it happened, and the exact 95 % bounds of the share,
    each one-sided."""

    asked: int
    happened: int
    low: float
    high: float

    @classmethod
    def of(cls, asked: int, happened: int) -> Corner:
        """With its bounds."""
        low, high = (round(bound, 6) for bound in bounds(asked, happened, 0.05))
        return cls(asked, happened, low, high)


def judged(
    fault: str, share: float, sums: Sequence[Sequence[int]]
) -> tuple[Moved, tuple[tuple[int, int], ...]]:
    """How the share as drawn moves; and of a joint gone bad the streets asked, and where it happened, for
    each part between OHMS.

    From the sums of weights, if there are any: three rows, as weighing.Sums has them."""
    if not sums:
        return UNMOVED, ()
    parts = len(OHMS) - 1
    moved = Moved.by_weights(share, [row[:-parts] for row in sums])
    joints = tuple(zip(*(row[-parts:] for row in sums[:2]), strict=True))
    return moved, joints if fault in KINDS and KINDS[fault].is_joint else ()
