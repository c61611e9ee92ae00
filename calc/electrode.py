"""Earth electrodes: their resistance to true earth, and how low it must be to stand in for a lost PEN.

Uniform soil throughout; real soil is layered, dries and freezes, so a measured value always comes first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from calc.balance import neutral_current, neutral_shift, phase_emfs
from calc.limits import LIMITS

__all__ = [
    "open_pen_electrode_ohm",
    "open_pen_volts",
    "parallel_ohm",
    "rod_ohm",
    "rods_ohm",
    "strip_ohm",
    "wenner_ohm_m",
    "wire_ohm",
]

# BS 7430, factor lambda for rods in a straight line, equally spaced: from memory.
_LINE_FACTORS = {2: 1.0, 3: 1.66, 4: 2.15, 5: 2.54, 6: 2.87, 7: 3.15, 8: 3.39, 9: 3.61, 10: 3.81}


def rod_ohm(soil_ohm_m: float, length_m: float, diameter_m: float) -> float:
    """Resistance of one driven rod to true earth, ohm.

    Raises ValueError unless all are above 0 and the rod is longer than it is thick.
    Source: Dwight, as used in BS 7430: R = rho/(2 pi L) * (ln(8 L/d) - 1) (two public calculation sheets).

    >>> round(rod_ohm(soil_ohm_m=100, length_m=3.048, diameter_m=0.01905), 3)
    32.137
    """
    _above_0(soil_ohm_m=soil_ohm_m, length_m=length_m, diameter_m=diameter_m)
    if diameter_m >= length_m:
        raise ValueError(f"a rod is longer than it is thick: {length_m!r} m long, {diameter_m!r} m thick")
    return soil_ohm_m / (2 * math.pi * length_m) * (math.log(8 * length_m / diameter_m) - 1)


def rods_ohm(
    one_ohm: float, count: int, spacing_m: float, soil_ohm_m: float, factor: float | None = None
) -> float:
    """Resistance of `count` equal rods joined together, ohm; each alone has `one_ohm`.

    In a straight line `spacing_m` apart, unless `factor` gives the lambda of another arrangement. Holds for
    rods at least their own length apart. Raises ValueError for more rods than the table has.
    Source: BS 7430: Rn = R (1 + lambda a)/n, a = rho/(2 pi R s) (two public sheets; lambda from memory).

    >>> round(rods_ohm(rod_ohm(100, 2.4, 0.016), count=3, spacing_m=2.4, soil_ohm_m=100), 2)
    17.13
    """
    _above_0(one_ohm=one_ohm, spacing_m=spacing_m, soil_ohm_m=soil_ohm_m)
    if count < 1:
        raise ValueError(f"count must be 1 or more, got {count!r}")
    if count == 1:
        return one_ohm
    if factor is None:
        if count not in _LINE_FACTORS:
            raise ValueError(f"rods in a line are tabulated for 1 to {max(_LINE_FACTORS)}, got {count!r}")
        factor = _LINE_FACTORS[count]
    crowding = soil_ohm_m / (2 * math.pi * one_ohm * spacing_m)
    return one_ohm * (1 + factor * crowding) / count


def strip_ohm(soil_ohm_m: float, length_m: float, width_m: float, depth_m: float) -> float:
    """Resistance of a straight buried strip, ohm.

    Raises ValueError unless all are above 0 and the strip is longer than it is wide.
    Source: BS 7430: R = rho/(2 pi L) * (ln(2 L^2/(w h)) - 1) (from memory), which is for strips very long
    beside their depth and falls below 0 for short ones; here with the ends in it, as `_buried` says.

    >>> round(strip_ohm(soil_ohm_m=100, length_m=20, width_m=0.025, depth_m=0.6), 2)
    7.91
    """
    return _buried(soil_ohm_m, length_m, width_m, depth_m, less=1.0)


def wire_ohm(soil_ohm_m: float, length_m: float, diameter_m: float, depth_m: float) -> float:
    """Resistance of a straight buried round wire, ohm.

    Raises ValueError unless all are above 0 and the wire is longer than it is thick.
    Source: BS 7430: R = rho/(2 pi L) * (ln(2 L^2/(d h)) - 1.3) (from memory), with the ends as in strip_ohm.

    >>> round(wire_ohm(soil_ohm_m=100, length_m=20, diameter_m=0.0135, depth_m=0.6), 2)
    8.16
    """
    return _buried(soil_ohm_m, length_m, diameter_m, depth_m, less=1.3)


def _buried(soil_ohm_m: float, length_m: float, across_m: float, depth_m: float, less: float) -> float:
    """The mean potential along a conductor from itself and from its image above the soil (Dwight 1936, whose
    series in depth over length this is the sum of; as in IEEE Std 142, from memory).

    The radius is the one with which BS 7430's formula, and its `less`, comes out for a long conductor.
    """
    _above_0(soil_ohm_m=soil_ohm_m, length_m=length_m, width_m=across_m, depth_m=depth_m)
    if across_m >= length_m:
        raise ValueError(f"the formula holds for a conductor long beside its width, got {length_m!r} m")
    radius_m = across_m * math.exp(less - 2)
    own, image = (_line_mean(apart_m / length_m) for apart_m in (radius_m, 2 * depth_m))
    return soil_ohm_m / (2 * math.pi * length_m) * (own + image)


def _line_mean(apart: float) -> float:
    """Half the mean, from end to end, of length over distance of two equal lines `apart` lengths apart: above
    0 at any distance, and ln(2/apart) - 1 where they are near."""
    return math.asinh(1 / apart) - 1 / (math.hypot(1, apart) + apart)


def wenner_ohm_m(spacing_m: float, reading_ohm: float) -> float:
    """Apparent soil resistivity from a four-probe reading, ohm.m: 2 pi a R (Wenner).

    Probes equally spaced in a line, `spacing_m` apart, and short beside it. Raises ValueError unless both
    are above 0. Source: MIL-HDBK-419A (read).

    >>> round(wenner_ohm_m(spacing_m=6.1, reading_ohm=2), 1)
    76.7
    """
    _above_0(spacing_m=spacing_m, reading_ohm=reading_ohm)
    return 2 * math.pi * spacing_m * reading_ohm


def parallel_ohm(ohms: Iterable[float]) -> float:
    """Resistance of electrodes joined together and too far apart to crowd each other, ohm.

    math.inf is an electrode that is not there; none at all gives math.inf. Raises ValueError at 0 or below.

    >>> parallel_ohm([20, 20, math.inf])
    10.0
    """
    conductance = 0.0
    for ohm in ohms:
        if not ohm > 0:
            raise ValueError(f"an electrode has resistance above 0, got {ohm!r}")
        conductance += 1 / ohm
    return 1 / conductance if conductance else math.inf


def open_pen_volts(
    l1_a: float, l2_a: float = 0.0, l3_a: float = 0.0, electrode_ohm: float = math.inf, cmax: float = 1.0
) -> float:
    """Volts to true earth of a home's metalwork when its PEN is open and only an electrode is left.

    The currents are what each line draws at 230 V with the PEN whole: resistive loads, constant impedance.
    `cmax` raises the supply above 230 V. Raises ValueError for a negative current or when nothing is on.
    Derived (Millman); the source's own earth is taken as 0 ohm.

    >>> round(open_pen_volts(80, 20, 20), 2)
    115.0
    """
    u0 = LIMITS["declared-volts"].value
    currents = _currents(l1_a, l2_a, l3_a)
    if not electrode_ohm > 0:
        raise ValueError(f"an electrode has resistance above 0, got {electrode_ohm!r}")
    return abs(
        neutral_shift(phase_emfs(cmax * u0), [current / u0 for current in currents], 1 / electrode_ohm)
    )


def open_pen_electrode_ohm(
    l1_a: float, l2_a: float = 0.0, l3_a: float = 0.0, cmax: float | None = None
) -> float:
    """Largest electrode resistance that keeps metalwork at 70 V or less with the PEN open, ohm.

    One current is a single-phase home, three are a three-phase one: A at 230 V, unity power factor, constant
    impedance. `cmax` is 1.1 unless given. math.inf means the loads are balanced enough without an electrode.
    Raises ValueError for a negative current or when nothing is on.
    Source: single phase BS 7671 A722, RA <= 70 U0/(I (Cmax U0 - 70)) (from memory, confirmed by derivation);
    three phase derived, RA <= 1/(Cmax In/70 - (I1 + I2 + I3)/U0): the printed expression was not seen.

    >>> round(open_pen_electrode_ohm(32), 2)
    2.75
    """
    currents = _currents(l1_a, l2_a, l3_a)
    factor = LIMITS["cmax"].value if cmax is None else cmax
    neutral_a = abs(neutral_current(*currents))
    needed = (
        factor * neutral_a / LIMITS["open-pen-touch-volts"].value
        - sum(currents) / LIMITS["declared-volts"].value
    )
    return 1 / needed if needed > 0 else math.inf


def _currents(*currents: float) -> tuple[float, ...]:
    if not all(0 <= current < math.inf for current in currents) or not any(currents):
        raise ValueError(f"load currents are 0 A or more, and at least one is on; got {currents!r}")
    return currents


def _above_0(**values: float) -> None:
    for name, value in values.items():
        if not 0 < value < math.inf:
            raise ValueError(f"{name} must be above 0, got {value!r}")
