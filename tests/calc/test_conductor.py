"""Metal obeys its resistivity, whatever table its figures were read from."""

from __future__ import annotations

import math
import re

import pytest

from calc.conductor import (
    CABLES,
    PIPES,
    Cable,
    aluminium_ohm_per_m,
    copper_ohm_per_m,
    pipe_ohm_per_m,
    transformer_impedance,
    tube_ohm_per_m,
)

SIZES = (1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300)
"""Nominal cross-sections of IEC 60228, mm2, from memory."""

METALS = {"cu": copper_ohm_per_m, "al": aluminium_ohm_per_m}


@pytest.mark.parametrize("size", (1, *SIZES))
def test_copper_of_a_size_has_nearly_the_resistance_of_so_much_metal(size: float) -> None:
    """Annealed copper of 100 % IACS is 0.01724 ohm.mm2/m (IEC 60028); strands and tolerance add
    up to 8 %, and a conductor called 50 mm2 has 47."""
    assert 1.0 <= copper_ohm_per_m(size) * size / 0.017241 <= 1.13


@pytest.mark.parametrize("size", SIZES[4:])
def test_aluminium_of_a_size_has_nearly_the_resistance_of_so_much_metal(size: float) -> None:
    """EC-grade aluminium is 0.02826 ohm.mm2/m (61 % IACS, from memory); as for copper."""
    assert 1.0 <= aluminium_ohm_per_m(size) * size / 0.028264 <= 1.14


def test_sizes_that_nobody_makes_are_refused() -> None:
    for ohm, size in ((copper_ohm_per_m, 20), (aluminium_ohm_per_m, 6), (copper_ohm_per_m, 400)):
        with pytest.raises(ValueError, match=r"no .* conductor of"):
            ohm(size)


def metal_of(name: str) -> tuple[str, float]:
    """The metal and the size that a cable's name states; bundled lines (abc) are of aluminium."""
    (size,) = re.findall(r"-(\d+)", name)
    return "cu" if name.split("-")[2:3] == ["cu"] or name.endswith("-cu") else "al", float(size)


@pytest.mark.parametrize("name", [name for name in CABLES if "4c" not in name])
def test_a_line_conductor_is_the_metal_that_its_name_says(name: str) -> None:
    metal, size = metal_of(name)
    line = CABLES[name].line_ohm_per_km
    assert line.real / 1000 == pytest.approx(METALS[metal](size), rel=0.001)


@pytest.mark.parametrize("name", CABLES)
def test_a_return_is_no_better_than_metal_and_no_worse_than_half_of_it(name: str) -> None:
    cable = CABLES[name]
    assert 0.75 <= cable.neutral_ohm_per_km.real / cable.line_ohm_per_km.real <= 1.7
    if cable.earth_ohm_per_km is not None:
        assert cable.kind == "sne"
        assert 1.5 <= cable.earth_ohm_per_km.real / cable.line_ohm_per_km.real <= 3.1


@pytest.mark.parametrize("name", CABLES)
def test_reactance_is_that_of_conductors_so_far_apart(name: str) -> None:
    """X = 0.0628 (0.25 + ln d/r) ohm/km at 50 Hz: cores that touch have 0.06 to 0.1, open wires some 0.3."""
    cable = CABLES[name]
    go, back = cable.line_ohm_per_km.imag, cable.neutral_ohm_per_km.imag
    apart = 300 if name.startswith("overhead-open") else None
    if apart:
        radius = math.sqrt(metal_of(name)[1] / math.pi)
        assert go == back == pytest.approx(0.0628 * (0.25 + math.log(apart / radius)), rel=0.07)
    else:
        assert 0.06 <= go + back <= 0.2


@pytest.mark.parametrize(
    ("line", "neutral", "earth", "kind", "source"),
    [
        (0.1, 0.1, None, "tt", "a book"),
        (0.1, 0.1, 0.2, "cne", "a book"),
        (0.1, 0.1, None, "sne", "a book"),
        (0, 0.1, None, "cne", "a book"),
        (0.1, -0.1, None, "cne", "a book"),
        (0.1, 0.1 - 0.1j, None, "cne", "a book"),
        (0.1, 0.1, 0, "sne", "a book"),
        (0.1, 0.1, None, "cne", ""),
    ],
)
def test_a_cable_that_cannot_be_is_refused(
    line: complex, neutral: complex, earth: complex | None, kind: str, source: str
) -> None:
    with pytest.raises(ValueError, match="odd"):
        earth_ohm = None if earth is None else complex(earth)
        Cable("odd", complex(line), complex(neutral), earth_ohm, kind, source)  # type: ignore[arg-type]


def test_a_cable_may_have_no_reactance() -> None:
    assert Cable("plain", 0.1 + 0j, 0.1 + 0j, None, "cne", "a book").line_ohm_per_km.imag == 0


def test_a_tube_is_solid_at_most() -> None:
    """A wall of half the diameter leaves no bore: resistivity over the area of the whole circle."""
    assert tube_ohm_per_m(10, 5, 0.02) == pytest.approx(0.02 / (math.pi * 25))
    assert tube_ohm_per_m(22, 0.9, 0.02) == pytest.approx(0.02 / (math.pi / 4 * (22**2 - 20.2**2)), rel=1e-12)
    for outside, wall, resistivity in (
        (10, 5.1, 0.02), (10, 0, 0.02), (math.inf, 1, 0.02), (10, 1, 0), (10, 1, math.inf), (10, -1, 0.02),
    ):  # fmt: skip
        with pytest.raises(ValueError, match=r"does not fit|above 0"):
            tube_ohm_per_m(outside, wall, resistivity)


def test_pipes_are_told_where_one_is_not_known() -> None:
    with pytest.raises(ValueError, match="there are copper-15"):
        pipe_ohm_per_m("straw")
    assert sorted(PIPES) == ["copper-15", "copper-22", "copper-28", "lead", "steel-1-inch"]


def test_a_transformer_short_of_loss_is_all_reactance_and_more_loss_is_resistance() -> None:
    """uk/100 V^2/S is the size whatever the loss; the loss at full current is 3 I^2 R."""
    for loss in (0, 1000, 5000):
        z = transformer_impedance(500, 4, 400, loss)
        assert abs(z) == pytest.approx(0.04 * 400**2 / 500e3)
        assert 3 * (500e3 / (math.sqrt(3) * 400)) ** 2 * z.real == pytest.approx(loss, abs=1e-9)
        assert z.imag >= 0
    assert transformer_impedance(500, 4, 400, 20_000).imag == pytest.approx(0, abs=1e-9)
    taken = transformer_impedance(500, 4, 400)
    assert taken.imag / taken.real == pytest.approx(0.017 / 0.005)


@pytest.mark.parametrize(
    ("kva", "percent", "volts", "loss"),
    [
        (0, 4, 400, None), (math.inf, 4, 400, None), (500, 0, 400, None), (500, 100, 400, None),
        (500, 4, 0, None), (500, 4, math.inf, None), (500, 4, 400, -1), (500, 4, 400, 20_001),
    ],
)  # fmt: skip
def test_a_transformer_that_cannot_be_is_refused(
    kva: float, percent: float, volts: float, loss: float | None
) -> None:
    with pytest.raises(ValueError, match="must"):
        transformer_impedance(kva, percent, volts, loss)
