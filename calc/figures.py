"""How a figure is written: one function, so that build and browser agree to the last digit."""

from __future__ import annotations

import math

__all__ = ["figure", "shown_unit"]

_UNITS = {"ohm": "Ω"}


def figure(value: float, digits: int, unit: str = "") -> str:
    """A value with `digits` decimals and its unit. Raises ValueError unless the value is finite.

    >>> figure(0.0894, 2, "ohm"), figure(-0.001, 1, "V"), figure(-12.3, 0, "V")
    ('0.09 Ω', '0.0 V', '−12 V')
    """
    if not math.isfinite(value):
        raise ValueError(f"a figure must be finite, got {value!r}")
    size = f"{abs(value):.{digits}f}"
    sign = "−" if value < 0 and float(size) else ""
    return f"{sign}{size} {shown_unit(unit)}".rstrip()


def shown_unit(unit: str) -> str:
    """The sign for a unit that the code names in letters.

    >>> shown_unit("ohm"), shown_unit("kW")
    ('Ω', 'kW')
    """
    return _UNITS.get(unit, unit)
