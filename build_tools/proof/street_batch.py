"""Many drawn streets of one layout, solved together: one elimination order replayed on arrays.

Every figure of a batch is an array with one entry for each street. A conductor that is open in some
streets and whole in others stands at `OPENED_OHM` where it is open. What is measured, shown and noticed there
calc says, for arrays as for numbers.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from build_tools.walks.asked_exits import Asks, judged, leads_to
from calc import danger, instruments, symptoms
from calc.circuit import OPEN, OPENED_OHM, Branch
from calc.danger import HARMS, METALWORK_LIVE, Measured, metalwork_volts
from calc.drawn_streets import Drawn, draw, layout_of
from calc.faults import HEALTHY, KINDS, Fault, after_fuses
from calc.instruments import INSTRUMENTS, lacking
from calc.sampling import Layout, Sampling
from calc.street import Network, Street, load_ohm, network
from calc.symptoms import ON_RECORD
from calc.work import as_worked

__all__ = [
    "Many",
    "StreetBatch",
    "batched",
    "batches",
    "bits_of",
    "faulty_batches",
    "mask_of",
    "numbers_of",
    "of_one_shape",
    "of_part",
    "stacked",
    "with_kinds",
]

CONTACT_OHM = 1e-12
"""A conductor that lies on another terminal in some of a batch, where it lies on this one: far below what any
figure shows."""

Many = NDArray[Any]
Mask = NDArray[np.bool_]
_Answer = TypeVar("_Answer")
_Street = TypeVar("_Street")

_WORK_OF_HOMES = 1.8
_WORK_OF_A_BATCH = 50
"""What a batch costs, for parts of equal work: as the homes of a street to this power, times its streets and
so many more. Measured."""

_ENTRIES = 15_000
"""Homes in all the streets of a batch, at most: more take memory and are solved no faster. Measured."""


def bits_of(mask: Mask) -> int:
    """The streets of a mask as the bits of one whole number: joined and parted many times faster."""
    return int.from_bytes(np.packbits(mask, bitorder="little").tobytes(), "little")


def mask_of(bits: int, size: int) -> Mask:
    """The mask of so many streets that `bits_of` made the number from."""
    octets = np.frombuffer(bits.to_bytes((size + 7) // 8, "little"), np.uint8)
    return np.unpackbits(octets, count=size, bitorder="little").astype(bool)


def stacked(networks: Sequence[Network]) -> Network:
    """One network whose branches hold an array of the given networks' impedances and sources.

    The networks must have the same branches between the same points. The street is the first one's.
    """
    first = networks[0]
    branches = {}
    for name, branch in first.branches.items():
        impedances = [each.branches[name].impedance for each in networks]
        emfs = [each.branches[name].emf for each in networks]
        branches[name] = replace(branch, impedance=_together(impedances), emf=_together(emfs, whole=True))
    homes = {home for each in networks for home in each.thirds}
    thirds = {
        home: _together([each.thirds.get(home, 0.0) for each in networks], whole=True) for home in homes
    }
    return Network(first.street, branches, _together([each.law for each in networks], whole=True), thirds)


def _together(values: list[Any], whole: bool = False) -> Any:
    if all(value == values[0] for value in values):
        return values[0]
    array = np.array(values)
    return array if whole else np.where(np.isinf(array), OPENED_OHM, array)


def chosen(mask: Mask, then: Branch, otherwise: Branch) -> Branch:
    """The branch that is one thing in the streets of the mask and another elsewhere."""
    if then.impedance is otherwise.impedance and then.emf is otherwise.emf:
        return otherwise
    size = mask.shape[0]

    def spread(value: Any) -> Many:
        array = np.broadcast_to(np.asarray(value, np.complex128), (size,))
        return np.where(np.isinf(array), OPENED_OHM, array)

    impedance = np.where(mask, spread(then.impedance), spread(otherwise.impedance))
    emf = then.emf if then.emf is otherwise.emf else np.where(mask, spread(then.emf), spread(otherwise.emf))
    return replace(otherwise, impedance=impedance, emf=emf)


def of_one_shape(networks: Sequence[Network]) -> list[Network]:
    """The networks with the same branches between the same points in all of them.

    A conductor that begins on different points begins on one of its own instead, with a contact to each of
    them; a branch that some lack is open there.
    """
    branches: dict[str, Branch] = {}
    starts: dict[str, dict[str, None]] = defaultdict(dict)
    for each in networks:
        for name, branch in each.branches.items():
            known = branches.setdefault(name, branch)
            if branch is not known and branch.start != known.start:
                starts[name] |= dict.fromkeys((known.start, branch.start))
    if not starts and all(len(each.branches) == len(branches) for each in networks):
        return list(networks)
    opened = {name: branch.opened() for name, branch in branches.items()}
    moved: dict[int, list[Branch]] = {}  # by what is moved: where two have it, they have what it becomes
    for each in networks:
        for name in starts:
            branch = each.branches.get(name, opened[name])
            if id(branch) not in moved:
                moved[id(branch)] = list(_with_contacts(branch, starts[name]))
    return [_as_all(each, opened, starts, moved) for each in networks]


def _as_all(
    network: Network, opened: dict[str, Branch], starts: Iterable[str], moved: dict[int, list[Branch]]
) -> Network:
    branches = {name: network.branches.get(name, branch) for name, branch in opened.items()}
    for name in starts:
        branches |= {each.name: each for each in moved[id(branches[name])]}
    return replace(network, branches=branches)


def _with_contacts(branch: Branch, starts: Iterable[str]) -> Iterator[Branch]:
    own = f"start of {branch.name}"
    yield replace(branch, start=own)
    for start in starts:
        ohm: Any = CONTACT_OHM if start == branch.start else OPEN
        yield Branch(f"contact of {branch.name} on {start}", start, own, ohm)


@dataclass
class StreetBatch:
    """Drawn streets of one layout, with a fault in each.

    `place` is which of `faults` each street has, `joint_ohm` how bad a joint is that goes bad; `before` the
    batch without them.
    """

    drawn: tuple[Drawn, ...]
    base: Network
    faults: tuple[Fault, ...] = (HEALTHY,)
    place: Any = 0
    before: StreetBatch | None = field(default=None, repr=False)
    _worked: dict[Any, Network] = field(default_factory=dict, repr=False)
    _readings: dict[Any, Many] = field(default_factory=dict, repr=False)
    _measured: dict[Any, Measured] = field(default_factory=dict, repr=False)
    _records: dict[Any, Any] = field(default_factory=dict, repr=False)
    _bits: dict[Any, Any] = field(default_factory=dict, repr=False)

    @property
    def size(self) -> int:
        """How many streets."""
        return len(self.drawn)

    @property
    def street(self) -> Street:
        """A street of this layout: its names, phases and joints are those of all."""
        return self.base.street

    def __post_init__(self) -> None:
        self.place = np.broadcast_to(self.place, (self.size,))

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of its faults."""
        return tuple(dict.fromkeys(fault.kind for fault in self.faults))

    @property
    def kind(self) -> str:
        """The kind of fault, where there is one only."""
        (kind,) = self.kinds
        return kind

    def of_kind(self, kind: str) -> Mask:
        """The streets whose fault is of this kind."""
        of_it = np.array([fault.kind == kind for fault in self.faults])
        of_them: Mask = of_it[self.place]
        return of_them

    def only(self, mask: Mask) -> StreetBatch:
        """These of its streets."""
        before = self.before.only(mask) if self.before else None
        drawn = tuple(itertools.compress(self.drawn, mask.tolist()))
        return StreetBatch(drawn, taken(self.base, mask), self.faults, self.place[mask], before)

    @cached_property
    def joint_ohm(self) -> Many:
        """What a joint that goes bad adds in each street."""
        return np.array([each.joint_ohm for each in self.drawn])

    @cached_property
    def sharing(self) -> list[dict[str, tuple[str, ...]]]:
        """For each street, the homes that share metalwork with each home on record."""
        if self.before:  # a fault changes no record
            return self.before.sharing
        return self.by_record(
            lambda street: {home: street.sharing_metalwork(home, recorded=True) for home in street.premises}
        )

    def by_record(self, ask: Callable[[Street], _Answer]) -> list[_Answer]:
        """What each street and its record answer: the same where the same joints of its pipes are parted and
        the same are forgotten, which is all in which the records of one layout differ."""
        known: dict[Any, _Answer] = {}
        answers = []
        for each in self.drawn:
            joints = tuple((pipe.gaps, pipe.unrecorded) for pipe in each.street.metalwork)
            if joints not in known:
                known[joints] = ask(each.street)
            answers.append(known[joints])
        return answers

    def with_fault(self, kind: str) -> Iterator[StreetBatch]:
        """The same streets with this kind of fault; nothing where they have no place for it."""
        return self.with_faults([kind])

    def with_faults(self, kinds: Iterable[str]) -> Iterator[StreetBatch]:
        """The same streets with each of these kinds of fault, all in one batch: kind by kind, without those
        that they have no place for; nothing where they have none for any."""
        places = {kind: tuple(KINDS[kind].places(self.street)) for kind in kinds}
        possible = [kind for kind in places if places[kind]]
        if not possible:
            return
        shares, first, place = np.array([each.shares[1] for each in self.drawn]), 0, []
        for kind in possible:
            place.append(first + (shares * len(places[kind])).astype(int))
            first += len(places[kind])
        faults = tuple(Fault(kind, at) for kind in possible for at in places[kind])
        sound = self if len(possible) == 1 else self._times(len(possible))
        batch = StreetBatch(sound.drawn, sound.base, faults, np.concatenate(place), sound)
        if possible != [HEALTHY.kind]:
            batch.base = after_fuses(batch._changed())
        yield batch

    def _times(self, many: int) -> StreetBatch:
        """The same streets so many times over."""
        again = np.tile(np.arange(self.size), many)
        return StreetBatch(self.drawn * many, taken(self.base, again))

    def _changed(self) -> Network:
        """The network with each street's fault, before any fuse blows."""
        base, *faulty = of_one_shape([self.base, *map(self._with, self.faults)])
        network = base
        for place, changed in enumerate(faulty):
            network = network.changed(*_merged(self.place == place, changed, network, base))
        return network

    def _with(self, fault: Fault) -> Network:
        kind = KINDS[fault.kind]
        return kind.change(self.base, fault.at, self.joint_ohm if kind.is_joint else kind.ohm or 0.0)

    def fault(self, number: int) -> Fault:
        """The fault of one of the streets."""
        fault = self.faults[int(self.place[number])]
        return replace(fault, ohm=self.drawn[number].joint_ohm) if KINDS[fault.kind].is_joint else fault

    def by_visited(self) -> Iterator[StreetBatch]:
        """The streets parted by the home that is visited."""
        visited = np.array([each.visited for each in self.drawn])
        for home in self.street.premises:
            here = visited == home
            if here.any():
                yield self.only(here)

    @cached_property
    def sound(self) -> StreetBatch:
        """The same streets without the fault."""
        return self.before or self

    @cached_property
    def later(self) -> Network:
        """The street as it is once loads have changed, when the known load goes on."""
        branches = []
        for home, premises in self.street.premises.items():
            for line, phase in enumerate(premises.phases):
                ohms = [
                    load_ohm(each.later_kw[home][line], each.street.premises[home].power_factor)
                    for each in self.drawn
                ]
                load = self.base.branches[f"{home}/load.{phase}"]
                branches.append(replace(load, impedance=_together(ohms)))
        return self.base.changed(*branches)

    @cached_property
    def meters(self) -> dict[str, Many]:
        """The errors of the instruments, by name."""
        return {name: np.array([each.meters[name] for each in self.drawn]) for name in self.drawn[0].meters}

    @cached_property
    def known_load_ohm(self) -> Many:
        """The impedance of the load that the crew brings."""
        return np.array([load_ohm(each.known_load_kw) for each in self.drawn])

    def worked(self, conditions: frozenset[Any], later: bool | None = None) -> Network:
        """The network with what was done to it; loads have changed (`later`) once a known load is on."""
        if later is None:
            later = _is_later(conditions)
        if (conditions, later) not in self._worked:
            self._worked[conditions, later] = self._work(conditions, later)
        return self._worked[conditions, later]

    def _work(self, conditions: frozenset[Any], later: bool) -> Network:
        network = as_worked(self.later if later else self.base, conditions)
        loads = [
            replace(branch, impedance=self.known_load_ohm)
            for name, branch in network.branches.items()
            if name.endswith("/known_load") and branch.impedance != OPEN
        ]
        return network.changed(*loads) if loads else network

    def readings(self, home: str, conditions: frozenset[Any], instrument: str, on: tuple[str, ...]) -> Many:
        """What the display shows in each street; inf for over range, nan where no test can be made."""
        asked = (home, conditions, instrument, on)
        if asked not in self._readings:
            self._readings[asked] = self._read(*asked)
        return self._readings[asked]

    def _read(self, home: str, conditions: frozenset[Any], instrument: str, on: tuple[str, ...]) -> Many:
        if lacking(self.street, home, on):
            return np.full(self.size, np.nan)
        network = self.worked(conditions)

        def erring(value: Any) -> Many:
            return self._with_error(instrument, self._spread(value))

        return self._spread(instruments.reading(network, home, instrument, on, erring))

    def _with_error(self, instrument: str, value: Many) -> Many:
        """What an instrument takes a true value for; a two-pole indicator goes by whole volts."""
        if instrument == "two-pole":
            return np.asarray(INSTRUMENTS[instrument].figure(value))
        share, more = {
            "clamp": ("clamp-error", "clamp-stray-a"),
            "loop": ("loop-error", "loop-offset-ohm"),
            "voltmeter": ("voltmeter-error", None),
        }.get(instrument, (None, None))
        if share is not None:
            value = value * (1 + self.meters[share])
        return value if more is None else np.maximum(0.0, value + self.meters[more])

    def _spread(self, value: Any) -> Many:
        return np.broadcast_to(np.asarray(value, np.float64), (self.size,))

    def measured(self, conditions: frozenset[Any], later: bool) -> Measured:
        """The volts that decide each harm, home by home."""
        if (conditions, later) not in self._measured:
            self._measured[conditions, later] = danger.measured(self.worked(conditions, later))
        return self._measured[conditions, later]

    def metalwork_volts(self, home: str, conditions: frozenset[Any]) -> Many:
        """As calc.danger.metalwork_volts, in each street."""
        return self._spread(metalwork_volts(self.worked(conditions), home))

    def new_harms(self, before: frozenset[Any], after: frozenset[Any]) -> dict[tuple[str, str], Mask]:
        """Streets in which something done raises a harm that did not stand before, by home and harm."""
        return {
            (home, what): np.broadcast_to(new, (self.size,))
            for home, what, new in danger.raised(*self.before_and_after(before, after))
        }

    def before_and_after(self, before: frozenset[Any], after: frozenset[Any]) -> tuple[Measured, Measured]:
        """What is measured before something is done and after it. The loads are the same, so that only what
        was done counts."""
        later = _is_later(before | after)
        return self.measured(before, later), self.measured(after, later)

    def records(self, fact_name: str, home: str) -> Many:
        """The word of a fact that only the street's record decides."""
        if self.before:
            return self.before.records(fact_name, home)
        if (fact_name, home) not in self._records:
            words = self.by_record(lambda street: symptoms.fact(fact_name, Network(street, {}), home))
            self._records[fact_name, home] = np.array(words)
        kept: Many = self._records[fact_name, home]
        return kept

    def next_door(self, started_at: str, gone_to: frozenset[str]) -> Many:
        """The next home that shares metalwork and was not gone to, in each street; "" where there is none."""
        if self.before:
            return self.before.next_door(started_at, gone_to)
        if (started_at, gone_to) not in self._records:
            doors = [
                next((home for home in sharing[started_at] if home not in gone_to), "")
                for sharing in self.sharing
            ]
            self._records[started_at, gone_to] = np.array(doors)
        next_ones: Many = self._records[started_at, gone_to]
        return next_ones

    def words(self, fact_name: str, home: str, conditions: frozenset[Any]) -> Many:
        """The word of a fact of calc.symptoms in each street. Raises KeyError for one that is not known."""
        if fact_name in ON_RECORD:
            return self.records(fact_name, home)
        network = self.worked(conditions)
        if fact_name == "neighbour-off":
            words = symptoms.neighbour_off(network, self.beside(home))
        else:
            words = symptoms.fact(fact_name, network, home)
        return np.broadcast_to(words, (self.size,))

    def beside(self, home: str) -> dict[str, Mask]:
        """The other homes, each with the streets in which it is beside this one."""
        if self.before:
            return self.before.beside(home)
        if ("beside", home) not in self._records:
            near = self.by_record(lambda street: symptoms.beside(street, home))
            others = (other for other in self.street.premises if other != home)
            self._records["beside", home] = {
                other: np.array([other in each for each in near]) for other in others
            }
        beside: dict[str, Mask] = self._records["beside", home]
        return beside

    def leaving(self, asks: Asks, home: str, conditions: frozenset[Any], here: int = 0) -> tuple[int, ...]:
        """For each exit of what is asked, the streets that leave by it, as `walk.Streets` has them: here and
        everywhere, since one costs as much as all."""
        key = (asks, home, conditions)
        if key not in self._bits:
            if asks.fact:
                found = self.words(asks.fact, home, conditions)
            else:
                found = judged(
                    asks, lambda when: self.readings(home, when, asks.instrument, asks.on), conditions
                )
            self._bits[key] = tuple(
                bits_of(np.broadcast_to(leads_to(found, exit_), (self.size,))) for exit_ in asks.exits
            )
        parted: tuple[int, ...] = self._bits[key]
        return parted

    def doors(self, started_at: str, gone_to: frozenset[str]) -> tuple[tuple[str, int], ...]:
        """Each home that is the next to go to, and the streets where it is."""
        key = (started_at, gone_to)
        if key not in self._bits:
            doors = self.next_door(started_at, gone_to)
            self._bits[key] = tuple((str(door), bits_of(doors == door)) for door in np.unique(doors) if door)
        found: tuple[tuple[str, int], ...] = self._bits[key]
        return found

    def live(self, home: str, conditions: frozenset[Any], here: int = 0) -> int:
        """The streets where a home's metalwork is above the touch limit."""
        key = ("live", home, conditions)
        if key not in self._bits:
            volts = self.metalwork_volts(home, conditions)
            self._bits[key] = bits_of(HARMS[METALWORK_LIVE](volts))
        streets: int = self._bits[key]
        return streets

    def raised(
        self, before: frozenset[Any], after: frozenset[Any], here: int = 0
    ) -> tuple[tuple[str, str, int], ...]:
        """Home, harm and streets of each of `new_harms`."""
        key = ("raised", before, after)
        if key not in self._bits:
            harms = self.new_harms(before, after).items()
            self._bits[key] = tuple((*harm, bits_of(mask)) for harm, mask in harms if mask.any())
        raised: tuple[tuple[str, str, int], ...] = self._bits[key]
        return raised

    def endangered(self, home: str, here: int = 0) -> int:
        """The streets whose fault endangers a home."""
        return self._endangered.get(home, 0)

    @cached_property
    def _endangered(self) -> dict[str, int]:
        hit = [
            fault.not_to_close(self.street) if KINDS[fault.kind].keeps_open else () for fault in self.faults
        ]
        homes = [
            frozenset(hit[place]).union(*(joined[home] for home in hit[place]))
            for place, joined in zip(self.place, self.joined, strict=True)
        ]
        return {home: bits_of(np.array([home in each for each in homes])) for home in self.street.premises}

    @cached_property
    def joined(self) -> list[dict[str, tuple[str, ...]]]:
        """For each street, the homes that metal joins to each home, whatever is on record."""
        if self.before:
            return self.before.joined
        return self.by_record(
            lambda street: {home: street.sharing_metalwork(home) for home in street.premises}
        )


