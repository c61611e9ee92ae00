"""Many drawn streets of one layout, solved together: one elimination order replayed on arrays.

Every figure of a flock is an array with one entry for each street. A conductor that is open in some
streets and whole in others stands at `OPENED_OHM` where it is open.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from build_tools.proof.asks import Asks
from calc import danger
from calc.bands import Drawn, Sampling, draw
from calc.circuit import EARTH, OPEN, Branch
from calc.faults import KINDS, fuses_of
from calc.instruments import INSTRUMENTS, LIGHTS_FROM, LINES, LOOP_NEEDS_VOLTS, across, loop_volts, measured
from calc.limits import LIMITS
from calc.street import Network, Street, load_ohm, network
from calc.symptoms import FACTS, TINGLE_FROM_VOLTS, fact
from calc.work import as_worked

__all__ = ["OPENED_OHM", "Flock", "Many", "bits_of", "faulty_flocks", "flocks", "mask_of", "stacked"]

OPENED_OHM = 1e18
"""An open conductor among whole ones: far above any insulation, so that it carries nothing that counts."""

Many = NDArray[Any]
Mask = NDArray[np.bool_]


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
    return Network(first.street, branches)


def _together(values: list[Any], whole: bool = False) -> Any:
    if all(value == values[0] for value in values):
        return values[0]
    array = np.array(values, np.complex128)
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


@dataclass
class Flock:
    """Drawn streets of one layout, with one kind of fault in each (`healthy` for none).

    `place` is where the fault is in each street (an index into `places`); `before` the flock without it.
    """

    drawn: tuple[Drawn, ...]
    base: Network
    kind: str = "healthy"
    before: Flock | None = field(default=None, repr=False)
    _worked: dict[Any, Network] = field(default_factory=dict, repr=False)
    _readings: dict[Any, Many] = field(default_factory=dict, repr=False)
    _harms: dict[Any, Any] = field(default_factory=dict, repr=False)
    _records: dict[Any, Many] = field(default_factory=dict, repr=False)
    _bits: dict[Any, Any] = field(default_factory=dict, repr=False)

    @property
    def size(self) -> int:
        """How many streets."""
        return len(self.drawn)

    @property
    def street(self) -> Street:
        """A street of this layout: its names, phases and joints are those of all."""
        return self.base.street

    @cached_property
    def places(self) -> tuple[str, ...]:
        """Where this kind of fault can be."""
        return tuple(KINDS[self.kind].places(self.street))

    @cached_property
    def place(self) -> Many:
        """Index of the place of each street's fault."""
        return np.array([int(each.shares[1] * len(self.places)) for each in self.drawn])

    @cached_property
    def sharing(self) -> tuple[dict[str, tuple[str, ...]], ...]:
        """For each street, the homes that share metalwork with each home."""
        known: dict[Any, dict[str, tuple[str, ...]]] = {}
        shared = []
        for each in self.drawn:
            gaps = each.street.metalwork[0].gaps
            if gaps not in known:
                known[gaps] = {home: each.street.sharing_metalwork(home) for home in each.street.premises}
            shared.append(known[gaps])
        return tuple(shared)

    def with_fault(self, kind: str) -> Iterable[Flock]:
        """The same streets with this kind of fault: one flock, or one a place where it moves conductors."""
        flock = Flock(self.drawn, self.base, kind, self)
        if kind == "healthy" or not flock.places:
            return [flock] if flock.places else []
        if flock._moves_conductors():
            return [part for place in range(len(flock.places)) for part in flock._at_one_place(place)]
        network = self.base
        for place, name in enumerate(flock.places):
            mask = flock.place == place
            changed = KINDS[kind].change(self.base, name, KINDS[kind].ohm or 0.0)
            network = network.changed(*_merged(mask, changed, network, self.base))
        flock.base = _after_fuses(network, flock.size)
        return [flock]

    def _moves_conductors(self) -> bool:
        changed = KINDS[self.kind].change(self.base, self.places[0], 1.0)
        return any(branch.tie != self.base.branches[name].tie for name, branch in changed.branches.items())

    def _at_one_place(self, place: int) -> Iterable[Flock]:
        mask = self.place == place
        if not mask.any():
            return []
        base = taken(self.base, mask)
        drawn = tuple(each for each, here in zip(self.drawn, mask, strict=True) if here)
        part = Flock(drawn, base, self.kind, Flock(drawn, base))
        part.base = _after_fuses(KINDS[self.kind].change(base, self.places[place], 0.0), part.size)
        return [part]

    @cached_property
    def sound(self) -> Flock:
        """The same streets without the fault."""
        return self.before or self

    @cached_property
    def later(self) -> Network:
        """The street as it is once loads have changed, when the known load goes on."""
        branches = []
        for home, premises in self.street.premises.items():
            ohms = [
                load_ohm(each.later_kw[home], each.street.premises[home].power_factor) for each in self.drawn
            ]
            branches.append(
                replace(self.base.branches[f"{home}/load.{premises.phases[0]}"], impedance=_together(ohms))
            )
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
            later = any(condition.name == "known-load-on" for condition in conditions)
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
        if any(line in on for line in LINES[len(self.street.premises[home].phases) :]):
            return np.full(self.size, np.nan)
        network = self.worked(conditions)
        tester = INSTRUMENTS[instrument]
        value = self._spread(measured(network, home, instrument, on))
        if instrument in LIGHTS_FROM:
            return np.where(value >= LIGHTS_FROM[instrument], tester.high, 0.0)
        value = self._with_error(instrument, value)
        shown = np.where(
            value < tester.threshold, 0.0, np.round(value / tester.resolution) * tester.resolution
        )
        shown = np.where(value <= tester.high, shown, np.inf)
        if instrument == "loop":
            found = self._spread(loop_volts(network, home, on))
            shown = np.where(found < LOOP_NEEDS_VOLTS, np.nan, shown)
        return shown

    def _with_error(self, instrument: str, value: Many) -> Many:
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

    def touch_volts(self, home: str, conditions: frozenset[Any]) -> Many:
        """Volts across a body from a home's metalwork to true earth."""
        return self._felt(self.worked(conditions), f"{home}.MET", EARTH)

    def new_harms(self, before: frozenset[Any], after: frozenset[Any]) -> dict[tuple[str, str], Mask]:
        """Streets in which something done raises a harm that did not stand before, by home and harm.

        The loads are the same before and after, so that only what was done counts.
        """
        later = any(condition.name == "known-load-on" for condition in before | after)
        if (before, after) not in self._harms:
            self._harms[before, after] = {
                (home, what): is_harm(now) & ~is_harm(then) & (abs(now - then) >= danger.CHANGE_VOLTS)
                for home in self.street.premises
                for what, is_harm in danger.HARMS.items()
                for then, now in [(self.measure(done, later, home, what) for done in (before, after))]
            }
        found: dict[tuple[str, str], Mask] = self._harms[before, after]
        return found

    def measure(self, conditions: frozenset[Any], later: bool, home: str, what: str) -> Many:
        """As calc.danger.measures, in each street."""
        network = self.worked(conditions, later)
        match what:
            case danger.METALWORK_LIVE:
                return self._felt(network, f"{home}.MET", EARTH)
            case danger.GAP_LIVE:
                main_earth = network.branches[f"{home}/main_earth"]
                is_open = self._spread(abs(main_earth.admittance)) < 2 / OPENED_OHM
                if not is_open.any():
                    return np.zeros(self.size)
                return np.where(is_open, self._felt(network, main_earth.start, main_earth.end), 0.0)
        (phase,) = self.street.premises[home].phases
        return self._spread(abs(network.solution.volts(f"{home}.{phase}", f"{home}.N")))

    def _felt(self, network: Network, a: str, b: str) -> Many:
        """Volts across a body; where even the open circuit is harmless everywhere, that will do."""
        volts = self._spread(across(network, a, b, math.inf))
        if (volts <= LIMITS["touch-volts"].value).all():
            return volts
        return self._spread(across(network, a, b, LIMITS["body-ohm"].value))

    def records(self, fact_name: str, home: str) -> Many:
        """The word of a fact that only the street's record decides."""
        if (fact_name, home) not in self._records:
            known: dict[Any, str] = {}
            words = []
            for each in self.drawn:
                gaps = each.street.metalwork[0].gaps
                if gaps not in known:
                    known[gaps] = fact(fact_name, Network(each.street, {}), home)
                words.append(known[gaps])
            self._records[fact_name, home] = np.array(words)
        return self._records[fact_name, home]

    def next_door(self, started_at: str, gone_to: frozenset[str]) -> Many:
        """The next home that shares metalwork and was not gone to, in each street; "" where there is none."""
        if (started_at, gone_to) not in self._records:
            doors = [
                next((home for home in sharing[started_at] if home not in gone_to), "")
                for sharing in self.sharing
            ]
            self._records[started_at, gone_to] = np.array(doors)
        return self._records[started_at, gone_to]

    def words(self, fact_name: str, home: str, conditions: frozenset[Any]) -> Many:
        """The word of a fact of calc.symptoms in each street. Raises KeyError for one that is not known."""
        match fact_name:
            case "contact-indicator-lights" | "non-contact-indicator-lights":
                instrument = fact_name.removesuffix("-indicator-lights")
                return self._yes(self.readings(home, conditions, instrument, ("earth",)) > 0)
            case "main-earth-looks-whole":
                main_earth = self.worked(conditions).branches[f"{home}/main_earth"]
                return self._yes(abs(main_earth.admittance) > 1e-9)
            case "tingle":
                return self._yes(self.touch_volts(home, conditions) >= TINGLE_FROM_VOLTS)
            case "earthing" | "phases" | "shares-metalwork" | "pipe-passes-a-mains-joint":
                return self.records(fact_name, home)
        raise KeyError(f"{fact_name} is not known for drawn streets (known: {', '.join(FACTS)})")

    def _yes(self, mask: Any) -> Many:
        return np.broadcast_to(np.where(mask, "yes", "no"), (self.size,))

    def leaving(self, asks: Asks, home: str, conditions: frozenset[Any], here: int = 0) -> tuple[int, ...]:
        """For each exit of what is asked, the streets that leave by it, as `walks.Streets` has them: here and
        everywhere, since one costs as much as all."""
        key = (asks, home, conditions)
        if key not in self._bits:
            if asks.fact:
                words = self.words(asks.fact, home, conditions)
                chosen = [words == is_ if is_ else None for _, _, _, is_ in asks.exits]
            else:
                shown = self.readings(home, conditions, asks.instrument, asks.on)
                chosen = [_chosen(kind, low, high, shown) for kind, low, high, _ in asks.exits]
            self._bits[key] = tuple(0 if mask is None else bits_of(mask) for mask in chosen)
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
            volts = self.touch_volts(home, conditions)
            self._bits[key] = bits_of(volts > LIMITS["touch-volts"].value)
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


