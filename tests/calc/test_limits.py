"""What a limit must say, and the edges of those that are looked up."""

from __future__ import annotations

import math

import pytest

from calc.danger import HARMS, METALWORK_LIVE, SUPPLY_LOST, VOLTS_TOO_HIGH
from calc.limits import LIMITS, Limit, main_bond_mm2, max_loop_ohm
from calc.symptoms import BRIGHT_ABOVE_VOLTS, DIM_BELOW_VOLTS, OFF_BELOW_VOLTS, TINGLE_FROM_VOLTS


@pytest.mark.parametrize(
    ("value", "kind", "what", "source"),
    [
        (math.inf, "published", "volts", "a book"),
        (math.nan, "published", "volts", "a book"),
        (1, "hearsay", "volts", "a book"),
        (1, "published", " ", "a book"),
        (1, "published", "volts", " "),
    ],
)
def test_a_limit_without_a_number_or_a_source_is_refused(
    value: float, kind: str, what: str, source: str
) -> None:
    with pytest.raises(ValueError, match=r"limit|kind"):
        Limit(value, "V", what, source, kind)  # type: ignore[arg-type]


def test_harms_begin_at_the_published_volts() -> None:
    """50 V a.c. to earth (IEC 61140), 253 V (230 V plus 10 %): on the limit nobody is hurt yet."""
    assert [bool(HARMS[METALWORK_LIVE](volts)) for volts in (49.9, 50, 50.1)] == [False, False, True]
    assert [bool(HARMS[VOLTS_TOO_HIGH](volts)) for volts in (252.9, 253, 253.1)] == [False, False, True]
    assert [bool(HARMS[SUPPLY_LOST](volts)) for volts in (159.9, 160, 160.1)] == [True, False, False]


def test_what_people_notice_lies_where_the_project_says() -> None:
    """25 V and 207 V from standards (special locations; 230 V less 10 %); 100 V is the project's choice."""
    noticed = (TINGLE_FROM_VOLTS, OFF_BELOW_VOLTS, DIM_BELOW_VOLTS, BRIGHT_ABOVE_VOLTS)
    assert noticed == (25, 100, 207, 253)


def test_every_limit_is_told_with_its_unit() -> None:
    units = {name: limit.unit for name, limit in LIMITS.items()}
    assert {unit for unit in units.values() if not unit} <= {""}
    assert [name for name, unit in units.items() if not unit] == ["cmax", "cmin"]


@pytest.mark.parametrize("size", [0, -1, math.inf, math.nan])
def test_a_pen_without_a_size_has_no_bond(size: float) -> None:
    with pytest.raises(ValueError, match="pen_copper_mm2"):
        main_bond_mm2(size)


@pytest.mark.parametrize(("curve", "rating"), [("A", 32), ("B", 0), ("B", -6), ("C", math.inf)])
def test_a_breaker_that_there_is_not_is_refused(curve: str, rating: float) -> None:
    with pytest.raises(ValueError, match=r"breaker|rating_a"):
        max_loop_ohm(curve, rating)  # type: ignore[arg-type]
