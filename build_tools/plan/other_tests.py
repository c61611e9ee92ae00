"""Tests that a tree could make: what they show where it closes, and what the best of them would find.

Each of calc.readings.TESTS; with clamp and voltmeter also with the known load on, and how far what is shown
changes when it goes on. None for which a main earth is lifted: that is no test to add. A test that the tree
makes already is tried too, at a limit found here: a tighter one may be the cheapest to add. Limits are
those that other trees of the guide or `proof/procedures` state. Where none are stated, a limit lies where a
given share of healthy homes is left on its good side, for each kind of home apart: found on the streets of
even numbers, and its false alarms counted on those of odd ones.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

import numpy as np

from build_tools.guide.models import Question, Reading
from build_tools.guide.trees import Guide
from build_tools.plan.leaving_out import ClosingWay
from build_tools.proof.procedures import (
    ANYTHING,
    HOME_KINDS,
    LOOKED_AT,
    OTHER_LIMITS,
    PREPARED,
    HomeKind,
    How,
    Procedure,
    Usual,
    conditions_at,
    procedures,
)
from build_tools.proof.street_batch import Many, StreetBatch, mask_of
from calc.faults import HEALTHY
from calc.readings import TESTS
from calc.work import ACTIONS, Condition

__all__ = ["HEALTHY_SHARE", "Added", "OtherTest", "Seen", "Shown", "best_added", "other_tests", "shown_in"]

HEALTHY_SHARE = 0.99
"""The share of healthy homes of a kind that a limit leaves on its good side, where none is stated. Project
choice."""

_LOAD = frozenset({"known-load-on"})
_LOADED = ("clamp", "voltmeter")
"""Testers that are read with the known load off and on."""


@dataclass(frozen=True, slots=True)
class OtherTest:
    """A test that a tree could make. `is_made`: the tree makes it, at limits of its own. `changes`: not what
    it shows counts, but how far that changes when the known load goes on. `usual`: the limits at each kind
    of home, where some are stated."""

    title: str
    how: How
    is_made: bool = False
    changes: bool = False
    usual: Mapping[HomeKind, Usual] | None = None

    @property
    def id(self) -> str:
        """The test as one word."""
        return f"{self.how.id}-change" if self.changes else self.how.id


class Seen(NamedTuple):
    """What a test shows at one home of one street: its place among all that were counted, its number as
    drawn, and the figure."""

    street: int
    number: int
    figure: float


Shown: TypeAlias = dict[tuple[str, HomeKind, str], list[Seen]]
"""By test, kind of home and kind of fault: what is shown at the homes that are tested, where the tree
closes."""


def other_tests(guide: Guide, way: ClosingWay) -> tuple[OtherTest, ...]:
    """The tests that a tree could make on its closing way, each once."""
    made = frozenset(_made(way))
    stated = {
        (one.how.instrument, one.how.on, frozenset(one.how.conditions) - PREPARED): one
        for one in _procedures(guide)
    }
    found: dict[str, OtherTest] = {}
    for test in TESTS:
        begun = frozenset(ACTIONS[action][0] for action in test.after)
        if "main-earth-lifted" not in begun:
            key = (test.instrument, test.on, begun)
            usual = None if key in made else _stated(stated.get(key), test.id)
            how = How(test.instrument, test.on, _prepared(way, begun))
            found[how.id] = OtherTest(test.title, how, key in made, usual=usual)
    for test in (test for test in TESTS if not test.after and test.instrument in _LOADED):
        how = How(test.instrument, test.on, _prepared(way, _LOAD))
        is_made = (test.instrument, test.on, _LOAD) in made
        found.setdefault(how.id, OtherTest(f"With the known load on: {_lower(test.title)}", how, is_made))
        change = OtherTest(f"Change as the known load goes on: {_lower(test.title)}", how, changes=True)
        found[change.id] = change
    return tuple(found.values())


def _lower(title: str) -> str:
    return title[0].lower() + title[1:]


def _procedures(guide: Guide) -> Collection[Procedure]:
    """The tests of the guide's trees; none where one of TESTS has limits nowhere."""
    try:
        return procedures(guide).values()
    except KeyError:
        return ()


def _stated(one: Procedure | None, test: str) -> Mapping[HomeKind, Usual] | None:
    """The limits that are stated, if any are that something can be outside of."""
    if one and one.nodes and not one.fact:
        return {kind: limits.usual for kind, limits in one.limits.items()}
    usual = OTHER_LIMITS.get(test, ANYTHING)
    return dict.fromkeys(HOME_KINDS, usual) if usual != ANYTHING else None


def _made(way: ClosingWay) -> Iterator[tuple[str, tuple[str, ...], frozenset[str]]]:
    """The tests that a tree makes on its closing way, as what is held where after what was done."""
    for kind in HOME_KINDS:
        for id_, conditions in conditions_at(way.tree, kind):
            match way.tree.nodes[id_].spec:
                case Reading(instrument=instrument, on=on) if id_ in way.nodes:
                    yield instrument, tuple(on), conditions - PREPARED
                case Question(fact=str(fact)) if id_ in way.nodes and fact in LOOKED_AT:
                    instrument, on = LOOKED_AT[fact]
                    yield instrument, on, conditions - PREPARED


def _prepared(way: ClosingWay, conditions: frozenset[str]) -> tuple[str, ...]:
    """The conditions, with what the tree makes ready besides where it has them."""
    if not conditions:
        return ()
    there = [tuple(sorted(had)) for _, had in conditions_at(way.tree) if had - PREPARED == conditions]
    return max([tuple(sorted(conditions)), *there], key=len)


