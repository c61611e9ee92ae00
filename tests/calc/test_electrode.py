"""Electrodes against sums worked another way, and what is refused."""

from __future__ import annotations

import cmath
import math

import pytest
from scipy.integrate import quad

from calc.electrode import (
    open_pen_electrode_ohm,
    open_pen_volts,
    parallel_ohm,
    rod_ohm,
    rods_ohm,
    strip_ohm,
    wenner_ohm_m,
    wire_ohm,
)


@pytest.mark.parametrize("count", range(2, 11))
def test_rods_in_a_line_crowd_each_other_by_their_distances(count: int) -> None:
    """BS 7430's lambda is, within 2 %, the mean over the rods of the sum of 1/distance to the others."""
    own, soil, spacing = 30.0, 100.0, 5.0
    mean = sum(1 / abs(one - other) for one in range(count) for other in range(count) if one != other) / count
    crowding = soil / (2 * math.pi * own * spacing)
    factor = (rods_ohm(own, count, spacing, soil) * count / own - 1) / crowding
    assert factor == pytest.approx(mean, rel=0.02)
    assert rods_ohm(own, 1, spacing, soil) == own
    assert rods_ohm(own, count, 1e9, soil) == pytest.approx(parallel_ohm([own] * count))


@pytest.mark.parametrize(("length", "depth"), [(20.0, 0.6), (5.0, 0.5), (2.0, 1.0)])
def test_a_buried_wire_is_the_mean_potential_of_itself_and_its_image(length: float, depth: float) -> None:
    """The potential of a line current, integrated along the wire by quadrature."""
    soil, diameter = 100.0, 0.0135
    radius = diameter * math.exp(1.3 - 2)

    def mean(apart: float) -> float:
        along = quad(
            lambda x: math.asinh(x / apart) + math.asinh((length - x) / apart), 0, length, limit=200
        )[0]
        return along / length

    expected = soil / (4 * math.pi * length) * (mean(radius) + mean(2 * depth))
    assert wire_ohm(soil, length, diameter, depth) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("currents", [(32.0, 0.0, 0.0), (80.0, 20.0, 20.0), (10.0, 10.0, 5.0)])
@pytest.mark.parametrize("electrode", [1.0, 20.0, math.inf])
def test_an_open_pen_stands_where_the_currents_balance(
    currents: tuple[float, float, float], electrode: float
) -> None:
    """Currents into the floating neutral through loads and electrode add up to none."""
    volts = [cmath.rect(230, -k * 2 * math.pi / 3) for k in range(3)]
    loads = [current / 230 for current in currents]
    shift = sum(v * y for v, y in zip(volts, loads, strict=True)) / (sum(loads) + 1 / electrode)
    assert open_pen_volts(*currents, electrode_ohm=electrode) == pytest.approx(abs(shift))


@pytest.mark.parametrize("currents", [(32.0,), (40.0, 10.0, 5.0)])
def test_the_electrode_that_is_needed_leaves_70_volts(currents: tuple[float, ...]) -> None:
    """70 V: BS 7671 722.411.4.1; the supply 1.1 times 230 V."""
    needed = open_pen_electrode_ohm(*currents)
    assert open_pen_volts(*currents, electrode_ohm=needed, cmax=1.1) == pytest.approx(70)
    assert open_pen_electrode_ohm(10, 10, 10) == math.inf


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: open_pen_volts(math.inf), "0 A or more"),
        (lambda: open_pen_volts(-1), "0 A or more"),
        (lambda: open_pen_volts(10, math.nan), "0 A or more"),
        (lambda: open_pen_volts(0), "at least one is on"),
        (lambda: open_pen_electrode_ohm(math.inf), "0 A or more"),
        (lambda: open_pen_electrode_ohm(0, 0, 0), "at least one is on"),
        (lambda: open_pen_volts(10, electrode_ohm=0), "above 0"),
        (lambda: parallel_ohm([10, 0]), "above 0"),
        (lambda: rods_ohm(30, 0, 5, 100), "1 or more"),
        (lambda: rods_ohm(30, 11, 5, 100), "1 to 10"),
        (lambda: rods_ohm(0, 2, 5, 100), "one_ohm"),
        (lambda: rod_ohm(100, 1, 1), "longer than it is thick"),
        (lambda: rod_ohm(math.inf, 1, 0.1), "soil_ohm_m"),
        (lambda: strip_ohm(100, 1, 1, 0.5), "long beside its width"),
        (lambda: wire_ohm(100, 10, 0.01, 0), "depth_m"),
        (lambda: wenner_ohm_m(0, 1), "spacing_m"),
        (lambda: wenner_ohm_m(1, math.inf), "reading_ohm"),
    ],
)
def test_what_cannot_be_is_refused(ask: object, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        ask()  # type: ignore[operator]


def test_electrodes_that_are_not_there_do_not_count() -> None:
    assert parallel_ohm([]) == parallel_ohm([math.inf]) == math.inf
    assert parallel_ohm([30, math.inf, 60]) == pytest.approx(20)
    assert wenner_ohm_m(3, 2) == pytest.approx(12 * math.pi)
