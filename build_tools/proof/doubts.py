"""What is judged of a sampling, and may be otherwise: each spread put towards either of its ends.

An end of a range is its lower or upper third; of a chance, the other chance that the author doubts it by; of
a choice and of the shapes of street, each by itself. Streets as drawn are weighed as if they had been drawn
so (`weight`), or streets are drawn so (`put`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from statistics import NormalDist

from calc.drawn_streets import Drawn
from calc.sampling import SPREADS, Sampling, Spread

__all__ = ["AS_DRAWN", "CORNER_STREETS", "LAYOUT", "OHMS", "End", "ends_of", "put", "size", "weight"]

LAYOUT = "layout"
"""In place of a spread: the shapes of street."""

OHMS = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
"""Ohms at which the joints are parted, for a curve."""

CORNER_STREETS = 300
"""Streets that are drawn for each kind of fault where several spreads are put at their ends at once."""

AS_DRAWN = 1000
"""The weight of a street as drawn: whole thousandths, so that sums are the same in any order."""

_MOST = 1000 * AS_DRAWN
"""No street weighs more; where one would, so few streets speak that nothing is said of that end."""

_THIRD = 1 / 3


@dataclass(frozen=True, slots=True, order=True)
class End:
    """One spread put towards one end: `low` or `high`; for a choice and for LAYOUT the name chosen."""

    spread: str
    at: str

    @property
    def is_walked_anew(self) -> bool:
        """No street is drawn by its spread, but each answer of a call: calls are walked anew."""
        return self.spread in ("caller-errs", "caller-errs-again")


def ends_of(sampling: Sampling) -> tuple[End, ...]:
    """Every end that is told of: none of a chance without doubt, nor where there is nothing to choose."""
    layouts = [End(LAYOUT, layout.id) for layout in sampling.layouts]
    spreads = [End(name, at) for name in SPREADS for at in _ends(sampling.spreads[name])]
    return (*(layouts if len(layouts) > 1 else ()), *spreads)


def _ends(spread: Spread) -> Iterator[str]:
    if spread.choice is not None:
        yield from spread.choice if len(spread.choice) > 1 else ()
    elif spread.doubt is not None or (spread.chance is None and spread.at(0) != spread.at(1)):
        yield from ("low", "high")


def put(sampling: Sampling, ends: Iterable[End]) -> Sampling:
    """The sampling with its spreads at these ends, each draw of them."""
    for end in ends:
        if end.spread == LAYOUT:
            only = tuple(layout for layout in sampling.layouts if layout.id == end.at)
            sampling = replace(sampling, layouts=only)
        else:
            spread = _put(sampling.spreads[end.spread], end.at)
            sampling = replace(sampling, spreads={**sampling.spreads, end.spread: spread})
    return sampling


def _put(spread: Spread, at: str) -> Spread:
    if spread.choice is not None:
        return replace(spread, choice={at: 1.0})
    if spread.chance is not None:
        assert spread.doubt is not None
        return replace(spread, chance=spread.doubt[at == "high"], doubt=None)
    part = (spread.at(0), spread.at(_THIRD)) if at == "low" else (spread.at(2 * _THIRD), spread.at(1))
    return replace(spread, uniform=part) if spread.uniform else replace(spread, log_uniform=part)


def weight(sampling: Sampling, end: End, drawn: Drawn) -> int:
    """How much a street as drawn counts at an end, in thousandths: how much likelier it would be drawn there.

    Exact for what is drawn once a street, and for any number of chances. Of a figure that is drawn several
    times a street, an end is the third of the streets where their mean is lowest or highest; of such a
    choice, that one of them, any, came to it. A street where nothing is drawn by the spread counts as drawn.
    """
    if end.spread == LAYOUT:
        weights = {layout.id: layout.weight for layout in sampling.layouts}
        ratio = sum(weights.values()) / weights[end.at] if drawn.layout == end.at else 0.0
    elif shares := drawn.taken.get(end.spread):
        ratio = _likelier(sampling.spreads[end.spread], end.at, shares)
    else:
        ratio = 1.0
    return min(round(AS_DRAWN * ratio), _MOST)


def _likelier(spread: Spread, at: str, shares: tuple[float, ...]) -> float:
    many = len(shares)
    if spread.choice is not None:
        chosen: int = sum(spread.at(share) == at for share in shares)
        return chosen / many * sum(spread.choice.values()) / spread.choice[at]
    if spread.chance is not None:
        assert spread.doubt is not None
        so = sum(share < spread.chance for share in shares)
        other = spread.doubt[at == "high"]
        if spread.chance in (0, 1):  # nothing drawn tells of another
            return 0.0
        return math.pow(other / spread.chance, so) * math.pow((1 - other) / (1 - spread.chance), many - so)
    mean = sum(shares) / many
    below = _THIRD if many == 1 else 0.5 + NormalDist().inv_cdf(_THIRD) / math.sqrt(12 * many)
    return 1 / _THIRD if (mean if at == "low" else 1 - mean) < below else 0.0


def size(drawn: Drawn) -> int:
    """Which of the parts between OHMS a street's bad joint is in; -1 where it is in none."""
    ohm = drawn.joint_ohm
    return next((part for part, high in enumerate(OHMS[1:]) if OHMS[part] <= ohm <= high), -1)
