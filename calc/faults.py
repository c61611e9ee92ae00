"""The faults a street can have, each a named change to one of its conductors.

A fault is written `kind@place`, or `kind@place=ohm` for one with a resistance of its own:
`service-pen-open@12`, `mains-pen-open@J1-J2`, `service-pen-high@12=0.5`, `bond-lost@12.water`,
`crossed-neutrals@12.14`. Several at once have `+` between them: `service-pen-open@12+bond-lost@12.water`.
"""

from __future__ import annotations

import difflib
import itertools
import math
import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, fields, replace
from functools import reduce
from typing import Any

from calc.circuit import EARTH, Branch
from calc.conductor import CABLES
from calc.many import some, where
from calc.street import INSULATION_OHM, PHASES, Network, Street, capacitor_ohm, load_ohm

__all__ = [
    "HEALTHY",
    "KINDS",
    "Fault",
    "Faults",
    "Kind",
    "after_fuses",
    "catalogue",
    "fuses_of",
    "parse",
    "parse_one",
    "titles_besides",
    "together",
]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of fault.

    `endangers`: left alone it can kill or burn, whether or not it shows today. `ohm`: the added
    resistance, or that of what is added, unless another is given (None: the conductor is open or moved).
    `places` gives where on a street it can be; `change` makes the faulty network. `beyond_meter`: it is in a
    home's own circuits, where no visit to the supply finds it: a job may be closed beside it even where it
    endangers.
    """

    id: str
    title: str
    endangers: bool
    ohm: float | None
    places: Callable[[Street], Iterator[str]]
    change: Callable[[Network, str, Any], Network]
    beyond_meter: bool = False

    @property
    def is_joint(self) -> bool:
        """Whether it is a joint that goes bad, whose resistance a drawing of streets spreads."""
        return self.id.endswith("-high") or self.id.startswith("loose-")

    @property
    def keeps_open(self) -> bool:
        """Whether no job may be closed beside it."""
        return self.endangers and not self.beyond_meter


@dataclass(frozen=True, slots=True)
class Fault:
    """A kind of fault at one place. `ohm` is its added resistance where the kind has one."""

    kind: str
    at: str
    ohm: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            near = difflib.get_close_matches(self.kind, KINDS, 3) or sorted(KINDS)
            raise ValueError(f"no fault is called {self.kind!r}; did you mean {', '.join(near)}?")
        if self.ohm is not None and not 0 < self.ohm < math.inf:
            raise ValueError(f"{self.kind}: ohm must be above 0 and finite, got {self.ohm!r}")
        if self.ohm is not None and KINDS[self.kind].ohm is None:
            raise ValueError(f"{self.kind} has no resistance of its own, got {self.ohm:g} ohm")

    def __str__(self) -> str:
        resistance = "" if self.ohm is None else f"={self.ohm!r}".removesuffix(".0")
        return f"{self.kind}@{self.at}{resistance}" if self.at or resistance else self.kind

    @property
    def title(self) -> str:
        """The fault in words."""
        return f"{KINDS[self.kind].title} at {self.at}" if self.at else KINDS[self.kind].title

    @property
    def endangers(self) -> bool:
        """Whether it can kill or burn, now or when the next thing changes."""
        return KINDS[self.kind].endangers

    def applied_to(self, network: Network) -> Network:
        """The network with this fault, after any fuse that it blows. Raises ValueError for a wrong place."""
        return after_fuses(self.changed(network)) if self.kind != HEALTHY.kind else self.changed(network)

    def changed(self, network: Network) -> Network:
        """The network with this fault, before any fuse blows. Raises ValueError for a wrong place."""
        kind = KINDS[self.kind]
        places = tuple(kind.places(network.street))
        if self.at not in places:
            near = difflib.get_close_matches(self.at, places, 3) or places[:8]
            raise ValueError(
                f"{self.kind} cannot be at {self.at!r} on this street; it can be at {', '.join(near)}"
            )
        return kind.change(network, self.at, self.ohm or kind.ohm or 0.0)

    def homes(self, street: Street) -> tuple[str, ...]:
        """The homes whose own conductors the fault is in: one home, with those that it feeds if the fault is
        in its service, two that it joins, or all beyond a span of main; for a line of the main, those on that
        line."""
        place, _, part = self.at.partition(".")
        if self.kind in _OF_TWO_HOMES:
            return place, part
        if place in street.premises:
            return (place, *street.fed_through(place)) if self.kind in IN_THE_SERVICE else (place,)
        beyond = ((home, street.premises[home]) for home in street.beyond(place))
        match self.kind:
            case "mains-sheath-open" | "mains-sheath-high":  # an electrode of one's own needs no sheath
                return tuple(home for home, premises in beyond if premises.earthing != "tt")
            case "mains-line-open" | "mains-line-high":
                return tuple(home for home, premises in beyond if part in premises.phases)
        return tuple(home for home, _ in beyond)

    def not_to_close(self, street: Street) -> tuple[str, ...]:
        """Of `homes`, those where no job may be closed beside it."""
        return self.homes(street) if KINDS[self.kind].keeps_open else ()


@dataclass(frozen=True, slots=True)
class Faults:
    """Several faults at once, with the face of one.

    Raises ValueError for fewer than two, for the healthy street among them, and for a fault that stands there
    twice. Two that would change one conductor in the same respect are refused when they are put on a street.
    """

    each: tuple[Fault, ...]

    def __post_init__(self) -> None:
        if len(self.each) < 2:
            raise ValueError("several faults are two or more")
        if HEALTHY in self.each:
            raise ValueError("a healthy street has no fault besides")
        bare = [replace(fault, ohm=None) for fault in self.each]
        if twice := next((fault for fault in bare if bare.count(fault) > 1), None):
            raise ValueError(f"{twice} stands there {bare.count(twice)} times; once is enough")

    def __str__(self) -> str:
        return "+".join(map(str, self.each))

    @property
    def title(self) -> str:
        """The faults in words."""
        return " and ".join(fault.title for fault in self.each)

    @property
    def endangers(self) -> bool:
        """Whether any of them can kill or burn."""
        return any(fault.endangers for fault in self.each)

    def applied_to(self, network: Network) -> Network:
        """The network with all of them, and after that any fuse that they blow.

        Raises ValueError for a wrong place, and for two that cannot be together.
        """
        return after_fuses(self.changed(network))

    def changed(self, network: Network) -> Network:
        """The network with all of them, before any fuse blows. Raises ValueError as `applied_to`."""
        by_part: dict[tuple[str, str], Fault] = {}
        for fault in self.each:
            for part in _parts_changed(network, fault.changed(network)):
                other = by_part.setdefault(part, fault)
                if other != fault:
                    raise ValueError(f"{other} and {fault} cannot be together: both are in {part[0]}")
        return reduce(lambda so_far, fault: fault.changed(so_far), self.each, network)

    def homes(self, street: Street) -> tuple[str, ...]:
        """The homes whose own conductors any of them is in, in the order of the street."""
        found = {home for fault in self.each for home in fault.homes(street)}
        return tuple(home for home in street.premises if home in found)

    def not_to_close(self, street: Street) -> tuple[str, ...]:
        """The homes where no job may be closed beside one of them, in the order of the street."""
        found = {home for fault in self.each for home in fault.not_to_close(street)}
        return tuple(home for home in street.premises if home in found)


def _parts_changed(before: Network, after: Network) -> Iterator[tuple[str, str]]:
    """Each branch that is not as it was or was not there, and which field of it."""
    for name, branch in after.branches.items():
        old = before.branches.get(name)
        if branch is not old:
            for part in (field.name for field in fields(branch) if field.init):
                if old is None or getattr(branch, part) is not getattr(old, part):
                    yield name, part


def together(*faults: Fault) -> Fault | Faults:
    """All of them at once: the healthy street for none, one fault for one. Raises ValueError as Faults."""
    wrong = tuple(fault for fault in faults if fault != HEALTHY)
    return Faults(wrong) if len(wrong) > 1 else wrong[0] if wrong else HEALTHY


def parse(text: str) -> Fault | Faults:
    """A fault, or several with `+` between them, from the written form. Raises ValueError that says how to
    mend it.

    >>> parse("service-pen-high@12=0.5")
    Fault(kind='service-pen-high', at='12', ohm=0.5)
    >>> parse("high-volts+bond-lost@12.water").title
    'Supply volts too high and Main bond open at 12.water'
    """
    written = _BETWEEN.split(text)
    if len(written) == 1:
        return parse_one(text)
    try:
        return Faults(tuple(map(parse_one, written)))
    except ValueError as problem:
        raise ValueError(str(problem) if str(problem).startswith(text) else f"{text}: {problem}") from None


_BETWEEN = re.compile(r"\+(?=[^\W\d])")
"""The sign between two faults: a kind begins with a letter, the exponent of a number does not."""


def parse_one(text: str) -> Fault:
    """One fault from its written form. Raises ValueError that says how to mend it."""
    kind, _, rest = text.partition("@")
    at, given, ohm = rest.partition("=")
    try:
        added = float(ohm) if given else None
    except ValueError:
        raise ValueError(f"{text}: write a number of ohms after `=`, as in service-pen-high@12=0.5") from None
    try:
        return Fault(kind, at, added)
    except ValueError as problem:
        raise ValueError(f"{text}: {problem}") from None


def catalogue(street: Street) -> tuple[Fault, ...]:
    """Every fault that this street can have, healthy first."""
    return tuple(Fault(kind.id, place) for kind in KINDS.values() for place in kind.places(street))


def after_fuses(network: Network) -> Network:
    """The network once every fuse that carries more than twice its rating has blown, the worst first; in a
    batch, each network's own.

    Twice the rating is common practice for a gG fuse that operates within minutes; no source.
    """
    fuses = fuses_of(network.street)
    for _ in fuses:
        blown = list(_blown(network, fuses))
        if not blown:
            break
        network = network.changed(*blown)
    return network


def _blown(network: Network, fuses: dict[str, float]) -> Iterator[Branch]:
    """The conductor whose fuse carries most of its rating, opened, where that is more than twice."""
    loads = {name: abs(network.solution.current(name)) / rating for name, rating in fuses.items()}
    worst = reduce(lambda one, other: where(one > other, one, other), loads.values())
    left: Any = worst > 2
    for name, load in loads.items():
        blows = left & (load == worst)
        if some(blows):
            yield network.branches[name].opened(blows)
        left = left & (load != worst)


def fuses_of(street: Street) -> dict[str, float]:
    """The conductor behind each fuse of a street, and the fuse's rating in amperes."""
    homes = {
        f"{home}/tail.{phase}": premises.fuse_a
        for home, premises in street.premises.items()
        for phase in premises.phases
    }
    return homes | {f"substation/{phase}": street.supply.fuse_a for phase in PHASES}