def _is_later(conditions: frozenset[Any]) -> bool:
    return any(condition.name == "known-load-on" for condition in conditions)


def taken(network: Network, mask: Many) -> Network:
    """The network of only the streets in the mask, or of those of these numbers."""

    def some(value: Any) -> Any:
        return value[mask] if isinstance(value, np.ndarray) else value

    branches = {
        name: replace(branch, impedance=some(branch.impedance), emf=some(branch.emf))
        for name, branch in network.branches.items()
    }
    thirds = {home: some(share) for home, share in network.thirds.items()}
    return Network(network.street, branches, some(network.law), thirds)


def _merged(mask: Mask, changed: Network, so_far: Network, base: Network) -> list[Branch]:
    """The branches that a fault changes in the streets of the mask, or adds: such a one is open elsewhere."""
    return [
        chosen(mask, branch, so_far.branches.get(name) or branch.opened())
        for name, branch in changed.branches.items()
        if branch is not base.branches.get(name)
    ]


def numbers_of(sampling: Sampling, number: int, of: int) -> list[int]:
    """The streets of one of so many parts, from 1 up."""
    return of_part(((layout_of(sampling, street), street) for street in range(sampling.streets)), number, of)


def of_part(streets: Iterable[tuple[Layout, _Street]], number: int, of: int) -> list[_Street]:
    """What one of so many parts, from 1 up, has of these streets: a few whole layouts, since a batch costs
    little more for more streets, and as much work as the others have."""
    by_layout: dict[str, list[_Street]] = defaultdict(list)
    work: dict[str, float] = {}
    for layout, street in streets:
        by_layout[layout.id].append(street)
        work[layout.id] = sum(map(len, layout.homes)) ** _WORK_OF_HOMES
    costs = {id_: work[id_] * (_WORK_OF_A_BATCH + len(alike)) for id_, alike in by_layout.items()}
    ordered = sorted(by_layout, key=lambda id_: (-costs[id_], id_))
    each = [costs[id_] / len(by_layout[id_]) for id_ in ordered for _ in by_layout[id_]]
    done = [0.0, *itertools.accumulate(each)]
    low, high = (done[-1] * end / of for end in (number - 1, number))
    in_turn = (street for id_ in ordered for street in by_layout[id_])
    return [
        street
        for street, before in zip(in_turn, done, strict=False)
        if low <= before and (before < high or number == of)
    ]


