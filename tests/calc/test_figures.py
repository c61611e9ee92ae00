"""Laws of the modules that hold figures, and what they refuse."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from calc.balance import neutral_current, neutral_shift, phase_emfs, star, triplen_neutral_ratio
from calc.conductor import CABLES, PIPES, Cable, copper_ohm_per_m, pipe_ohm_per_m, transformer_impedance
from calc.conductor import tube_ohm_per_m as tube
from calc.electrode import (
    open_pen_electrode_ohm,
    open_pen_volts,
    parallel_ohm,
    rod_ohm,
    rods_ohm,
    strip_ohm,
    wire_ohm,
)
from calc.limits import LIMITS, Limit, main_bond_mm2, max_loop_ohm
from calc.shock import BODY_OHM, body_ma, body_ohm, heart_ma, touch_volts

amps = st.floats(0, 200)
ohms = st.floats(0.1, 1e4)


def test_no_limit_is_without_a_source() -> None:
    words = {"published", "common-practice", "from-memory", "project-choice"}
    assert {limit.kind for limit in LIMITS.values()} <= words
    assert [key for key, limit in LIMITS.items() if not (limit.source.strip() and limit.what.strip())] == []
    said = {
        key for key, limit in LIMITS.items() if "from memory" in limit.source and limit.kind == "published"
    }
    assert said == {
        "volts-low",
        "volts-high",
        "declared-volts",
    }  # the regulation's number only; the band was read


def test_no_cable_or_pipe_is_without_a_source() -> None:
    words = ("published", "from memory", "our judgement")
    unsaid = [
        part.name for part in (*CABLES.values(), *PIPES.values()) if not any(w in part.source for w in words)
    ]
    assert unsaid == []
    assert all(key == cable.name for key, cable in CABLES.items())
    assert all((cable.earth_ohm_per_km is not None) == key.endswith("-sne") for key, cable in CABLES.items())


@given(amps, amps, amps, st.sampled_from([1.0, 1.1]))
def test_the_electrode_found_holds_metalwork_at_70_v(a: float, b: float, c: float, cmax: float) -> None:
    assume(a + b + c > 0.01)
    limit = open_pen_electrode_ohm(a, b, c, cmax=cmax)
    volts = open_pen_volts(a, b, c, electrode_ohm=limit, cmax=cmax)
    assert volts <= 70 * (1 + 1e-9)
    if math.isfinite(limit):
        assert math.isclose(volts, 70, rel_tol=1e-6)
    # 70 V over the neutral current is the cautious bound, whatever the loads.
    assert limit >= 70 / abs(neutral_current(a, b, c) or 1e-9) / (1 + 1e-9)


@given(st.floats(0, 400), st.sampled_from(sorted(BODY_OHM)), st.sampled_from([5, 50, 95]))
def test_a_current_told_backwards_is_its_touch_voltage(volts: float, edition: str, percent: int) -> None:
    assume(volts > 1e-3)
    current = body_ma(volts, percent, edition)
    assert math.isclose(touch_volts(current, percent, edition), volts, rel_tol=1e-9)


def test_body_current_rises_with_touch_voltage_in_every_column() -> None:
    for edition, columns in BODY_OHM.items():
        for percent, table in columns.items():
            currents = [volts / body_ohm(volts, percent, edition) for volts in table]
            assert all(low < high for low, high in pairwise(currents))


@given(st.tuples(ohms, ohms, ohms), ohms)
def test_current_that_leaves_the_star_comes_back_by_the_neutral(
    loads: tuple[float, float, float], neutral_ohm: float
) -> None:
    solved = star(phase_emfs(230), loads, neutral_ohm)
    assert math.isclose(
        abs(sum(solved.line_a)), abs(solved.shift_v) / neutral_ohm, rel_tol=1e-9, abs_tol=1e-9
    )


@given(ohms, ohms, ohms)
def test_a_lost_neutral_keeps_every_load_within_line_voltage(a: float, b: float, c: float) -> None:
    solved = star(phase_emfs(230), (a, b, c))
    assert max(abs(volts) for volts in solved.load_v) <= LIMITS["phase-to-phase"].value + 1e-9


@given(st.floats(1, 1000), st.floats(0.5, 10), st.integers(2, 10))
def test_more_rods_lie_between_one_rod_and_its_nth_part(soil: float, length: float, count: int) -> None:
    one = rod_ohm(soil, length, 0.016)
    assert one / count < rods_ohm(one, count, length, soil) < one


@given(st.floats(1, 1e4), st.floats(1, 500), st.floats(0.001, 0.99), st.floats(0.05, 10), st.floats(1.01, 3))
def test_a_strip_of_any_shape_has_ohms_above_0(
    soil: float, length: float, width: float, depth: float, times: float
) -> None:
    """And fewer when it is longer, wider, or deeper."""
    for ohm, across in ((strip_ohm, width), (wire_ohm, width / 10)):
        here = ohm(soil, length, across, depth)
        assert 0 < ohm(soil, times * length, across, depth) < here < math.inf
        assert 0 < ohm(soil, length, across, times * depth) < here
        assert here < ohm(soil, length, across / times, depth)


def test_a_short_deep_strip_is_not_below_0() -> None:
    """BS 7430's formula for a long strip gives 100/(2 pi) (ln(2/0.81) - 1) = -1.5 ohm here."""
    assert 100 / (2 * math.pi) * (math.log(2 / 0.81) - 1) < 0
    assert strip_ohm(100, 1, 0.9, 0.9) > 0