def _everywhere(street: Street) -> Iterator[str]:
    yield ""


def _homes(*earthings: str) -> Callable[[Street], Iterator[str]]:
    def places(street: Street) -> Iterator[str]:
        return (home for home, premises in street.premises.items() if premises.earthing in earthings)

    return places


def _bonds(street: Street) -> Iterator[str]:
    return (f"{home}.{metalwork.name}" for metalwork in street.metalwork for home in metalwork.joins)


def _spans(conductor: str) -> Callable[[Street], Iterator[str]]:
    combined = conductor == "PEN"

    def places(street: Street) -> Iterator[str]:
        return (
            span.name for span in street.mains if (CABLES[span.cable].earth_ohm_per_km is None) == combined
        )

    return places


def _side_by_side(street: Street) -> Iterator[str]:
    """Each home and the next in the order of the street, both ways round."""
    return (f"{a}.{b}" for pair in itertools.pairwise(street.premises) for a, b in (pair, pair[::-1]))


def _meters_together(street: Street) -> Iterator[str]:
    """Two homes whose meters may hang in one cupboard: neighbours, or fed from one junction."""
    pairs = list(itertools.combinations(street.premises, 2))
    next_to = set(itertools.pairwise(street.premises))
    return (
        f"{a}.{b}" for a, b in pairs if (a, b) in next_to or street.premises[a].at == street.premises[b].at
    )


