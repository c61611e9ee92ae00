"""What the metal of a street offers to current: cables, earth wires, pipes, transformers.

All resistances are at 20 degrees Celsius, all impedances at 50 Hz. Each source line says whether a
figure is published, from memory, or our own judgement; a site's own cable data comes before any of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

__all__ = [
    "CABLES",
    "PIPES",
    "Cable",
    "Pipe",
    "aluminium_ohm_per_m",
    "copper_ohm_per_m",
    "pipe_ohm_per_m",
    "transformer_impedance",
    "tube_ohm_per_m",
]

# IEC 60228, largest d.c. resistance at 20 C in ohm/km, alike in four public tables; 1 mm2 from memory.
_COPPER_OHM_PER_KM = {
    1.0: 18.1, 1.5: 12.1, 2.5: 7.41, 4.0: 4.61, 6.0: 3.08, 10.0: 1.83, 16.0: 1.15, 25.0: 0.727, 35.0: 0.524,
    50.0: 0.387, 70.0: 0.268, 95.0: 0.193, 120.0: 0.153, 150.0: 0.124, 185.0: 0.0991, 240.0: 0.0754,
    300.0: 0.0601,
}  # fmt: skip
_ALUMINIUM_OHM_PER_KM = {
    10.0: 3.08, 16.0: 1.91, 25.0: 1.20, 35.0: 0.868, 50.0: 0.641, 70.0: 0.443, 95.0: 0.320, 120.0: 0.253,
    150.0: 0.206, 185.0: 0.164, 240.0: 0.125, 300.0: 0.100,
}  # fmt: skip

# Resistivity at 20 C, ohm.mm2/m.
_IACS_COPPER = 0.017241  # published: IEC 60028, read second-hand
_TUBE_COPPER = (
    _IACS_COPPER / 0.85
)  # phosphorus-deoxidised tube copper, 85 % IACS: published data sheets of C12200 copper, the same alloy
_LEAD = 0.208  # from memory: handbook value for pure lead
_STEEL = 0.17  # from memory: carbon steel lies between 0.15 and 0.20

_TRANSFORMER_X_TO_R = 0.017 / 0.005  # published: a worked earth loop, 500 kVA taken as 0.005 + j0.017 ohm


@dataclass(frozen=True, slots=True)
class Cable:
    """One kind of cable or line: series impedance of each of its conductors, ohm per km of route.

    `kind` is "cne" (combined neutral and earth: the neutral is the PEN, `earth_ohm_per_km` is None) or "sne"
    (separate neutral and earth: `earth_ohm_per_km` is the sheath or earth core). Reactance is shared out so
    that line + neutral is the impedance of the go-and-return loop. Raises ValueError for what cannot be.
    """

    name: str
    line_ohm_per_km: complex
    neutral_ohm_per_km: complex
    earth_ohm_per_km: complex | None
    kind: Literal["cne", "sne"]
    source: str

    def __post_init__(self) -> None:
        if self.kind not in ("cne", "sne"):
            raise ValueError(f"{self.name}: kind must be cne or sne, got {self.kind!r}")
        if (self.earth_ohm_per_km is None) != (self.kind == "cne"):
            raise ValueError(
                f"{self.name}: an sne cable has an earth conductor of its own, a cne cable has none"
            )
        for part in (self.line_ohm_per_km, self.neutral_ohm_per_km, self.earth_ohm_per_km):
            if part is not None and not (part.real > 0 and part.imag >= 0):
                raise ValueError(f"{self.name}: every conductor needs resistance above 0, got {part!r}")
        if not self.source:
            raise ValueError(f"{self.name}: a cable says where its figures come from")


@dataclass(frozen=True, slots=True)
class Pipe:
    """A metal tube: outside diameter and wall in mm, resistivity in ohm.mm2/m, and where they come from."""

    name: str
    outside_mm: float
    wall_mm: float
    resistivity_ohm_mm2_per_m: float
    source: str


def _ohm_per_m(metal: str, table: dict[float, float], size_mm2: float) -> float:
    if size_mm2 not in table:
        sizes = ", ".join(f"{size:g}" for size in table)
        raise ValueError(f"no {metal} conductor of {size_mm2!r} mm2 in IEC 60228; it has {sizes}")
    return table[size_mm2] / 1000


def copper_ohm_per_m(size_mm2: float) -> float:
    """Resistance of a copper conductor of a standard size, ohm per metre at 20 C.

    Raises ValueError for a size that is not in the table.
    Source: IEC 60228, largest d.c. resistance, class 2 plain copper (read in public tables).

    >>> copper_ohm_per_m(16)
    0.00115
    """
    return _ohm_per_m("copper", _COPPER_OHM_PER_KM, size_mm2)


def aluminium_ohm_per_m(size_mm2: float) -> float:
    """Resistance of an aluminium conductor of a standard size, ohm per metre at 20 C.

    Raises ValueError for a size that is not in the table.
    Source: IEC 60228, largest d.c. resistance (read in public tables).

    >>> aluminium_ohm_per_m(185)
    0.000164
    """
    return _ohm_per_m("aluminium", _ALUMINIUM_OHM_PER_KM, size_mm2)


def tube_ohm_per_m(outside_mm: float, wall_mm: float, resistivity_ohm_mm2_per_m: float) -> float:
    """D.c. resistance of a tube, ohm per metre: resistivity over the area of the wall.

    Diameter and wall in mm, resistivity in ohm.mm2/m. Raises ValueError unless the wall fits in the tube.

    >>> round(1000 * tube_ohm_per_m(15, 0.7, 0.017241), 3)
    0.548
    """
    if not 0 < 2 * wall_mm <= outside_mm < math.inf:
        raise ValueError(f"a wall of {wall_mm!r} mm does not fit in a tube of {outside_mm!r} mm")
    if not 0 < resistivity_ohm_mm2_per_m < math.inf:
        raise ValueError(f"resistivity_ohm_mm2_per_m must be above 0, got {resistivity_ohm_mm2_per_m!r}")
    return resistivity_ohm_mm2_per_m / (math.pi * (outside_mm - wall_mm) * wall_mm)


def pipe_ohm_per_m(name: str) -> float:
    """D.c. resistance of a named pipe of PIPES, ohm per metre, joints taken as perfect.

    Steel is magnetic: at 50 Hz skin effect makes it perhaps two or three times higher (our estimate), so a
    steel pipe is a worse path than this.
    Raises ValueError for a name that is not in PIPES.

    >>> round(1000 * pipe_ohm_per_m("copper-22"), 2)
    0.34
    """
    if name not in PIPES:
        raise ValueError(f"no pipe called {name!r}; there are {', '.join(PIPES)}")
    pipe = PIPES[name]
    return tube_ohm_per_m(pipe.outside_mm, pipe.wall_mm, pipe.resistivity_ohm_mm2_per_m)


def transformer_impedance(
    rating_kva: float, impedance_percent: float, volts_line_to_line: float, load_loss_w: float | None = None
) -> complex:
    """Series impedance of a three-phase transformer, ohm per phase seen from its low-voltage side.

    |Z| = uk/100 * V^2/S with V the rated low-voltage line-to-line volts; R = load loss * V^2/S^2; X is the
    rest. Without a load loss, X/R is taken as 3.4, that of the published worked loop named below. The same
    value serves the earth loop: a delta-star transformer's zero-sequence impedance is close to it.
    Raises ValueError for a rating or voltage that is not above 0, or a load loss that needs more than |Z|.
    Source: IEC 60909 (from memory); X/R from a public worked example, 500 kVA = 0.005 + j0.017 ohm.

    >>> round(1000 * abs(transformer_impedance(500, 4.75, 400)), 2)
    15.2
    """
    for name, value in (("rating_kva", rating_kva), ("volts_line_to_line", volts_line_to_line)):
        if not 0 < value < math.inf:
            raise ValueError(f"{name} must be above 0, got {value!r}")
    if not 0 < impedance_percent < 100:
        raise ValueError(f"impedance_percent must lie between 0 and 100, got {impedance_percent!r}")
    volt_amperes = rating_kva * 1000
    size = impedance_percent / 100 * volts_line_to_line**2 / volt_amperes
    if load_loss_w is None:
        resistance = size / math.hypot(1, _TRANSFORMER_X_TO_R)
    else:
        resistance = load_loss_w * volts_line_to_line**2 / volt_amperes**2
    if not 0 <= resistance <= size:
        raise ValueError(
            f"a load loss of {load_loss_w!r} W does not go with {impedance_percent:g} % of"
            f" {rating_kva:g} kVA: it must lie between 0 and {impedance_percent / 100 * volt_amperes:g} W"
        )
    return complex(resistance, math.sqrt(size**2 - resistance**2))


_LINE = "line resistance published: IEC 60228"
_WAVE = f"{_LINE}; neutral resistance, line reactance from memory; neutral reactance our judgement"
_FEEDER = "published: European LV test feeder line codes (R1, X1, R0, X0), neutral taken as (Z0 - Z1)/3"
_SERVICE = f"{_LINE}; neutral of the same resistance from memory; reactance our judgement (negligible here)"
_SEPARATE = f"{_LINE}, neutral the same; sheath resistance and all reactances our judgement"
_BUNDLED = f"{_LINE}, neutral the same; reactance from memory"
_OPEN = f"{_LINE}, hard-drawn wire being 2 to 3 % more; reactance our judgement for wires 0.3 m apart"

CABLES: dict[str, Cable] = {
    cable.name: cable
    for cable in (
        # Mains in the ground, combined neutral and earth.
        Cable("mains-95-al-cne", 0.320 + 0.074j, 0.320 + 0.015j, None, "cne", _WAVE),
        Cable("mains-185-al-cne", 0.164 + 0.074j, 0.164 + 0.015j, None, "cne", _WAVE),
        Cable("mains-300-al-cne", 0.100 + 0.073j, 0.164 + 0.015j, None, "cne", _WAVE),
        Cable("mains-70-4c-cne", 0.446 + 0.071j, 0.353 + 0.004j, None, "cne", _FEEDER),
        Cable("mains-185-4c-cne", 0.166 + 0.068j, 0.138 + 0.003j, None, "cne", _FEEDER),
        # Mains in the ground, four cores under a lead sheath that is the earth.
        Cable("mains-95-cu-sne", 0.193 + 0.070j, 0.193 + 0.015j, 0.50 + 0.015j, "sne", _SEPARATE),
        Cable("mains-185-cu-sne", 0.0991 + 0.070j, 0.0991 + 0.015j, 0.30 + 0.015j, "sne", _SEPARATE),
        Cable("mains-185-al-sne", 0.164 + 0.070j, 0.164 + 0.015j, 0.30 + 0.015j, "sne", _SEPARATE),
        # Overhead lines; the neutral wire is a PEN where the line is multiple-earthed.
        Cable("overhead-abc-35", 0.868 + 0.090j, 0.868 + 0.090j, None, "cne", _BUNDLED),
        Cable("overhead-abc-95", 0.320 + 0.090j, 0.320 + 0.090j, None, "cne", _BUNDLED),
        Cable("overhead-open-35-cu", 0.524 + 0.300j, 0.524 + 0.300j, None, "cne", _OPEN),
        Cable("overhead-open-70-cu", 0.268 + 0.290j, 0.268 + 0.290j, None, "cne", _OPEN),
        # Services, one line; a three-phase service is three lines and the same neutral.
        Cable("service-25-al-cne", 1.20 + 0.04j, 1.20 + 0.04j, None, "cne", _SERVICE),
        Cable("service-35-al-cne", 0.868 + 0.04j, 0.868 + 0.04j, None, "cne", _SERVICE),
        Cable("service-16-cu-cne", 1.15 + 0.04j, 1.15 + 0.04j, None, "cne", _SERVICE),
        Cable("service-25-cu-cne", 0.727 + 0.04j, 0.727 + 0.04j, None, "cne", _SERVICE),
        Cable("service-16-cu-sne", 1.15 + 0.04j, 1.15 + 0.04j, 1.8 + 0.04j, "sne", _SEPARATE),
        Cable("service-25-cu-sne", 0.727 + 0.04j, 0.727 + 0.04j, 1.5 + 0.04j, "sne", _SEPARATE),
        Cable("service-abc-35", 0.868 + 0.090j, 0.868 + 0.090j, None, "cne", _BUNDLED),
    )
}

_EN_1057 = (
    "published: EN 1057 (dimensions), data sheets of phosphorus-deoxidised copper, 85 % IACS (resistivity)"
)

PIPES: dict[str, Pipe] = {
    pipe.name: pipe
    for pipe in (
        Pipe("copper-15", 15, 0.7, _TUBE_COPPER, _EN_1057),
        Pipe("copper-22", 22, 0.9, _TUBE_COPPER, _EN_1057),
        Pipe("copper-28", 28, 0.9, _TUBE_COPPER, _EN_1057),
        Pipe(
            "lead",
            23.5,
            5.4,
            _LEAD,
            "our judgement: half-inch bore service pipe of 7 lb a yard; resistivity from memory",
        ),
        Pipe(
            "steel-1-inch",
            33.7,
            3.2,
            _STEEL,
            "dimensions from memory: EN 10255 medium; resistivity from memory",
        ),
    )
}
