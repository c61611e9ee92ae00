"""The worst street for a promise that is not kept: found among the drawn ones, then cut down to what still
shows it, and written to a file that `walk` tells and whose link the street calculator opens.

The cutting is delta debugging: one simplification after another is tried, the great ones first, and kept
when the promise still fails; until none is left that can be kept, or MOST_TRIALS were made.
"""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import yaml

from build_tools import source
from build_tools.conform import conform
from build_tools.findings import Hop, Place, Refused
from build_tools.guide import Guide
from build_tools.proof.cases import ANY, Case
from build_tools.proof.count import cases
from build_tools.proof.flock import Flock, flocks, stacked
from build_tools.shapes import Promise
from calc import faults
from calc.address import fragment
from calc.bands import Drawn
from calc.faults import KINDS
from calc.shaped import plain
from calc.street import Metalwork, Premises, Street, network

__all__ = ["MOST_TRIALS", "Worst", "attach", "fails", "find", "flock_of", "link", "read", "shrunk", "write"]

MOST_TRIALS = 300
"""Simplifications that are tried on one street. Each walks one tree over one street: some hundredths of a
second."""
_AT_ONCE = 200
"""Drawn streets that are searched together."""


@dataclass(frozen=True)
class Worst:
    """One street on which a promise fails, with everything else that the failure needs.

    `seed` and `number` say which drawn street it was cut down from (and, with the tree, which answers of a
    caller are wrong). The other fields are as calc.bands.Drawn has them; `home` is the one that is visited.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}
    promise: str
    tree: str
    fault: str
    home: str
    seed: int
    number: int
    meters: dict[str, float]
    caller: dict[str, float]
    known_load_kw: float
    later_kw: dict[str, float]
    street: Street

    def __post_init__(self) -> None:
        fault = faults.parse(self.fault)
        if fault.at not in tuple(KINDS[fault.kind].places(self.street)):
            raise ValueError(f"fault: {fault} cannot be on this street")
        if self.home not in self.street.premises:
            raise ValueError(f"home: {self.home!r} is not on this street")
        if self.later_kw.keys() != self.street.premises.keys():
            raise ValueError("later_kw must give the load of every home of the street, and of no other")

    @property
    def kind(self) -> str:
        """The kind of its fault."""
        return faults.parse(self.fault).kind

    @property
    def drawn(self) -> Drawn:
        """It as a draw that comes to this home and this fault."""
        fault = faults.parse(self.fault)
        places = tuple(KINDS[fault.kind].places(self.street))
        homes = tuple(self.street.premises)
        shares = (
            (homes.index(self.home) + 0.5) / len(homes),
            (places.index(fault.at) + 0.5) / len(places),
            0.5,
        )
        return Drawn(
            self.number,
            "cut-down",
            self.street,
            self.later_kw,
            self.meters,
            self.known_load_kw,
            shares,
            self.caller,
        )

    @property
    def with_perfect_meters(self) -> Worst:
        """The same with meters that do not err."""
        return replace(self, meters=dict.fromkeys(self.meters, 0.0))


def flock_of(worst: Worst) -> Flock:
    """The one street, with its fault."""
    drawn = worst.drawn
    (flock,) = Flock((drawn,), stacked([network(drawn.street)])).with_fault(worst.kind)
    return flock


def fails(guide: Guide, worst: Worst) -> bool:
    """Whether the promise fails on the street."""
    return bool(_failing(guide, worst.promise, worst.tree, flock_of(worst)).any())


def _failing(guide: Guide, promise_id: str, tree: str, flock: Flock) -> Any:
    """The streets of a flock on which a promise is not kept by a tree."""
    (promise,) = (each for each in guide.promises if each.id == promise_id)
    alone = replace(guide, promises=(promise.model_copy(update={"trees": (tree,)}),))
    for case, asked, happened in cases(alone, flock):
        if case == Case(promise.id, tree, flock.kind):
            return asked & (happened if promise.is_upper else ~happened)
    return np.zeros(flock.size, bool)


def find(guide: Guide, promise: Promise, tree: str, kind: str) -> Worst | None:
    """The first drawn street by number on which a promise fails with this kind of fault (any kind, for
    proof.count.ANY); None where it fails on none."""
    assert guide.sampling is not None
    for first in range(0, guide.sampling.streets, _AT_ONCE):
        numbers = range(first, min(first + _AT_ONCE, guide.sampling.streets))
        found = [
            worst
            for whole in flocks(guide.sampling, numbers)
            for each in (KINDS if kind == ANY else [kind])
            for flock in whole.with_fault(each)
            for worst in _broken_by(guide, promise, tree, flock)
        ]
        if found:
            return min(found, key=lambda worst: worst.number)
    return None


def _broken_by(guide: Guide, promise: Promise, tree: str, flock: Flock) -> Iterator[Worst]:
    """The first street of the flock on which the promise fails, if any."""
    assert guide.sampling is not None
    for index in np.flatnonzero(_failing(guide, promise.id, tree, flock))[:1]:
        drawn = flock.drawn[index]
        homes = tuple(drawn.street.premises)
        yield Worst(
            promise.id,
            tree,
            str(faults.Fault(flock.kind, flock.places[flock.place[index]])),
            homes[int(drawn.shares[0] * len(homes))],
            guide.sampling.seed,
            drawn.number,
            drawn.meters,
            drawn.caller if promise.audience == "call" else {},
            drawn.known_load_kw,
            drawn.later_kw,
            replace(drawn.street, title=f"Cut down from drawn street {drawn.number}"),
        )


def shrunk(worst: Worst, still_fails: Callable[[Worst], bool], most: int = MOST_TRIALS) -> Worst:
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


def _can_be(worst: Worst, still_fails: Callable[[Worst], bool]) -> bool:
    try:
        return still_fails(worst)
    except (ArithmeticError, ValueError):  # a street that cannot be solved shows nothing
        return False


def _fewer_homes(worst: Worst) -> Iterator[Worst]:
    for home in worst.street.premises:
        if home == worst.home:
            continue
        premises = {name: each for name, each in worst.street.premises.items() if name != home}
        metalwork = tuple(_without(metal, home) for metal in worst.street.metalwork if metal.joins != (home,))
        later = {name: kw for name, kw in worst.later_kw.items() if name != home}
        yield from _valid(worst, replace_street(premises=premises, metalwork=metalwork), later_kw=later)


def _without(metal: Metalwork, home: str) -> Metalwork:
    """The pipe without a home: its neighbours are joined where the pipe was whole on both sides of it."""
    if home not in metal.joins:
        return metal
    joins = tuple(name for name in metal.joins if name != home)
    gaps = []
    for one, other in itertools.pairwise(joins):
        between = metal.joins[metal.joins.index(one) : metal.joins.index(other) + 1]
        if not all(metal.is_whole(pair) for pair in itertools.pairwise(between)):
            gaps.append((one, other))
    return replace(metal, joins=joins, gaps=tuple(gaps))


def _fewer_joints(worst: Worst) -> Iterator[Worst]:
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
        change = replace_street(mains=mains, premises=premises, electrodes=electrodes)
        kind, _, place = worst.fault.partition("@")
        moved = place.replace(f"{far}-", f"{near}-", 1) if place.startswith(f"{far}-") else place
        yield from _valid(worst, change, fault=f"{kind}@{moved}" if place else kind)


def _fewer_parts(worst: Worst) -> Iterator[Worst]:
    """Without an electrode, without a joint between two pipes, without soil round them."""
    street = worst.street
    for electrode in street.electrodes:
        left = tuple(other for other in street.electrodes if other != electrode)
        yield from _valid(worst, replace_street(electrodes=left))
    for metal in street.metalwork:
        for home in (metal.joins[0], metal.joins[-1]):
            if len(metal.joins) > 1:
                yield from _valid(worst, _with_pipe(street, metal, _without(metal, home)))
        for pair in metal.pairs:
            if metal.is_whole(pair):
                cut = replace(metal, gaps=(*metal.gaps, pair))
                yield from _valid(worst, _with_pipe(street, metal, cut))
        yield from _valid(worst, _with_pipe(street, metal, replace(metal, earth_ohm_each=None)))
        yield from _valid(worst, _with_pipe(street, metal, replace(metal, joint_ohm=0.0)))


def _plain_people(worst: Worst) -> Iterator[Worst]:
    """Meters that do not err, loads that stay as they are, a known load and a caller with plain figures."""
    yield worst.with_perfect_meters
    for name in worst.meters:
        yield replace(worst, meters={**worst.meters, name: 0.0})
    now = {home: premises.load_kw[0] for home, premises in worst.street.premises.items()}
    yield replace(worst, later_kw=now)
    for home in now:
        yield replace(worst, later_kw={**worst.later_kw, home: now[home]})
    yield replace(worst, known_load_kw=2.4)
    for digits in (1, 2):
        yield replace(worst, caller={name: _plain(value, digits) for name, value in worst.caller.items()})


def _plain_figures(worst: Worst) -> Iterator[Worst]:
    """Each figure of the street as a usual one, or with fewer digits."""
    street = worst.street
    for home, each in street.premises.items():
        for load in (0.1, 1.0, _plain(each.load_kw[0], 2)):
            if each.load_kw[0] not in (0.1, 1.0):
                changed = replace(each, load_kw=(load,))
                later = worst.later_kw
                if later[home] == each.load_kw[0]:
                    later = {**later, home: load}
                yield from _valid(worst, _with_home(street, home, changed), later_kw=later)
        for figures in _plainer(each.service, metres=10.0):
            yield from _valid(worst, _with_home(street, home, replace(each, service=figures)))
        for figures in _plainer(each.main_earth, metres=3.0):
            yield from _valid(worst, _with_home(street, home, replace(each, main_earth=figures)))
        for figures in _plainer(each, power_factor=1.0):
            yield from _valid(worst, _with_home(street, home, figures))
        if worst.later_kw[home] not in (0.1, 1.0):
            for load in (0.1, 1.0, _plain(worst.later_kw[home], 2)):
                yield replace(worst, later_kw={**worst.later_kw, home: load})
    for span in street.mains:
        for figures in _plainer(span, metres=50.0):
            mains = tuple(figures if other == span else other for other in street.mains)
            yield from _valid(worst, replace_street(mains=mains))
    for metal in street.metalwork:
        for figures in _plainer(metal, metres=10.0, joint_ohm=0.01, earth_ohm_each=20.0):
            yield from _valid(worst, _with_pipe(street, metal, figures))
    for electrode in street.electrodes:
        for figures in _plainer(electrode, ohm=20.0):
            electrodes = tuple(figures if other == electrode else other for other in street.electrodes)
            yield from _valid(worst, replace_street(electrodes=electrodes))
    usual = {"rating_kva": 315.0, "impedance_percent": 4.5, "star_point_earth_ohm": 1.0, "volts": 240.0}
    for figures in _plainer(street.supply, **usual):
        yield from _valid(worst, replace_street(supply=figures))
    for name, value in worst.meters.items():
        yield replace(worst, meters={**worst.meters, name: _plain(value, 1)})
    yield replace(worst, known_load_kw=_plain(worst.known_load_kw, 2))


def _plainer(record: Any, **usual: float) -> Iterator[Any]:
    """The record with each figure as usual, or else with two digits."""
    for name, value in usual.items():
        now = getattr(record, name)
        if now and now != value:
            yield replace(record, **{name: value})
            yield replace(record, **{name: _plain(now, 2)})


def _plain(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}")


def replace_street(**parts: Any) -> Callable[[Street], Street]:
    """A change to a street: these parts of it instead. Raises ValueError when it is none any more."""
    return lambda street: replace(street, **parts)


def _with_home(street: Street, home: str, premises: Premises) -> Callable[[Street], Street]:
    return replace_street(premises={**street.premises, home: premises})


def _with_pipe(street: Street, metal: Metalwork, instead: Metalwork) -> Callable[[Street], Street]:
    return replace_street(metalwork=tuple(instead if other is metal else other for other in street.metalwork))


def _valid(worst: Worst, change: Callable[[Street], Street], **others: Any) -> Iterator[Worst]:
    try:
        yield replace(worst, street=change(worst.street), **others)
    except ValueError:
        return


def write(worst: Worst, promise: Promise, folder: Path) -> Path:
    """Keep it in a file of its own, whole or not at all."""
    path = folder / f"{worst.kind}-{worst.tree}-{promise.id}.yaml"
    folder.mkdir(parents=True, exist_ok=True)
    head = textwrap.wrap(
        f"Not so on this street: {promise.title}. {promise.words.strip()} "
        f"Told by: python3 -m build_tools walk {worst.tree} --street {source.as_given(path)}",
        108,
        break_on_hyphens=False,
        break_long_words=False,
    )
    text = yaml.safe_dump(
        plain(worst), sort_keys=False, allow_unicode=True, width=110, default_flow_style=None
    )
    aside = path.with_suffix(".yaml.new")
    aside.write_text("".join(f"# {line}\n" for line in head) + text, encoding="utf-8")
    aside.replace(path)
    return path


def read(path: Path) -> Worst:
    """The street of such a file. Raises findings.Refused for one that is damaged."""
    read = source.read(path)
    worst, findings = (None, []) if read.findings else conform(Worst, read)
    if worst is None:
        raise Refused((*read.findings, *findings))
    return worst  # type: ignore[no-any-return]


def link(worst: Worst) -> str:
    """Where the site's street calculator opens it. Raises ValueError for a street too large to travel."""
    return f"calculators/one-street.html#{fragment(worst.street, home=worst.home, fault=worst.fault)}"


def attach(guide: Guide, folder: Path, promise: Promise, tree: str, kind: str) -> tuple[Hop, ...]:
    """For a finding that a promise is not kept: the file of the worst street, how to have it told, and the
    link that opens it. Nothing where no single street breaks the promise, and too few were drawn."""
    worst = find(guide, promise, tree, kind)
    if worst is None:
        return ()
    worst = shrunk(worst, lambda each: fails(guide, each))
    path = write(worst, promise, folder)
    place = Place(source.as_given(path), 1, 1)
    return (
        Hop(place, f"the smallest street that shows it, from drawn street {worst.number}"),
        Hop(place, f"told: python3 -m build_tools walk {tree} --street {place.file}"),
        Hop(place, f"drawn: {link(worst)}"),
    )