def batches(sampling: Sampling, numbers: Iterable[int]) -> list[StreetBatch]:
    """The healthy streets of these numbers, by layout."""
    return batched(draw(sampling, number) for number in numbers)


def batched(streets: Iterable[Drawn]) -> list[StreetBatch]:
    """These streets, healthy, by layout."""
    by_layout: dict[str, list[Drawn]] = {}
    for drawn in streets:
        by_layout.setdefault(drawn.layout, []).append(drawn)
    return [
        StreetBatch(tuple(drawn), stacked([network(each.street) for each in drawn]))
        for _, drawn in sorted(by_layout.items())
    ]


def faulty_batches(sampling: Sampling, numbers: Iterable[int], kinds: Iterable[str]) -> Iterator[StreetBatch]:
    """The streets of these numbers with each of these kinds of fault in turn."""
    healthy = batches(sampling, numbers)
    for kind in kinds:
        for whole in healthy:
            yield from whole.with_fault(kind)


def with_kinds(healthy: Iterable[StreetBatch], kinds: Sequence[str]) -> Iterator[StreetBatch]:
    """Each batch with these kinds of fault, as many kinds at a time as are solved well together."""
    for whole in healthy:
        at_a_time = max(1, _ENTRIES // (whole.size * len(whole.street.premises)))
        for first in range(0, len(kinds), at_a_time):
            yield from whole.with_faults(kinds[first : first + at_a_time])
