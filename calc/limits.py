"""The figures a reading is held against, each with the source it came from.

A limit never loses its source: the guide's source page is made from LIMITS. Where a figure is read
second-hand or from memory its source says so; the standard itself, in its current edition, comes first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

__all__ = ["LIMITS", "Kind", "Limit", "main_bond_mm2", "max_loop_ohm"]

Kind = Literal["published", "common-practice", "from-memory", "project-choice"]

_KINDS = ("published", "common-practice", "from-memory", "project-choice")


@dataclass(frozen=True, slots=True)
class Limit:
    """One figure: its value in `unit`, what it limits, who says so, and what kind of statement that is.

    `kind` is published (the source was read, if only second-hand), common-practice (the trade does so, no
    source), from-memory (recalled, to be checked) or project-choice (ours). Raises ValueError without source.
    """

    value: float
    unit: str
    what: str
    source: str
    kind: Kind

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise ValueError(f"a limit needs a number, got {self.value!r} for {self.what!r}")
        if self.kind not in _KINDS:
            raise ValueError(f"kind must be one of {', '.join(_KINDS)}, got {self.kind!r}")
        if not self.source.strip() or not self.what.strip():
            raise ValueError("a limit says what it limits and where it comes from")


_BAND = "ESQCR 2002 reg 27 (number from memory); the same band is set by SI 1994/3021, read"
_ZE = (
    "ENA ER P23/1:1991, superseded by P23/2:2018; read in a public wiring magazine; verify, never guaranteed"
)
_TABLE_41_1 = "BS 7671 Table 41.1, read on a public page"
_OPEN_PEN = "BS 7671 regulation 722.411.4.1 (indents were renumbered in 2026), read on public pages"
_TABLE_54_8 = "BS 7671 regulation 544.1, Table 54.8; three public pages agree"
_SHOCK = "IEC 60479-1"
_LET_GO = "abstract of a public paper re-evaluating lethal currents"
_RCD = "50 V over the residual current, as BS 7671 Table 41.5 (table from memory, arithmetic checked)"

# Table 54.8: PEN of the supply, up to and including mm2 of copper; smallest copper main bond, mm2; in words.
_BONDS = (
    (35.0, 10.0, "up to 35 mm2"),
    (50.0, 16.0, "over 35 up to 50 mm2"),
    (95.0, 25.0, "over 50 up to 95 mm2"),
    (150.0, 35.0, "over 95 up to 150 mm2"),
    (math.inf, 50.0, "over 150 mm2"),
)

LIMITS: dict[str, Limit] = {
    # The supply.
    "declared-volts": Limit(230, "V", "declared low voltage, line to neutral", _BAND, "published"),
    "volts-low": Limit(216.2, "V", "lowest permitted supply voltage, 230 V less 6 %", _BAND, "published"),
    "volts-high": Limit(253.0, "V", "highest permitted supply voltage, 230 V plus 10 %", _BAND, "published"),
    "volts-low-en-50160": Limit(
        207,
        "V",
        "10-minute means stay above this for 95 % of a week",
        "EN 50160, public summary",
        "published",
    ),
    "inverter-volts-mean": Limit(
        253,
        "V",
        "a home's inverter lets go above this, as a mean of 10 minutes",
        "EN 50549-1, 1.1 times 230 V; from memory; national settings differ",
        "from-memory",
    ),
    "phase-to-phase": Limit(
        math.sqrt(3) * 230,
        "V",
        "most a single-phase appliance can see when the neutral of three phases is lost",
        "sqrt(3) x 230 V; BS 7671 regulation 442.3 (IEC 60364-4-44), clause from memory",
        "from-memory",
    ),
    # Touch voltage and shock.
    "touch-volts": Limit(
        50, "V", "conventional touch voltage limit, a.c.", "BS 7671, IEC 61140; from memory", "from-memory"
    ),
    "touch-volts-special": Limit(
        25,
        "V",
        "touch voltage limit in some special locations, a.c.",
        "BS 7671 Part 7; from memory",
        "from-memory",
    ),
    "perceptible-ma": Limit(
        0.5,
        "mA",
        "current that can be felt (line a, end of zone AC-1)",
        f"{_SHOCK}, read second-hand",
        "published",
    ),
    "let-go-ma-2016": Limit(
        5,
        "mA",
        "long-time end of zone AC-2 (line b), editions from 2016",
        f"{_SHOCK}, read second-hand",
        "published",
    ),
    "let-go-ma-2005": Limit(
        10,
        "mA",
        "long-time end of zone AC-2 (line b), editions before 2016",
        f"{_SHOCK}, read second-hand",
        "published",
    ),
    "let-go-men-ma": Limit(9, "mA", "let-go current of 99.5 % of men", _LET_GO, "published"),
    "let-go-women-ma": Limit(6, "mA", "let-go current of 99.5 % of women", _LET_GO, "published"),
    "fibrillation-ma-long": Limit(
        40,
        "mA",
        "line c1 beyond 3 s: fibrillation possible above it",
        f"{_SHOCK}; from memory",
        "from-memory",
    ),
    "body-ohm": Limit(
        1000, "ohm", "round figure for one person's body, for quick estimates", "no source", "common-practice"
    ),
    # Open-PEN protection and electrodes.
    "open-pen-touch-volts": Limit(
        70, "V", "protective conductor to earth at which an open-PEN device must open", _OPEN_PEN, "published"
    ),
    "open-pen-seconds": Limit(5, "s", "an open-PEN device opens within this", _OPEN_PEN, "published"),
    "open-pen-may-wait-seconds": Limit(
        4, "s", "it need not open when over 70 V for less", _OPEN_PEN, "published"
    ),
    "open-pen-volts-low": Limit(
        207, "V", "single-phase device opens below this, line to neutral", _OPEN_PEN, "published"
    ),
    "open-pen-volts-high": Limit(
        253, "V", "single-phase device opens above this, line to neutral", _OPEN_PEN, "published"
    ),
    "cmax": Limit(1.1, "", "voltage factor for the highest voltage", "BS 7671; from memory", "from-memory"),
    "cmin": Limit(
        0.95,
        "",
        "voltage factor for the lowest voltage; reproduces the printed Zs",
        "BS 7671; from memory",
        "from-memory",
    ),
    "pme-neutral-ohm": Limit(
        20,
        "ohm",
        "target for all electrodes of a PME neutral together",
        "ENA EREC G12; from memory, low",
        "from-memory",
    ),
    "pme-electrode-ohm": Limit(
        100,
        "ohm",
        "target for one electrode at the end of a PME main",
        "ENA EREC G12; from memory, low",
        "from-memory",
    ),
    # Loop impedance, fault current, disconnection.
    "ze-tn-c-s": Limit(
        0.35, "ohm", "usual largest external loop impedance, TN-C-S, up to 100 A", _ZE, "published"
    ),
    "ze-tn-s": Limit(
        0.8, "ohm", "usual largest external loop impedance, TN-S, up to 100 A", _ZE, "published"
    ),
    "ze-tt": Limit(
        21, "ohm", "usual largest external loop, TT, without the consumer's electrode", _ZE, "published"
    ),
    "fault-current-ka": Limit(
        16,
        "kA",
        "declared largest fault current, single-phase service",
        "ENA EREC P25; from memory",
        "from-memory",
    ),
    "disconnect-final-tn-s": Limit(0.4, "s", "final circuit, TN, 120 V to 230 V", _TABLE_41_1, "published"),
    "disconnect-final-tt-s": Limit(0.2, "s", "final circuit, TT, 120 V to 230 V", _TABLE_41_1, "published"),
    "disconnect-distribution-tn-s": Limit(
        5, "s", "distribution circuit, TN", "BS 7671 411.3.2.3, read on a public page", "published"
    ),
    "disconnect-distribution-tt-s": Limit(
        1, "s", "distribution circuit, TT", "BS 7671 411.3.2.4, read on a public page", "published"
    ),
    "trip-multiple-b": Limit(
        5, "x In", "type B breaker trips at once at this", "BS EN 60898, Zs tables", "published"
    ),
    "trip-multiple-c": Limit(
        10, "x In", "type C breaker trips at once at this", "BS EN 60898, Zs tables", "published"
    ),
    "trip-multiple-d": Limit(
        20,
        "x In",
        "type D breaker trips at once at this",
        "BS EN 60898; rows derived, not read",
        "from-memory",
    ),
    "rcd-30-ma-ohm": Limit(
        50 / 0.030, "ohm", "largest earth electrode resistance, 30 mA", _RCD, "from-memory"
    ),
    "rcd-100-ma-ohm": Limit(
        50 / 0.100, "ohm", "largest earth electrode resistance, 100 mA", _RCD, "from-memory"
    ),
    "rcd-300-ma-ohm": Limit(
        50 / 0.300, "ohm", "largest earth electrode resistance, 300 mA", _RCD, "from-memory"
    ),
    "rcd-500-ma-ohm": Limit(
        50 / 0.500, "ohm", "largest earth electrode resistance, 500 mA", _RCD, "from-memory"
    ),
    # Bonding.
    **{
        f"main-bond-{bond:g}": Limit(
            bond, "mm2", f"smallest copper main bond, PEN {pen}", _TABLE_54_8, "published"
        )
        for _, bond, pen in _BONDS
    },
    "main-bond-least": Limit(
        6, "mm2", "smallest main bond where the supply is not PME", _TABLE_54_8, "published"
    ),
    "main-bond-most": Limit(
        25, "mm2", "a main bond need be no larger where not PME", _TABLE_54_8, "published"
    ),
    "main-bond-metres": Limit(
        0.6,
        "m",
        "bond within this of the meter outlet, before a branch",
        "BS 7671 544.1.2, public pages",
        "published",
    ),
    # Test instruments.
    "probe-tip-mm": Limit(
        4, "mm", "longest exposed probe tip; 2 mm or less preferred", "HSE GS38, read", "published"
    ),
    "probe-fuse-ma": Limit(500, "mA", "usual largest fuse of test leads", "HSE GS38, read", "published"),
}


def main_bond_mm2(pen_copper_mm2: float) -> float:
    """Smallest copper main bond of a PME home, mm2, from the copper equivalent of the supply's PEN, mm2.

    Raises ValueError unless the size is above 0.
    Source: BS 7671 Table 54.8 (three public pages agree).

    >>> [main_bond_mm2(pen) for pen in (35, 50, 95, 150, 185)]
    [10.0, 16.0, 25.0, 35.0, 50.0]
    """
    if not 0 < pen_copper_mm2 < math.inf:
        raise ValueError(f"pen_copper_mm2 must be above 0, got {pen_copper_mm2!r}")
    return next(bond for up_to, bond, _ in _BONDS if pen_copper_mm2 <= up_to)


def max_loop_ohm(curve: Literal["B", "C", "D"], rating_a: float) -> float:
    """Largest earth loop impedance at which a breaker trips at once, ohm: 0.95 x 230 V / Ia.

    Ia is 5, 10 or 20 times the rating in A for type B, C or D. Conductors at working temperature.
    Raises ValueError for another type or a rating that is not above 0.
    Source: BS 7671 Table 41.3 (types B and C read on a public page; type D by the same formula).

    >>> round(max_loop_ohm("B", 32), 2)
    1.37
    """
    if curve not in ("B", "C", "D"):
        raise ValueError(f"a breaker is of type B, C or D, got {curve!r}")
    if not 0 < rating_a < math.inf:
        raise ValueError(f"rating_a must be above 0, got {rating_a!r}")
    trips_at = LIMITS[f"trip-multiple-{curve.lower()}"].value * rating_a
    return LIMITS["cmin"].value * LIMITS["declared-volts"].value / trips_at