def _span_phases(street: Street) -> Iterator[str]:
    return (f"{span.name}.{phase}" for span in street.mains for phase in ("L1", "L2", "L3"))


def _home_phases(street: Street) -> Iterator[str]:
    return (f"{home}.{phase}" for home, premises in street.premises.items() for phase in premises.phases)


def _opens(conductor: str) -> Callable[[Network, str, float], Network]:
    return lambda network, at, _: network.opened(f"{at}/{conductor}")


def _adds(conductor: str) -> Callable[[Network, str, float], Network]:
    return lambda network, at, ohm: network.with_added_ohm(f"{at}/{conductor}", ohm)


def _opens_phase(part: str) -> Callable[[Network, str, float], Network]:
    def change(network: Network, at: str, _: float) -> Network:
        place, phase = at.rsplit(".", 1)
        return network.opened(f"{place}/{part}{phase}")

    return change


def _adds_to_phase(part: str) -> Callable[[Network, str, float], Network]:
    def change(network: Network, at: str, ohm: float) -> Network:
        place, phase = at.rsplit(".", 1)
        return network.with_added_ohm(f"{place}/{part}{phase}", ohm)

    return change


def _opens_bond(network: Network, at: str, _: float) -> Network:
    home, metalwork = at.rsplit(".", 1)
    return network.opened(f"{home}/bond.{metalwork}")


