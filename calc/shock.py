"""What a touch voltage does to a person, by the published body impedances; an estimate, never a safe limit.

Large contacts, 50 Hz, hand to hand unless a path is named; dry unless the table says water-wet. Salt water,
broken skin and small children are worse. Editions are kept apart: a figure is of one edition or the other.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from typing import Literal

from calc.limits import LIMITS

__all__ = [
    "BODY_OHM",
    "HEART_FACTORS",
    "LINES",
    "PATH_FACTORS",
    "body_ma",
    "body_ohm",
    "heart_ma",
    "line_ma",
    "through_ma",
    "touch_volts",
    "zone",
]

Edition = Literal["2005", "2005 water-wet", "1994"]
ZoneEdition = Literal["2016", "2005"]

_DRY: dict[int, dict[float, float]] = {
    5: {
        25: 1750, 50: 1375, 75: 1125, 100: 990, 125: 900, 150: 850, 175: 825, 200: 800, 225: 775,
        400: 700, 500: 625, 700: 575,
    },
    50: {
        25: 3250, 50: 2500, 75: 2000, 100: 1725, 125: 1550, 150: 1400, 175: 1325, 200: 1275, 225: 1225,
        400: 950, 500: 850, 700: 775,
    },
    95: {
        25: 6100, 50: 4600, 75: 3600, 100: 3125, 125: 2675, 150: 2350, 175: 2175, 200: 2050, 225: 1900,
        400: 1275, 500: 1150, 700: 1050,
    },
}  # fmt: skip

BODY_OHM: dict[str, dict[int, dict[float, float]]] = {
    "2005": _DRY,
    "2005 water-wet": {
        5: _DRY[5] | {25: 1175, 50: 1100, 75: 1025, 100: 975},
        50: _DRY[50] | {25: 2175, 50: 2000, 75: 1825, 100: 1675},
        95: _DRY[95] | {25: 4100, 50: 3675, 75: 3275, 100: 2950},
    },
    "1994": {
        5: {25: 1750, 50: 1450, 75: 1250, 100: 1200, 125: 1125, 220: 1000, 700: 750, 1000: 700},
        50: {25: 3250, 50: 2625, 75: 2200, 100: 1875, 125: 1625, 220: 1350, 700: 1100, 1000: 1050},
        95: {25: 6100, 50: 4375, 75: 3500, 100: 3200, 125: 2875, 220: 2125, 700: 1550, 1000: 1500},
    },
}  # fmt: skip
"""Edition -> per cent of people with no more than this -> touch volts -> total body impedance, ohm.

Source: IEC 60479-1. 2005 (and 2016), dry: 50 % read second-hand in EN 50522 Table B.2, 5 % and 95 % from
memory. Water-wet: wholly from memory; from 125 V it is the dry table, where the skin no longer counts.
1994: all columns read in a public text of the table.
"""

PATH_FACTORS: dict[str, float] = {
    "hand-to-hand": 1.0,
    "hand-to-feet": 0.75,
    "hands-to-feet": 0.5,
}
"""Body impedance along a path over that from hand to hand. Source: IEC 60479-1, from memory."""

HEART_FACTORS: dict[str, float] = {
    "left-hand-to-feet": 1.0,
    "both-hands-to-feet": 1.0,
    "left-hand-to-right-hand": 0.4,
    "right-hand-to-feet": 0.8,
    "foot-to-foot": 0.04,
    "chest-to-left-hand": 1.5,
    "chest-to-right-hand": 1.3,
    "back-to-left-hand": 0.7,
    "back-to-right-hand": 0.3,
    "seat-to-hand": 0.7,
}
"""Danger to the heart along a path over that from left hand to feet, for equal current.

Source: IEC 60479-1 as reprinted in a public textbook (read). Modelling of 2017 puts hand to hand nearer 1.0.
"""

LINES: dict[str, dict[str, dict[float, float]]] = {
    "2016": {
        "c1": {0.01: 500, 0.1: 400, 1: 50, 3: 40},
        "c2": {0.05: 900, 0.1: 800, 0.2: 600, 0.5: 200, 1: 80, 2: 60, 5: 51, 10: 50},
    },
    "2005": {
        "c1": {0.01: 500, 0.1: 400, 1: 50, 3: 40},
        "c2": {0.05: 900, 0.1: 750, 0.2: 600, 0.5: 200, 1: 80, 2: 60, 5: 51, 10: 50},
    },
}
"""Edition -> line of the time-current zones -> seconds -> mA, left hand to feet.

