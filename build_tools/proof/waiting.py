"""What it costs to wait until a danger is made safe, by what is done at the home before: whole procedures
side by side.

"Leave it live and wait" is an act like any other. Counted over the drawn streets whose fault endangers the
visited home, for the minutes after which an emergency is made safe. What is done harms others where it raises
a harm at another home (calc.danger.raised).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from build_tools.guide.trees import Guide
from build_tools.proof.binomial import bounds
from build_tools.proof.counting import endangered_streets, visited_streets
from build_tools.proof.lasting import Lasting
from build_tools.proof.street_batch import Mask, faulty_batches
from build_tools.proof.visit_table import TOUCH, Mean, Share, mean_of
from calc.exposure import EXPOSURES, in_touch_danger
from calc.work import Condition, done

__all__ = ["WAITS", "WaitCase", "WaitCounts", "WaitRow", "count_waits", "wait_rows"]

WAITS: dict[str, tuple[str, ...]] = {
    "live": (),
    "main-switch-open": ("open-main-switch",),
}
"""Each way to wait, and the actions of calc.work that come before it, at the visited home."""

MEASURED = (TOUCH, *EXPOSURES)


@dataclass(frozen=True, slots=True, order=True)
class WaitCase:
    """What is counted by: the way to wait, and the kind of fault."""

    wait: str
    fault: str


WaitCounts = Counter[tuple[WaitCase, str]]
"""For each case: `streets`, `harms-others`, and of touch danger and each exposure the person-seconds and the
sum of their squares. Whole numbers, so counts of parts add up."""


@dataclass(frozen=True, slots=True)
class WaitRow:
    """One case: how often what is done harms others, and the person-minutes that the wait costs all homes."""

    case: WaitCase
    streets: int
    harms_others: Share
    means: dict[str, Mean]


def count_waits(guide: Guide, numbers: Iterable[int], kinds: Iterable[str]) -> WaitCounts:
    """The counts over the drawn streets of these numbers, for these kinds of fault. The guide must have a
    sampling and minutes."""
    assert guide.sampling is not None and guide.minutes is not None
    counts: WaitCounts = Counter()
    for batch in faulty_batches(guide.sampling, numbers, kinds):
        lasting, endangered = Lasting(batch, guide.minutes), endangered_streets(batch)
        for home, visited in visited_streets(batch).items():
            for wait in WAITS if (visited & endangered).any() else ():
                _count(counts, WaitCase(wait, batch.kind), lasting, home, visited & endangered)
    return counts


def _count(counts: WaitCounts, case: WaitCase, lasting: Lasting, home: str, here: Mask) -> None:
    """Add the streets of the mask, where this home is the one that is visited."""
    conditions: frozenset[Condition] = frozenset()
    for action in WAITS[case.wait]:
        conditions = done(conditions, action, home)
    counts[case, "streets"] += int(here.sum())
    counts[case, "harms-others"] += int((here & _harms_others(lasting, home, conditions)).sum())
    seconds = 60 * lasting.minutes.made_safe["emergency"].value
    costs: dict[str, Any] = dict(zip(EXPOSURES, lasting.costs(conditions) * seconds, strict=True))
    for what, values in {TOUCH: in_touch_danger(costs), **costs}.items():
        whole = [round(value) for value in values[here].tolist()]
        counts[case, what] += sum(whole)
        counts[case, f"{what} squared"] += sum(value * value for value in whole)


def _harms_others(lasting: Lasting, home: str, conditions: frozenset[Condition]) -> Mask:
    harms = lasting.batch.new_harms(frozenset(), conditions).items()
    others = [mask for (where, _), mask in harms if where != home]
    found: Mask = np.logical_or.reduce([np.zeros(lasting.batch.size, bool), *others])
    return found


def wait_rows(counts: WaitCounts) -> Iterator[WaitRow]:
    """The rows of all cases, in order."""
    for case in sorted({case for case, _ in counts}):
        streets, harms = counts[case, "streets"], counts[case, "harms-others"]
        yield WaitRow(
            case,
            streets,
            Share(harms, streets, *bounds(streets, harms, 0.025)),
            {
                what: mean_of(streets, counts[case, what], counts[case, f"{what} squared"], 60)
                for what in MEASURED
            },
        )
