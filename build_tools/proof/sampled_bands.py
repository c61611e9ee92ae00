"""What each test shows on healthy streets drawn as the guide's sampling states, at homes of one line that are
earthed from the PEN: the 5-95 % bands of pages."""

from __future__ import annotations

import math
from collections.abc import Sequence

from build_tools.setup.result_cache import keep, key_of, recall, source_key
from calc.drawn_streets import draw
from calc.readings import TESTS
from calc.sampling import Sampling
from calc.street import network
from calc.whole_street import WholeStreet

__all__ = ["STREETS", "band", "sampled_bands"]

STREETS = 400
"""Streets that are drawn. With so many, the ends of a band are those of 2.9-7.1 % with 95 % confidence."""

_BY_LAMP = ("contact", "non-contact")
"""Instruments that are lit or dark: no band."""


def sampled_bands(sampling: Sampling, streets: int = STREETS) -> dict[str, tuple[float, float]]:
    """Band by test id, in the instrument's unit, at one home of each street, chosen as the draw says.

    Kept in the cache until the sampling or the model changes.
    """
    key = key_of("bands", sampling, streets, source_key("calc"))
    kept: dict[str, tuple[float, float]] | None = recall(key)
    if kept is None:
        kept = _drawn(sampling, streets)
        keep(key, kept)
    return kept


def _drawn(sampling: Sampling, streets: int) -> dict[str, tuple[float, float]]:
    shown: dict[str, list[float]] = {test.id: [] for test in TESTS if test.instrument not in _BY_LAMP}
    for number in range(streets):
        drawn = draw(sampling.plain, number)
        for test, display in WholeStreet(network(drawn.street)).readings(drawn.visited).items():
            if test in shown and display.value is not None:
                shown[test].append(display.value)
    return {test: tuple(round(end, 4) for end in band(values)) for test, values in shown.items()}  # type: ignore[misc]


def band(values: Sequence[float], low: float = 0.05, high: float = 0.95) -> tuple[float, float]:
    """The values below which `low` and `high` of all lie, between neighbours by proportion."""
    ordered = sorted(values)

    def quantile(share: float) -> float:
        place = share * (len(ordered) - 1)
        below = math.floor(place)
        above = min(below + 1, len(ordered) - 1)
        return float(ordered[below] + (place - below) * (ordered[above] - ordered[below]))

    return quantile(low), quantile(high)