def _reverses(*, earth_live: bool) -> Callable[[Network, str, float], Network]:
    """Line and neutral change places at the cut-out; the earth stays with the PEN, or goes with the line."""

    def change(network: Network, at: str, _: float) -> Network:
        phase = network.street.premises[at].phases[0]
        line, neutral = network.branches[f"{at}/tail.{phase}"], network.branches[f"{at}/tail.N"]
        moved: list[Branch] = [replace(line, start=neutral.start), replace(neutral, start=line.start)]
        if earth_live:
            moved.append(replace(network.branches[f"{at}/main_earth"], start=line.start))
        return network.changed(*moved)

    return change


def _borrows_neutral(network: Network, at: str, ohm: float) -> Network:
    """A circuit from the line of the first home that comes back to the neutral of the second."""
    home, other = at.split(".")
    return network.changed(
        Branch(f"{home}/circuit.borrowed.{other}", _line(network, home), f"{other}.N", ohm)
    )


def _crosses_neutrals(network: Network, at: str, _: float) -> Network:
    one, other = (network.branches[f"{home}/tail.N"] for home in at.split("."))
    return network.changed(replace(one, start=other.start), replace(other, start=one.start))


def _joins_neutral_and_earth(network: Network, home: str, ohm: float) -> Network:
    return network.changed(Branch(f"{home}/circuit.joined", f"{home}.N", f"{home}.MET", ohm))


def _leaks(network: Network, home: str, ohm: float) -> Network:
    return network.changed(Branch(f"{home}/circuit.leak", _line(network, home), f"{home}.MET", ohm))


def _lets_go_of_a_case(network: Network, home: str, ohm: float) -> Network:
    """An appliance whose case is held by its own filter, by `ohm` from the line and by what it stands on."""
    line, case, filter_ohm = _line(network, home), f"{home}.case", capacitor_ohm(ONE_FILTER_FARAD)
    return network.changed(
        Branch(f"{home}/circuit.case_filter_line", line, case, filter_ohm),
        Branch(f"{home}/circuit.case_filter_neutral", f"{home}.N", case, filter_ohm),
        Branch(f"{home}/circuit.case_leak", line, case, ohm),
        Branch(f"{home}/case_feet", case, EARTH, INSULATION_OHM),
    )


def _line(network: Network, home: str) -> str:
    return f"{home}.{network.street.premises[home].phases[0]}"


def _raises_volts(network: Network, _: str, per_unit: float) -> Network:
    sources = (network.branches[f"substation/{phase}"] for phase in ("L1", "L2", "L3"))
    return network.changed(*(replace(source, emf=source.emf * (1 + per_unit)) for source in sources))


_ANY, _PEN, _SEPARATE = ("tn-c-s", "tn-s", "tt"), ("tn-c-s",), ("tn-s", "tt")

BORROWED_KW = 0.5
"""What is on in a circuit that borrows a neutral. Engineering judgement: the lights of stairs and a floor."""

JOINED_OHM = 0.05
"""Neutral and earth touching in an accessory, with the few metres of core back to the board. Engineering
judgement: 3 m there and back of 2.5 mm2."""

LEAK_OHM = 1000.0
"""A leak that warms one spot by nearly 60 W and blows no fuse. Engineering judgement: damp in an element."""

ONE_FILTER_FARAD = 2.2e-9
"""The filter of one appliance, from the line and from the neutral to its case. Engineering judgement: the
tenth part of calc.street.FILTER_FARAD, as there."""

_OF_TWO_HOMES = frozenset({"borrowed-neutral", "crossed-neutrals"})

