"""What each test shows on healthy streets drawn as the guide's sampling states: the 5-95 % bands of pages."""

from __future__ import annotations

from build_tools.kept import keep, key_of, recall, source_key
from calc.bands import Sampling, band, draw
from calc.readings import TESTS
from calc.street import network
from calc.whole_street import WholeStreet

__all__ = ["STREETS", "sampled_bands"]

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
        drawn = draw(sampling, number)
        homes = tuple(drawn.street.premises)
        home = homes[int(drawn.shares[0] * len(homes))]
        for test, display in WholeStreet(network(drawn.street)).readings(home).items():
            if test in shown and display.value is not None:
                shown[test].append(display.value)
    return {test: tuple(round(end, 4) for end in band(values)) for test, values in shown.items()}  # type: ignore[misc]
