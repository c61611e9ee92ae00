"""A counterexample cut down to what still shows that its promise is not kept.

This is delta debugging: one simplification after another is tried, the great ones first, and kept when the
promise still fails; until none is left that can be kept, or MOST_TRIALS were made.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from build_tools.proof.counterexample import Counterexample
from calc.faults import KINDS, parse_one
from calc.street import Metalwork, Premises, Street

__all__ = ["MOST_TRIALS", "shrunk"]

MOST_TRIALS = 300
"""Simplifications that are tried on one street. Each walks one tree over one street: some hundredths of a
second."""


def shrunk(
    worst: Counterexample, still_fails: Callable[[Counterexample], bool], most: int = MOST_TRIALS
) -> Counterexample:
    """The street with as little in it as still fails, by at most so many trials. The same every time."""
    trials, changed = 0, True
    while changed:
        changed = False
        for simplify in (_fewer_homes, _fewer_joints, _fewer_parts, _plain_people, _plain_figures):
            place = 0
            while len(simpler := list(simplify(worst))) > place and trials < most:
                if simpler[place] != worst:
                    trials += 1
                    if _can_be(simpler[place], still_fails):
                        worst, changed = simpler[place], True
                        continue
                place += 1
    return worst


def _can_be(worst: Counterexample, still_fails: Callable[[Counterexample], bool]) -> bool:
    try:
        return still_fails(worst)
    except (ArithmeticError, ValueError):  # a street that cannot be solved shows nothing
        return False


def _fewer_homes(worst: Counterexample) -> Iterator[Counterexample]:
    for home in worst.street.premises:
        if home == worst.home:
            continue
        gone = worst.street.premises[home]
        premises = {
            name: replace(each, at=gone.at) if each.at == home else each
            for name, each in worst.street.premises.items()
            if name != home
        }
        metalwork = tuple(_without(metal, home) for metal in worst.street.metalwork if metal.joins != (home,))
        later = {name: kw for name, kw in worst.later_kw.items() if name != home}
        yield from _valid(worst, _with_parts(premises=premises, metalwork=metalwork), later_kw=later)


def _without(metal: Metalwork, home: str) -> Metalwork:
    """The pipe without a home: its neighbours are joined where the pipe was whole on both sides of it."""
    if home not in metal.joins:
        return metal
    joins = tuple(name for name in metal.joins if name != home)
    gaps, unrecorded = [], []
    for one, other in itertools.pairwise(joins):
        between = metal.joins[metal.joins.index(one) : metal.joins.index(other) + 1]
        if not all(metal.is_whole(pair) for pair in itertools.pairwise(between)):
            gaps.append((one, other))
        elif not all(metal.is_recorded(pair) for pair in itertools.pairwise(between)):
            unrecorded.append((one, other))
    return replace(metal, joins=joins, gaps=tuple(gaps), unrecorded=tuple(unrecorded))


def _fewer_joints(worst: Counterexample) -> Iterator[Counterexample]:
    """Each joint of the main but the last one left, merged into the one before it."""
    street = worst.street
    for span in street.mains:
        near, far = span.between
        if near == "substation":
            next_ones = [other for other in street.mains if other.between[0] == far]
            fed = any(each.at == far for each in street.premises.values())
            if fed or len(next_ones) != 1:
                continue
        mains = tuple(
            replace(other, between=(near, other.between[1])) if other.between[0] == far else other
            for other in street.mains
            if other != span
        )
        premises = {
            home: replace(each, at=near) if each.at == far else each for home, each in street.premises.items()
        }
        electrodes = tuple(electrode for electrode in street.electrodes if electrode.at != far)
        change = _with_parts(mains=mains, premises=premises, electrodes=electrodes)
        fault = parse_one(worst.fault)
        moved = fault.at.replace(f"{far}-", f"{near}-", 1) if fault.at.startswith(f"{far}-") else fault.at
        yield from _valid(worst, change, fault=str(replace(fault, at=moved)))


def _fewer_parts(worst: Counterexample) -> Iterator[Counterexample]:
    """Without an electrode, without a joint between two pipes, without soil round them."""
    street = worst.street
    for electrode in street.electrodes:
        left = tuple(other for other in street.electrodes if other != electrode)
        yield from _valid(worst, _with_parts(electrodes=left))
    for metal in street.metalwork:
        for home in (metal.joins[0], metal.joins[-1]):
            if len(metal.joins) > 1:
                yield from _valid(worst, _with_pipe(street, metal, _without(metal, home)))
        for pair in metal.pairs:
            if metal.is_whole(pair):
                known = tuple(each for each in metal.unrecorded if each != pair)
                cut = replace(metal, gaps=(*metal.gaps, pair), unrecorded=known)
                yield from _valid(worst, _with_pipe(street, metal, cut))
        yield from _valid(worst, _with_pipe(street, metal, replace(metal, earth_ohm_each=None)))
        yield from _valid(worst, _with_pipe(street, metal, replace(metal, joint_ohm=0.0)))


def _plain_people(worst: Counterexample) -> Iterator[Counterexample]:
    """Meters that do not err, loads that stay as they are, a known load and a caller with plain figures."""
    fault = parse_one(worst.fault)
    if fault.ohm is not None:
        for ohm in (KINDS[fault.kind].ohm, _plain(fault.ohm, 1), _plain(fault.ohm, 2)):
            yield replace(worst, fault=str(replace(fault, ohm=ohm)))
    yield worst.with_perfect_meters
    for name in worst.meters:
        yield replace(worst, meters={**worst.meters, name: 0.0})
    now = {home: premises.load_kw for home, premises in worst.street.premises.items()}
    yield replace(worst, later_kw=now)
    for home in now:
        yield replace(worst, later_kw={**worst.later_kw, home: now[home]})
    yield replace(worst, known_load_kw=2.4)
    for digits in (1, 2):
        yield replace(worst, caller={name: _plain(value, digits) for name, value in worst.caller.items()})


def _plain_figures(worst: Counterexample) -> Iterator[Counterexample]:
    """Each figure of the street as a usual one, or with fewer digits; loads that keep their ohms."""
    street = worst.street
    if street.load_law != "ohms":
        yield from _valid(worst, _with_parts(load_law="ohms"))
    for home, each in street.premises.items():
        for loads in _plainer_loads(each.load_kw):
            later = worst.later_kw
            if later[home] == each.load_kw:
                later = {**later, home: loads}
            yield from _valid(worst, _with_home(street, home, replace(each, load_kw=loads)), later_kw=later)
        for figures in _plainer(each.service, metres=10.0):
            yield from _valid(worst, _with_home(street, home, replace(each, service=figures)))
        for figures in _plainer(each.main_earth, metres=3.0):
            yield from _valid(worst, _with_home(street, home, replace(each, main_earth=figures)))
        for figures in _plainer(each, power_factor=1.0, third_harmonic=0.0):
            yield from _valid(worst, _with_home(street, home, figures))
        if any(each.generation_kw):
            yield from _valid(worst, _with_home(street, home, replace(each, generation_kw=())))
        for loads in _plainer_loads(worst.later_kw[home]):
            yield replace(worst, later_kw={**worst.later_kw, home: loads})
    for span in street.mains:
        for figures in _plainer(span, metres=50.0):
            mains = tuple(figures if other == span else other for other in street.mains)
            yield from _valid(worst, _with_parts(mains=mains))
    for metal in street.metalwork:
        for figures in _plainer(metal, metres=10.0, joint_ohm=0.01, earth_ohm_each=20.0):
            yield from _valid(worst, _with_pipe(street, metal, figures))
    for electrode in street.electrodes:
        for figures in _plainer(electrode, ohm=20.0):
            electrodes = tuple(figures if other == electrode else other for other in street.electrodes)
            yield from _valid(worst, _with_parts(electrodes=electrodes))
    usual = {"rating_kva": 315.0, "impedance_percent": 4.5, "star_point_earth_ohm": 1.0, "volts": 240.0}
    for figures in _plainer(street.supply, **usual):
        yield from _valid(worst, _with_parts(supply=figures))
    for name, value in worst.meters.items():
        yield replace(worst, meters={**worst.meters, name: _plain(value, 1)})
    yield replace(worst, known_load_kw=_plain(worst.known_load_kw, 2))


def _plainer_loads(loads: tuple[float, ...]) -> Iterator[tuple[float, ...]]:
    """Loads with a usual figure, or two digits, on one line or another."""
    for line, load in enumerate(loads):
        if load not in (0.1, 1.0):
            for plainer in (0.1, 1.0, _plain(load, 2)):
                yield (*loads[:line], plainer, *loads[line + 1 :])


def _plainer(record: Any, **usual: float) -> Iterator[Any]:
    """The record with each figure as usual, or else with two digits."""
    for name, value in usual.items():
        now = getattr(record, name)
        if now and now != value:
            yield replace(record, **{name: value})
            yield replace(record, **{name: _plain(now, 2)})


def _plain(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}")


def _with_parts(**parts: Any) -> Callable[[Street], Street]:
    """A change to a street: these parts of it instead. Raises ValueError when it is none any more."""
    return lambda street: replace(street, **parts)


def _with_home(street: Street, home: str, premises: Premises) -> Callable[[Street], Street]:
    return _with_parts(premises={**street.premises, home: premises})


def _with_pipe(street: Street, metal: Metalwork, instead: Metalwork) -> Callable[[Street], Street]:
    return _with_parts(metalwork=tuple(instead if other is metal else other for other in street.metalwork))


def _valid(
    worst: Counterexample, change: Callable[[Street], Street], **others: Any
) -> Iterator[Counterexample]:
    try:
        yield replace(worst, street=change(worst.street), **others)
    except ValueError:
        return