def shown_in(
    tests: Sequence[OtherTest],
    batch: StreetBatch,
    streets: int,
    homes: Mapping[str, int],
    before: int,
    shown: Shown,
) -> None:
    """Add what the tests show in these streets at the homes that are tested there. `before`: how many streets
    were counted before this batch."""
    for home, there in homes.items():
        mask = mask_of(streets & there, batch.size)
        numbers = mask.nonzero()[0].tolist()
        kind = HomeKind.of(batch.street.premises[home])
        for test in tests if numbers else ():
            figures = _figures(test, batch, home)
            for number in numbers:
                fault = batch.faults[int(batch.place[number])].kind
                seen = Seen(before + number, batch.drawn[number].number, float(figures[number]))
                shown[test.id, kind, fault].append(seen)


def _figures(test: OtherTest, batch: StreetBatch, home: str) -> Many:
    conditions = frozenset(Condition(name, home) for name in test.how.conditions)
    figures = batch.readings(home, conditions, test.how.instrument, test.how.on)
    if test.changes:
        before = frozenset(one for one in conditions if one.name not in _LOAD)
        at_rest = batch.readings(home, before, test.how.instrument, test.how.on)
        with np.errstate(invalid="ignore"):  # over range both times: no figure
            figures = figures - at_rest
    return figures


@dataclass(frozen=True, slots=True)
class Added:
    """What a test would find if the tree made it at every home that it tests. Of the dangers that the tree
    closes beside (`missed`) it shows `found`; of the `healthy` streets that it closes `alarms`. `limit`: in
    words, for the most usual kind of home."""

    test: str
    title: str
    is_made: bool
    limit: str
    missed: int
    found: int
    healthy: int
    alarms: int
    by_fault: Mapping[str, int]

    @property
    def gain(self) -> float:
        """The share of dangers that it finds beyond its share of false alarms."""
        return self.found / max(1, self.missed) - self.alarms / max(1, self.healthy)


def best_added(tests: Sequence[OtherTest], shown: Shown) -> list[Added]:
    """Each test at the best of its limits, the one with most to gain first."""
    found = []
    for test in tests:
        rows = {(kind, fault): seen for (id_, kind, fault), seen in shown.items() if id_ == test.id}
        if added := [_added(test, rows, *limits) for limits in _limits(test, rows)]:
            found.append(max(added, key=lambda one: one.gain))
    return sorted(found, key=lambda one: (-one.gain, one.test))


_Rows: TypeAlias = Mapping[tuple[HomeKind, str], list[Seen]]


def _limits(test: OtherTest, rows: _Rows) -> Iterator[tuple[Mapping[HomeKind, Usual], bool]]:
    """The usual figures of each kind of home, in each way that they can be had; and whether they were found
    on healthy streets of even numbers."""
    if test.usual:
        yield test.usual, False
        return
    even: dict[HomeKind, list[float]] = {}
    for (kind, fault), seen in rows.items():
        if fault == HEALTHY.kind:
            even[kind] = sorted(
                one.figure for one in seen if not one.number % 2 and not math.isnan(one.figure)
            )
    highest = {kind: _quantile(figures) for kind, figures in even.items() if figures}
    lowest = {
        kind: -_quantile([-one for one in reversed(figures)]) for kind, figures in even.items() if figures
    }
    yield {kind: ((-math.inf, math.nextafter(high, math.inf)),) for kind, high in highest.items()}, True
    yield {kind: ((low, math.inf),) for kind, low in lowest.items()}, True


def _quantile(figures: Sequence[float]) -> float:
    """The lowest figure with the stated share at it or below; of a few, the highest."""
    return figures[math.ceil(HEALTHY_SHARE * len(figures)) - 1]


def _added(test: OtherTest, rows: _Rows, usual: Mapping[HomeKind, Usual], on_even: bool) -> Added:
    asked: dict[str, set[int]] = {}
    alarmed: dict[str, set[int]] = {}
    for (kind, fault), seen in rows.items():
        counted = [one for one in seen if fault != HEALTHY.kind or not on_even or one.number % 2]
        asked.setdefault(fault, set()).update(one.street for one in counted)
        alarmed.setdefault(fault, set()).update(
            one.street for one in counted if kind in usual and _is_alarm(one.figure, usual[kind])
        )
    healthy, alarms = (each.pop(HEALTHY.kind, set()) for each in (asked, alarmed))
    found = {fault: len(streets) for fault, streets in sorted(alarmed.items()) if streets}
    return Added(
        test.id,
        test.title,
        test.is_made,
        _in_words(usual),
        sum(map(len, asked.values())),
        sum(found.values()),
        len(healthy),
        len(alarms),
        found,
    )


def _is_alarm(figure: float, usual: Usual) -> bool:
    """Whether a figure is outside of what is usual; no figure is none, but over range is one."""
    return not math.isnan(figure) and not any(low <= figure < high for low, high in usual)


def _in_words(usual: Mapping[HomeKind, Usual]) -> str:
    """The limits of the most usual kind of home that has some."""
    kind = next((kind for kind in HOME_KINDS if kind in usual), None)
    if kind is None:
        return "no healthy home to go by"
    said = (f"{low:.3g} to {high:.3g}" for low, high in usual[kind])
    words = " or ".join(said).replace("-inf to", "up to").replace(" to inf", " or more")
    return f"usual: {words}"