def _chosen(kind: str, low: float, high: float, shown: Many) -> Mask | None:
    """Where a display leads to an exit of this kind."""
    match kind:
        case "range":
            return (shown >= low) & (shown < high) & np.isfinite(shown)
        case "over_range":
            return np.isposinf(shown)
        case "not_taken":
            return np.isnan(shown)
    return None


def taken(network: Network, mask: Mask) -> Network:
    """The network of only the streets in the mask."""

    def some(value: Any) -> Any:
        return value[mask] if isinstance(value, np.ndarray) else value

    branches = {
        name: replace(branch, impedance=some(branch.impedance), emf=some(branch.emf))
        for name, branch in network.branches.items()
    }
    return Network(network.street, branches)


def _merged(mask: Mask, changed: Network, so_far: Network, base: Network) -> list[Branch]:
    return [
        chosen(mask, branch, so_far.branches[name])
        for name, branch in changed.branches.items()
        if branch is not base.branches[name]
    ]


def _after_fuses(network: Network, size: int) -> Network:
    """As calc.faults.after_fuses, for each street apart."""
    fuses = fuses_of(network.street)
    for _ in fuses:
        shares = np.array(
            [
                np.broadcast_to(abs(network.solution.current(name)) / rating, (size,))
                for name, rating in fuses.items()
            ]
        )
        worst = shares.argmax(axis=0)
        blown = shares.max(axis=0) > 2
        if not blown.any():
            break
        opened = []
        for place, name in enumerate(fuses):
            mask = blown & (worst == place)
            if mask.any():
                branch = network.branches[name]
                opened.append(chosen(mask, replace(branch, impedance=OPEN), branch))
        network = network.changed(*opened)
    return network


def flocks(sampling: Sampling, numbers: Iterable[int]) -> list[Flock]:
    """The healthy streets of these numbers, by layout."""
    by_layout: dict[str, list[Drawn]] = {}
    for number in numbers:
        drawn = draw(sampling, number)
        by_layout.setdefault(drawn.layout, []).append(drawn)
    return [
        Flock(tuple(drawn), stacked([network(each.street) for each in drawn]))
        for _, drawn in sorted(by_layout.items())
    ]


def faulty_flocks(sampling: Sampling, numbers: Iterable[int], kinds: Iterable[str]) -> Iterator[Flock]:
    """The streets of these numbers with each of these kinds of fault in turn."""
    healthy = flocks(sampling, numbers)
    for kind in kinds:
        for whole in healthy:
            yield from whole.with_fault(kind)