Source: IEC 60479-1. c1 (fibrillation becomes possible): from memory. c2 (about 5 % likely): read second-hand
in EN 50522 Table B.1, of 2022 for 2016 and of 2010 for 2005. Line c3 was not read and is left out.
"""


def body_ohm(volts: float, percent: int = 50, edition: Edition = "2005", path: str = "hand-to-hand") -> float:
    """Total body impedance at a touch voltage, ohm, linear between the table's voltages.

    `percent` is 5, 50 or 95: so many per cent of people have no more, so 5 is the cautious column. Below 25 V
    the 25 V value is held, which is cautious: dry skin there resists far more. Raises ValueError for an
    edition, column or path that is not in the tables, a voltage of 0 or less, or one above the table's last.

    >>> round(body_ohm(230, percent=5), 1)
    772.9
    """
    if path not in PATH_FACTORS:
        raise ValueError(f"path must be one of {', '.join(PATH_FACTORS)}, got {path!r}")
    return PATH_FACTORS[path] * _between(_column(percent, edition), volts)


def _column(percent: int, edition: str) -> dict[float, float]:
    if edition not in BODY_OHM:
        raise ValueError(f"edition must be one of {', '.join(BODY_OHM)}, got {edition!r}")
    if percent not in BODY_OHM[edition]:
        raise ValueError(f"percent must be 5, 50 or 95, got {percent!r}")
    return BODY_OHM[edition][percent]


def _between(table: dict[float, float], volts: float) -> float:
    steps = list(table)
    if not 0 < volts <= steps[-1]:
        raise ValueError(f"the table ends at {steps[-1]:g} V and begins above 0 V, got {volts!r}")
    above = bisect_left(steps, volts)
    if above == 0:
        return table[steps[0]]
    low, high = steps[above - 1], steps[above]
    return table[low] + (table[high] - table[low]) * (volts - low) / (high - low)


def body_ma(volts: float, percent: int = 50, edition: Edition = "2005", path: str = "hand-to-hand") -> float:
    """Current through a person at a touch voltage, mA; arguments and errors as for body_ohm.

    >>> [round(body_ma(70, percent), 1) for percent in (5, 50, 95)]
    [59.6, 33.3, 18.4]
    """
    return 1000 * volts / body_ohm(volts, percent, edition, path)


def touch_volts(
    current_ma: float, percent: int = 50, edition: Edition = "2005", path: str = "hand-to-hand"
) -> float:
    """Touch voltage that drives `current_ma` through a person, V: a tingle or shock told backwards.

    Below 25 V this is the least it can have been (see body_ohm). Raises ValueError for a current of 0 or
    less, or one that the table's last voltage does not reach.

    >>> round(touch_volts(body_ma(70)), 6)
    70.0
    """
    highest = max(_column(percent, edition))
    most = body_ma(highest, percent, edition, path)
    if not 0 < current_ma <= most:
        raise ValueError(f"current_ma must lie above 0 and up to {most:.0f}, got {current_ma!r}")
    low, high = 0.0, float(highest)
    # The current rises with the voltage all along the tables, so halving finds the one voltage.
    while (middle := (low + high) / 2) not in (low, high):
        if body_ma(middle, percent, edition, path) < current_ma:
            low = middle
        else:
            high = middle
    return high


def heart_ma(current_ma: float, path: str) -> float:
    """Current from left hand to feet that is as dangerous to the heart, mA: current times the path's factor.

    Raises ValueError for a path that is not in HEART_FACTORS, or a current below 0.
    Source: IEC 60479-1, heart-current factor.

    >>> heart_ma(50, "chest-to-left-hand")
    75.0
    """
    if path not in HEART_FACTORS:
        raise ValueError(f"path must be one of {', '.join(HEART_FACTORS)}, got {path!r}")
    if not 0 <= current_ma < math.inf:
        raise ValueError(f"current_ma must be 0 or more, got {current_ma!r}")
    return current_ma * HEART_FACTORS[path]


def through_ma(
    volts: float,
    floor_ohm: float,
    percent: int = 50,
    edition: Edition = "2005",
    path: str = "hand-to-hand",
) -> float:
    """Current through a person when shoes and floor of `floor_ohm` are in series with the body, mA.

    `volts` is between the metalwork and what the person stands on or holds. Errors as for body_ohm, and for
    a floor below 0. Source: Ohm's law; the body's impedance is that at the voltage left across it.

    >>> through_ma(70, 0) == body_ma(70), round(through_ma(70, 1000), 1)
    (True, 20.0)
    """
    if not 0 <= floor_ohm < math.inf:
        raise ValueError(f"floor_ohm must be 0 or more, got {floor_ohm!r}")
    body_ohm(volts, percent, edition, path)
    low, high = 0.0, float(volts)
    # What the body keeps and what the floor takes both rise with the body's voltage: halving finds it.
    while floor_ohm and (middle := (low + high) / 2) not in (low, high):
        if middle + floor_ohm * body_ma(middle, percent, edition, path) / 1000 < volts:
            low = middle
        else:
            high = middle
    return body_ma(high, percent, edition, path)


def line_ma(which: Literal["a", "b", "c1", "c2"], seconds: float, edition: ZoneEdition = "2016") -> float:
    """Where a line of the time-current zones runs at a time of contact, mA; straight on log-log paper.

    Held beyond the ends of its table. Raises ValueError for another line or edition, or a time of 0 or less.
    Source: a and the long-time end of b: IEC 60479-1, read second-hand (LIMITS). The slope of b, that end
    plus 10 mA.s over the time and no more than 200 mA, is from memory. c1 and c2: see LINES.

    >>> [line_ma("b", 100, "2005"), line_ma("c1", 10), line_ma("c2", 1)]
    [10.1, 40.0, 80.0]
    """
    if edition not in LINES:
        raise ValueError(f"edition must be one of {', '.join(LINES)}, got {edition!r}")
    if not 0 < seconds < math.inf:
        raise ValueError(f"seconds must be above 0, got {seconds!r}")
    if which == "a":
        return LIMITS["perceptible-ma"].value
    if which == "b":
        return min(200.0, LIMITS[f"let-go-ma-{edition}"].value + 10 / seconds)
    if which not in LINES[edition]:
        raise ValueError(f"a line is a, b, c1 or c2, got {which!r}")
    table = LINES[edition][which]
    steps = list(table)
    above = bisect_left(steps, seconds)
    if above in (0, len(steps)):
        return float(table[steps[min(above, len(steps) - 1)]])
    low, high = steps[above - 1], steps[above]
    share = math.log(seconds / low) / math.log(high / low)
    return float(table[low] * (table[high] / table[low]) ** share)


def zone(body: float, heart: float, seconds: float, edition: ZoneEdition = "2016") -> str:
    """The time-current zone of a shock: AC-1, AC-2, AC-3, AC-4.1, or AC-4.2 for AC-4.2 and AC-4.3 together.

    `body` is the current through the person, mA, against lines a and b (feeling and muscles); `heart` that
    from left hand to feet that is as dangerous to the heart, mA, against c1 and c2. A current on a line is
    beyond it. Raises ValueError for a current below 0, and as line_ma.

    >>> [zone(ma, ma, 1) for ma in (0.2, 5, 30, 60, 100)]
    ['AC-1', 'AC-2', 'AC-3', 'AC-4.1', 'AC-4.2']
    """
    if not (0 <= body < math.inf and 0 <= heart < math.inf):
        raise ValueError(f"a current is 0 or more, got {body!r} and {heart!r}")
    for name, which, current in (
        ("AC-4.2", "c2", heart),
        ("AC-4.1", "c1", heart),
        ("AC-3", "b", body),
        ("AC-2", "a", body),
    ):
        if current >= line_ma(which, seconds, edition):  # type: ignore[arg-type]
            return name
    return "AC-1"