KINDS: dict[str, Kind] = {
    kind.id: kind
    for kind in (
        Kind("healthy", "Healthy street", False, None, _everywhere, lambda network, _, __: network),
        Kind("service-pen-open", "Service PEN open", True, None, _homes(*_PEN), _opens("service.PEN")),
        Kind(
            "service-pen-high", "Service PEN joint going bad", True, 1.0, _homes(*_PEN), _adds("service.PEN")
        ),
        Kind("mains-pen-open", "Mains PEN open", True, None, _spans("PEN"), _opens("PEN")),
        Kind("mains-pen-high", "Mains PEN joint going bad", True, 1.0, _spans("PEN"), _adds("PEN")),
        Kind("mains-neutral-open", "Mains neutral open", True, None, _spans("N"), _opens("N")),
        Kind("mains-neutral-high", "Mains neutral joint going bad", True, 1.0, _spans("N"), _adds("N")),
        Kind("mains-sheath-open", "Mains sheath open", True, None, _spans("N"), _opens("E")),
        Kind("mains-sheath-high", "Mains sheath joint going bad", True, 1.0, _spans("N"), _adds("E")),
        Kind(
            "service-neutral-open",
            "Service neutral open",
            True,
            None,
            _homes(*_SEPARATE),
            _opens("service.N"),
        ),
        Kind(
            "service-neutral-high",
            "Service neutral joint going bad",
            True,
            1.0,
            _homes(*_SEPARATE),
            _adds("service.N"),
        ),
        Kind("sheath-open", "Service sheath open", True, None, _homes("tn-s"), _opens("service.E")),
        Kind("sheath-high", "Service sheath joint going bad", True, 1.0, _homes("tn-s"), _adds("service.E")),
        Kind("line-open", "Service line open", False, None, _home_phases, _opens_phase("service.")),
        # a line joint puts nothing on metalwork, but what it loses is heat: at the cut-out it burns the home
        Kind(
            "service-line-high",
            "Service line joint going bad",
            True,
            1.0,
            _home_phases,
            _adds_to_phase("service."),
        ),
        Kind("mains-line-open", "Mains line open", False, None, _span_phases, _opens_phase("")),
        # in the ground it burns the joint out and damages what lies beside it, the PEN above all
        Kind("mains-line-high", "Mains line joint going bad", True, 1.0, _span_phases, _adds_to_phase("")),
        Kind(
            "reversed-polarity",
            "Reversed polarity at the cut-out, earth on the PEN",
            True,
            None,
            _homes(*_PEN),
            _reverses(earth_live=False),
        ),
        Kind(
            "reversed-polarity-earth-live",
            "Reversed polarity at the cut-out, earth on the line",
            True,
            None,
            _homes(*_PEN),
            _reverses(earth_live=True),
        ),
        Kind(
            "main-earth-lost", "Main earthing conductor open", True, None, _homes(*_ANY), _opens("main_earth")
        ),
        Kind("bond-lost", "Main bond open", False, None, _bonds, _opens_bond),
        Kind("loose-neutral-tail", "Loose neutral meter tail", True, 1.0, _homes(*_ANY), _adds("tail.N")),
        Kind("loose-line-tail", "Loose line meter tail", True, 1.0, _home_phases, _adds_to_phase("tail.")),
        # judged a danger: whoever switches the second home off works on a neutral that the first keeps live
        Kind(
            "borrowed-neutral",
            "Neutral borrowed from the next home",
            True,
            abs(load_ohm(BORROWED_KW)),
            _side_by_side,
            _borrows_neutral,
            beyond_meter=True,
        ),
        # judged no danger by itself: both homes have a whole neutral; but it blinds tests to an open PEN, and
        # whoever takes the supply of one home away leaves the other its line and no neutral
        Kind(
            "crossed-neutrals",
            "Neutral tails of two homes crossed",
            False,
            None,
            _meters_together,
            _crosses_neutrals,
        ),
        # judged no danger by itself: a PEN joins the two a few metres on anyhow, and where they are apart
        # the metalwork rises by the drop in a sheath or an electrode; it kills where a neutral breaks too,
        # as a lost bond does, and that neutral is then the fault
        Kind(
            "neutral-earth-joined",
            "Neutral and earth joined beyond the cut-out",
            False,
            JOINED_OHM,
            _homes(*_ANY),
            _joins_neutral_and_earth,
            beyond_meter=True,
        ),
        # judged a danger: heat enough at one spot for a fire, and a live case once its earth goes
        Kind(
            "earth-leak",
            "Leak from the line to earthed metalwork",
            True,
            LEAK_OHM,
            _homes(*_ANY),
            _leaks,
            beyond_meter=True,
        ),
        # judged a danger, though a filter alone gives a tingle: the next fault in the appliance makes it live
        Kind(
            "protective-conductor-lost",
            "Protective conductor of an appliance lost",
            True,
            INSULATION_OHM,
            _homes(*_ANY),
            _lets_go_of_a_case,
            beyond_meter=True,
        ),
        Kind("high-volts", "Supply volts too high", False, 0.08, _everywhere, _raises_volts),
    )
}
"""The catalogue of kinds, by id."""

IN_THE_SERVICE = frozenset(
    kind for kind in KINDS if kind.startswith(("service-", "sheath-")) or kind == "line-open"
)
"""Faults in a service: it may feed the next home too."""


def titles_besides(known: Collection[str]) -> str:
    """The titles of all kinds but these, as a list in words."""
    return "; ".join(kind.title for kind in KINDS.values() if kind.id not in known)


HEALTHY = Fault("healthy", "")
"""The street with nothing wrong."""
