"""Three loads on one star: what each gets, with the neutral there, poor, or gone.

Phasors are complex r.m.s. values. The source's star point is the zero; the shift is the potential of the
loads' own star point above it, which is what metalwork tied to a broken PEN stands at.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

__all__ = [
    "Neutral",
    "Star",
    "needed_rating",
    "neutral_current",
    "neutral_shift",
    "neutral_with_thirds",
    "phase_emfs",
    "star",
    "triplen_neutral_ratio",
]


@dataclass(frozen=True, slots=True)
class Star:
    """A solved star: V across each load, A in each line, A in the neutral towards the source, shift in V."""

    shift_v: complex
    load_v: tuple[complex, ...]
    line_a: tuple[complex, ...]
    neutral_a: complex


def phase_emfs(volts: float) -> tuple[complex, complex, complex]:
    """The three phase voltages at 0, -120 and +120 degrees, each of `volts` to the star point.

    >>> [round(abs(a - b), 1) for a, b in zip(phase_emfs(230), phase_emfs(230)[1:])]
    [398.4, 398.4]
    """
    return (volts + 0j, cmath.rect(volts, -2 * math.pi / 3), cmath.rect(volts, 2 * math.pi / 3))


def neutral_shift(
    emfs: Sequence[complex], admittances: Sequence[complex], neutral_admittance: complex = 0j
) -> complex:
    """Potential of a loaded star point above the source's star point, V (Millman's theorem).

    `emfs` in V, `admittances` of the loads in siemens, in the same order; 0 is a load that is off.
    `neutral_admittance` joins the two star points: 0 is a lost neutral, 1/ohm of an electrode stands for one.
    Raises ValueError when the lists differ in length, or when nothing at all ties the point down.

    >>> abs(neutral_shift([230], [1 / 17.633], 1 / 20)) > 120  # a 3 kW load, broken PEN, 20 ohm electrode
    True
    """
    if len(emfs) != len(admittances):
        raise ValueError(f"{len(emfs)} emfs and {len(admittances)} admittances: one for each load is needed")
    total = sum(admittances) + neutral_admittance
    if total == 0:
        raise ValueError(
            "no load is on and there is no neutral: the star point floats, its potential is unknown"
        )
    return sum(emf * y for emf, y in zip(emfs, admittances, strict=True)) / total


def star(emfs: Sequence[complex], ohms: Sequence[complex], neutral_ohm: complex = math.inf) -> Star:
    """Solve loads of impedance `ohms` between `emfs` (V) and one star point, with a neutral of `neutral_ohm`.

    math.inf is an open: a load that is off, or (as by default) a neutral that is lost. 0 is a perfect
    neutral. Raises ValueError for a load of 0 ohm, or when the star point floats.

    >>> lost = star(phase_emfs(230), [23, 23, math.inf])
    >>> [round(abs(v), 1) for v in lost.load_v]
    [199.2, 199.2, 345.0]
    """
    if any(z == 0 for z in ohms):
        raise ValueError(f"a load of 0 ohm is a short circuit, got {list(ohms)!r}")
    admittances = [_admittance(z) for z in ohms]
    shift = 0j if neutral_ohm == 0 else neutral_shift(emfs, admittances, _admittance(neutral_ohm))
    load_v = tuple(emf - shift for emf in emfs)
    line_a = tuple(volts * y for volts, y in zip(load_v, admittances, strict=True))
    return Star(shift, load_v, line_a, sum(line_a))


def _admittance(ohm: complex) -> complex:
    return 0j if cmath.isinf(ohm) else 1 / ohm


def neutral_current(l1_a: complex, l2_a: complex, l3_a: complex) -> complex:
    """Current in the neutral of three lines, A; each line's current is given against its own phase voltage.

    A plain number is a current in phase with its voltage (unity power factor).
    Source: BS 7671 annex A722.1 writes the size of the same sum (read in a public forum).

    >>> round(abs(neutral_current(100, 75, 50)), 1)
    43.3
    """
    return sum(turn * current for turn, current in zip(phase_emfs(1), (l1_a, l2_a, l3_a), strict=True))


@dataclass(frozen=True, slots=True)
class Neutral:
    """What the neutral of three lines carries: A at 50 Hz, A of third harmonic, and both together."""

    fundamental_a: complex
    third_a: float

    @property
    def rms_a(self) -> float:
        """A, r.m.s., as a true r.m.s. clamp shows it."""
        return math.hypot(abs(self.fundamental_a), self.third_a)


def neutral_with_thirds(lines_a: Sequence[complex], thirds: Sequence[float]) -> Neutral:
    """The neutral of three lines, each of fundamental `lines_a` (A, against its own phase voltage) and third
    harmonic `thirds`, as a share of its fundamental.

    A third of a turn at 50 Hz is a whole turn at 150 Hz: third harmonics of loads of one kind stand in phase
    and add. Loads of unlike kinds add to less, so this is the most there can be.
    Raises ValueError for a share below 0.

    >>> round(neutral_with_thirds([10, 10, 10], [0.7, 0.7, 0.7]).rms_a, 1)
    21.0
    """
    if not all(0 <= third < math.inf for third in thirds):
        raise ValueError(f"a third harmonic must be 0 or more, got {list(thirds)!r}")
    third_a = sum(abs(line) * third for line, third in zip(lines_a, thirds, strict=True))
    return Neutral(neutral_current(*lines_a), float(third_a))


# IEC 60364-5-52 Table E.52.1 = BS 7671 Appendix 4: third harmonic in the line, %, up to and including;
# factor; what the cable is chosen for.
_HARMONIC_FACTORS: tuple[tuple[float, float, Literal["line", "neutral"]], ...] = (
    (15, 1.0, "line"),
    (33, 0.86, "line"),
    (45, 0.86, "neutral"),
    (math.inf, 1.0, "neutral"),
)


def needed_rating(line_a: float, third: float) -> tuple[float, float, Literal["line", "neutral"]]:
    """The rating in A that a four-core cable needs for three equal lines with third harmonic, the factor that
    it comes from, and the conductor that decides.

    `third` is the third harmonic as a share of the line's current; all cores are alike. Other factors
    (grouping, warm places, thermal insulation) come on top. Raises ValueError below 0.
    Source: IEC 60364-5-52 Table E.52.1, BS 7671 Appendix 4 (read on public pages).

    >>> [round(needed_rating(39, third)[0], 1) for third in (0.2, 0.4, 0.5)]
    [45.3, 54.4, 58.5]
    """
    if not (0 <= line_a < math.inf and 0 <= third < math.inf):
        raise ValueError(f"a current and a share must be 0 or more, got {line_a!r} A and {third!r}")
    factor, decides = next(
        (factor, decides) for up_to, factor, decides in _HARMONIC_FACTORS if 100 * third <= up_to + 1e-9
    )
    return (line_a if decides == "line" else 3 * third * line_a) / factor, factor, decides


def triplen_neutral_ratio(third: float) -> float:
    """Neutral r.m.s. current over line r.m.s. current, for three equal loads with third harmonic.

    `third` is the third harmonic over the fundamental, 0 or more. Fundamentals cancel in the neutral, the
    three third harmonics add: 3 h / sqrt(1 + h^2). Raises ValueError below 0.

    >>> round(triplen_neutral_ratio(0.7), 2)
    1.72
    """
    if not 0 <= third < math.inf:
        raise ValueError(f"third must be 0 or more, got {third!r}")
    return 3 * third / math.hypot(1, third)