@given(st.floats(20, 500), st.floats(0.01, 0.1), st.floats(0.3, 2))
def test_a_long_strip_or_wire_is_as_the_books_have_it(length: float, across: float, depth: float) -> None:
    """BS 7430 (from memory) with the terms that Dwight's series adds for depth s/2 and length 2L, as IEEE Std
    142 prints it (from memory): s/(2L) - s^2/(16 L^2) + s^4/(512 L^4)."""
    half, twice = length / 2, 2 * depth
    ends = twice / (2 * half) - twice**2 / (16 * half**2) + twice**4 / (512 * half**4)
    for ohm, less in ((strip_ohm, 1.0), (wire_ohm, 1.3)):
        told = 100 / (2 * math.pi * length) * (math.log(2 * length**2 / (across * depth)) - less + ends)
        assert math.isclose(ohm(100, length, across, depth), told, rel_tol=1e-3)


def test_the_mean_along_a_short_wire_agrees_with_scipy() -> None:
    """The double integral of one over distance, from the wire's own radius and from its image, by scipy."""
    length, depth, diameter = 2.0, 1.5, 0.2
    radius = diameter * math.exp(-0.7)  # BS 7430's 1.3
    means = [
        dblquad(lambda x, y, apart=apart: 1 / math.hypot(x - y, apart), 0, length, 0, length)[0] / length
        for apart in (radius, 2 * depth)
    ]
    outside = 100 / (4 * math.pi * length) * sum(means)
    assert math.isclose(wire_ohm(100, length, diameter, depth), outside, rel_tol=1e-6)


def test_the_load_loss_is_the_loss_of_the_resistance() -> None:
    current = 500_000 / math.sqrt(3) / 400
    assert math.isclose(3 * current**2 * transformer_impedance(500, 4.75, 400, 5500).real, 5500)


@pytest.mark.parametrize(
    ("what", "words"),
    [
        (lambda: copper_ohm_per_m(17), "no copper conductor of 17 mm2"),
        (lambda: pipe_ohm_per_m("plastic-22"), "no pipe called 'plastic-22'; there are copper-15"),
        (lambda: tube(15, 8, 0.02), "does not fit"),
        (lambda: tube(15, 0.7, 0), "resistivity_ohm_mm2_per_m must be above 0"),
        (lambda: Cable("x", 1, 1, None, "sne", "ours"), "earth conductor of its own"),
        (lambda: Cable("x", 1, 1, 1, "tn-s", "ours"), "kind must be cne or sne"),
        (lambda: Cable("x", 0, 1, None, "cne", "ours"), "resistance above 0"),
        (lambda: Cable("x", 1, 1, None, "cne", ""), "where its figures come from"),
        (lambda: transformer_impedance(0, 4.75, 400), "rating_kva must be above 0"),
        (lambda: transformer_impedance(500, 475, 400), "impedance_percent must lie between"),
        (lambda: transformer_impedance(500, 4.75, 400, 30_000), "must lie between 0 and 23750 W"),
        (lambda: Limit(math.nan, "V", "what", "who", "published"), "needs a number"),
        (lambda: Limit(1, "V", "what", " ", "published"), "where it comes from"),
        (lambda: Limit(1, "V", "what", "who", "guess"), "kind must be one of"),
        (lambda: main_bond_mm2(0), "pen_copper_mm2 must be above 0"),
        (lambda: max_loop_ohm("K", 6), "type B, C or D"),
        (lambda: max_loop_ohm("B", math.nan), "rating_a must be above 0"),
        (lambda: rod_ohm(100, -1, 0.016), "length_m must be above 0"),
        (lambda: rod_ohm(100, 0.016, 1), "longer than it is thick"),
        (lambda: rods_ohm(40, 11, 3, 100), "tabulated for 1 to 10"),
        (lambda: rods_ohm(40, 0, 3, 100, factor=1), "count must be 1 or more"),
        (lambda: strip_ohm(100, 0.5, 0.5, 0.6), "long beside its width"),
        (lambda: wire_ohm(100, 20, 0, 0.6), "must be above 0"),
        (lambda: parallel_ohm([20, 0]), "resistance above 0"),
        (lambda: open_pen_volts(0), "at least one is on"),
        (lambda: open_pen_volts(10, electrode_ohm=0), "resistance above 0"),
        (lambda: open_pen_electrode_ohm(10, -1), "0 A or more"),
        (lambda: neutral_shift([230, 230], [1]), "2 emfs and 1 admittances"),
        (lambda: star(phase_emfs(230), [math.inf] * 3), "floats"),
        (lambda: star([230], [0]), "short circuit"),
        (lambda: triplen_neutral_ratio(-0.1), "third must be 0 or more"),
        (lambda: body_ohm(0), "begins above 0 V"),
        (lambda: body_ohm(701), "ends at 700 V"),
        (lambda: body_ohm(50, edition="2018"), "edition must be one of 2005, 2005 water-wet, 1994"),
        (lambda: body_ohm(50, percent=10), "percent must be 5, 50 or 95"),
        (lambda: body_ohm(50, path="ear-to-ear"), "path must be one of"),
        (lambda: touch_volts(1e6), "must lie above 0 and up to"),
        (lambda: heart_ma(50, "ear-to-ear"), "path must be one of"),
        (lambda: heart_ma(-1, "foot-to-foot"), "current_ma must be 0 or more"),
    ],
)
def test_what_cannot_be_is_refused_in_words(what: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words.replace("(", r"\(")):
        what()
