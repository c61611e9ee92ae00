"""What is counted of simulated visits, and the rows that it makes.

Everything counted is a whole number (visits, seconds, person-seconds and their squares), so that the counts
of parts add up to the same bytes however the work was split.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from build_tools.guide.models import PRIORITIES
from build_tools.proof.binomial import bounds
from calc.exposure import EXPOSURES

__all__ = [
    "ENDS",
    "LOST",
    "MEASURES",
    "TOUCH",
    "Mean",
    "Share",
    "VisitCase",
    "VisitCounts",
    "VisitRow",
    "mean_of",
    "rows_of",
]

LOST = "lost"
"""Where no answer leads on."""

ENDS = ("closed", *PRIORITIES, LOST)
"""How a visit ends: closed, handed over at a priority, or lost."""

TOUCH = "touch"
"""Touch danger, wet and dry together."""

MEASURES = (
    "seconds",
    "screens",
    *(f"{kind} {when}" for kind in (TOUCH, *EXPOSURES) for when in ("during", "after")),
)
"""What is measured in each visit: seconds, screens, and person-seconds of each exposure during the visit and
after it until what was left is made safe."""


@dataclass(frozen=True, slots=True, order=True)
class VisitCase:
    """What visits are counted by: the tree, the kind of fault, the law of its joint, and whether access is
    `perfect` or goes by the `chances`."""

    tree: str
    fault: str
    law: str
    access: str


VisitCounts = Counter[tuple[VisitCase, str]]
"""For each case: `visits`, those `endangered` by the fault at the visited home, each of ENDS,
`closed-beside-danger`, `hurt`, and of each of MEASURES the sum
and the sum of squares (`seconds`, `seconds squared`)."""


class Share(NamedTuple):
    """How many of so many, and the exact binomial 95 % bounds of the share."""

    happened: int
    asked: int
    low: float
    high: float


class Mean(NamedTuple):
    """A mean and its 95 % interval (1.96 standard errors), in minutes, screens or person-minutes a visit."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class VisitRow:
    """One case: the shares of its ends, of those closed beside a danger and of those in which a step hurts,
    and the means of what was measured, in minutes and person-minutes."""

    case: VisitCase
    visits: int
    ends: dict[str, Share]
    closed_beside_danger: Share
    hurt: Share
    means: dict[str, Mean]

    @classmethod
    def of(cls, row: Mapping[str, Any]) -> VisitRow:
        """A row as kept."""
        return cls(
            VisitCase(**row["case"]),
            row["visits"],
            {end: Share(*share) for end, share in row["ends"].items()},
            Share(*row["closed_beside_danger"]),
            Share(*row["hurt"]),
            {what: Mean(*mean) for what, mean in row["means"].items()},
        )

    @property
    def touch(self) -> float:
        """Person-minutes in touch danger during a visit and after it, on the average."""
        return self.means[f"{TOUCH} during"].mean + self.means[f"{TOUCH} after"].mean


def rows_of(counts: VisitCounts) -> Iterator[VisitRow]:
    """The rows of all cases, in order."""
    for case in sorted({case for case, what in counts if what == "visits"}):
        visits = counts[case, "visits"]

        def share(what: str, of: str = "visits", case: VisitCase = case) -> Share:
            happened, asked = counts[case, what], counts[case, of]
            return Share(happened, asked, *(bounds(asked, happened, 0.025) if asked else (0.0, 1.0)))

        yield VisitRow(
            case,
            visits,
            {end: share(end) for end in ENDS},
            share("closed-beside-danger", "endangered"),
            share("hurt"),
            {
                what: mean_of(
                    visits,
                    counts[case, what],
                    counts[case, f"{what} squared"],
                    1 if what == "screens" else 60,
                )
                for what in MEASURES
            },
        )


def mean_of(visits: int, total: int, squares: int, unit: int) -> Mean:
    """The mean of so many, from the sums of whole numbers and of their squares, `unit` of which make one."""
    mean = total / visits
    spread = max(0, visits * squares - total * total) / (visits * max(1, visits - 1))
    error = 1.96 * math.sqrt(spread / visits)
    return Mean(mean / unit, (mean - error) / unit, (mean + error) / unit)
