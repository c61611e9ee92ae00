"""A low-voltage street as its records describe it, and the circuit that it makes.

Points are named `PLACE.terminal` (`12.MET`, `J1.N`), conductors `PLACE/conductor` (`12/main_earth`,
`J1-J2/PEN`). Every conductor runs from the supply towards the home, so that currents of several
conductors in one clamp add with their signs.

    junction   J.L1 J.L2 J.L3 J.N J.E     (N and E are one point wherever a PEN touches the junction)
    cut-out    12.cutout.L1 .. 12.cutout.N 12.cutout.E   (N and E are one point in a TN-C-S home)
    home       12.L1 .. 12.N  main switch, supply side   12.MET  main earthing terminal
    metalwork  12.water       the home's own length of a pipe that it shares
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from typing import Any, ClassVar, Literal

from calc.circuit import EARTH, OPEN, Branch, Solution, solve
from calc.conductor import CABLES, PIPES, copper_ohm_per_m, pipe_ohm_per_m, transformer_impedance
from calc.harmonics import third_harmonic
from calc.settling import LAWS, NOMINAL_VOLTS, OHMS, SOURCE_OHM, Settled, settle

__all__ = [
    "PHASES",
    "Conductor",
    "Electrode",
    "Metalwork",
    "Network",
    "Premises",
    "Service",
    "Span",
    "Street",
    "Supply",
    "capacitor_ohm",
    "load_ohm",
    "network",
]

Phase = Literal["L1", "L2", "L3"]
PHASES: dict[str, complex] = {
    "L1": cmath.rect(1, 0),
    "L2": cmath.rect(1, math.radians(-120)),
    "L3": cmath.rect(1, math.radians(120)),
}
"""Unit phasor of each phase, sequence L1 L2 L3."""

TERMINALS = (*PHASES, "N", "E", "MET", "cutout", "electrode", "case")
"""Names that points of a home have, so that no metalwork can have them."""

HERTZ = 50.0
INSULATION_OHM = 20e6
"""Insulation of one conductor of one home to true earth. Engineering judgement: a sound old installation."""

FLOOR_OHM = 1e6
"""A home's earthed metalwork to true earth through the dry building alone. Engineering judgement."""

FILTER_FARAD = 20e-9
"""Interference filters of a home's appliances, line to earth and neutral to earth, together. Engineering
judgement: about ten appliances of 2.2 nF each, near 1.5 mA at 230 V."""

_STRICT: dict[str, Any] = {"extra": "forbid", "use_attribute_docstrings": True}
"""Read by the build's shape checker: a misspelt key in a street file is refused, and the words under a field
describe it."""


def _above_zero(**values: float | None) -> None:
    for name, value in values.items():
        if value is not None and not (value > 0 and math.isfinite(value)):
            raise ValueError(f"{name} must be above 0, got {value:g}")


def _not_negative(**values: float) -> None:
    for name, value in values.items():
        if not (value >= 0 and math.isfinite(value)):
            raise ValueError(f"{name} must be 0 or more, got {value:g}")


@dataclass(frozen=True, slots=True)
class Supply:
    """The transformer that feeds a street."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    rating_kva: float
    """The transformer's rating, in kVA."""
    impedance_percent: float
    """Its impedance voltage, in per cent of the rated volts."""
    star_point_earth_ohm: float
    """The earth electrode at its star point, in ohms."""
    volts: float = 240.0
    """Volts from line to neutral with no load."""
    fuse_a: float = 400.0
    """The rating of the fuse in each line of the main, in amperes."""

    def __post_init__(self) -> None:
        _above_zero(
            rating_kva=self.rating_kva,
            impedance_percent=self.impedance_percent,
            star_point_earth_ohm=self.star_point_earth_ohm,
            volts=self.volts,
            fuse_a=self.fuse_a,
        )


@dataclass(frozen=True, slots=True)
class Span:
    """One length of main between two junctions, the one nearer the substation first."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    between: tuple[str, str]
    """The junctions at its ends, the one nearer the substation first; the first span starts at
    `substation`."""
    metres: float
    """Its length, in metres."""
    cable: str
    """Its cable: a name of the table of cables."""

    def __post_init__(self) -> None:
        _above_zero(metres=self.metres)
        _known("cable", self.cable, CABLES)
        if self.between[0] == self.between[1]:
            raise ValueError(f"a span joins two junctions, got {self.between[0]} twice")

    @property
    def name(self) -> str:
        """The span as crews call it: `J1-J2`."""
        return "-".join(self.between)


@dataclass(frozen=True, slots=True)
class Service:
    """The cable from the main to one cut-out."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    metres: float
    """Its length, in metres."""
    cable: str
    """Its cable: a name of the table of cables."""

    def __post_init__(self) -> None:
        _above_zero(metres=self.metres)
        _known("cable", self.cable, CABLES)


@dataclass(frozen=True, slots=True)
class Conductor:
    """A copper conductor."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    metres: float
    """Its length, in metres."""
    size_mm2: float
    """Its cross-section, in mm2: one of the standard sizes."""

    def __post_init__(self) -> None:
        _above_zero(metres=self.metres)
        copper_ohm_per_m(self.size_mm2)

    @property
    def ohm(self) -> float:
        """Resistance in ohms at 20 degrees C."""
        return self.metres * copper_ohm_per_m(self.size_mm2)


@dataclass(frozen=True, slots=True)
class Premises:
    """One home: where it is fed from, how it is earthed, and what is switched on."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    at: str
    """The junction that it is fed from; or, where its service is looped, an earlier home, from whose cut-out
    it is fed."""
    service: Service
    """The cable from there to its cut-out."""
    phases: tuple[Phase, ...]
    """The lines that it has: one, two or three of L1, L2 and L3."""
    load_kw: tuple[float, ...]
    """What is switched on, in kW at 230 V: a figure for each line, in the order of `phases`."""
    earthing: Literal["tn-c-s", "tn-s", "tt"] = "tn-c-s"
    """How it is earthed: `tn-c-s` from the PEN, `tn-s` from a sheath or earth core, `tt` by an electrode of
    its own."""
    power_factor: float = 1.0
    """The power factor of what is switched on, above 0 and at most 1."""
    main_earth: Conductor = Conductor(metres=3, size_mm2=16)
    """The main earthing conductor."""
    tails: Conductor = Conductor(metres=1.5, size_mm2=25)
    """The meter tails, each alike."""
    electrode_ohm: float | None = None
    """The home's own earth electrode, in ohms. A `tt` home needs one; others may have one."""
    fuse_a: float = 80.0
    """The rating of its cut-out fuse, in amperes."""
    generation_kw: tuple[float, ...] = ()
    """What its generation (solar, a battery, a vehicle) gives, in kW: a figure for each line, in the order of
    `phases`. Absent: it has none."""
    third_harmonic: float = 0.0
    """The third harmonic of what is switched on, as a share of its current at 50 Hz, at most 1."""

    def __post_init__(self) -> None:
        _above_zero(electrode_ohm=self.electrode_ohm, fuse_a=self.fuse_a)
        if not self.phases or len(set(self.phases)) != len(self.phases):
            raise ValueError(f"phases must name one, two or three different phases, got {list(self.phases)}")
        for phase in self.phases:
            _known("phases", phase, PHASES)
        _known("earthing", self.earthing, ("tn-c-s", "tn-s", "tt"))
        if len(self.load_kw) != len(self.phases):
            raise ValueError(
                f"load_kw needs one figure for each of {len(self.phases)} phases, got {len(self.load_kw)}"
            )
        for kilowatts in self.load_kw:
            _not_negative(load_kw=kilowatts)
        if len(self.generation_kw) not in (0, len(self.phases)):
            raise ValueError(
                f"generation_kw needs one figure for each of {len(self.phases)} phases, or none, got "
                f"{len(self.generation_kw)}"
            )
        for kilowatts in self.generation_kw:
            _not_negative(generation_kw=kilowatts)
        if not 0 <= self.third_harmonic <= 1:
            raise ValueError(f"third_harmonic must be from 0 to 1, got {self.third_harmonic:g}")
        if not 0 < self.power_factor <= 1:
            raise ValueError(f"power_factor must be above 0 and at most 1, got {self.power_factor:g}")
        if self.earthing == "tt" and self.electrode_ohm is None:
            raise ValueError("a TT home needs electrode_ohm: its own electrode is its only earth")
        if self.earthing == "tn-s" and CABLES[self.service.cable].earth_ohm_per_km is None:
            raise ValueError(
                f"a TN-S home needs a service with a sheath or earth core, and {self.service.cable} has none"
            )


@dataclass(frozen=True, slots=True)
class Metalwork:
    """A metal pipe (or other metalwork) that joins homes in the order given."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    name: str
    """What it is called in faults and figures, such as `water`."""
    pipe: str
    """What it is made of: a name of the table of pipes."""
    joins: tuple[str, ...]
    """The homes that it joins, in the order in which it passes them."""
    metres: float
    """How much of it lies between one home and the next, in metres."""
    gaps: tuple[tuple[str, str], ...] = ()
    """Pairs of neighbours between which the metal is interrupted, by plastic or a missing joint."""
    unrecorded: tuple[tuple[str, str], ...] = ()
    """Pairs of neighbours that metal joins and no record shows: a forgotten pipe, a steel frame, a fence."""
    joint_ohm: float = 0.0
    """What the joints between two neighbours add, in ohms."""
    earth_ohm_each: float | None = None
    """The resistance of each home's length to true earth, in ohms. Absent: it touches no soil."""
    bond: Conductor = Conductor(metres=4, size_mm2=10)
    """The main bonding conductor from it to the main earthing terminal of each home."""

    def __post_init__(self) -> None:
        _above_zero(metres=self.metres, earth_ohm_each=self.earth_ohm_each)
        _not_negative(joint_ohm=self.joint_ohm)
        _known("pipe", self.pipe, PIPES)
        _usable(self.name)
        if self.name in TERMINALS:
            raise ValueError(f"metalwork cannot be called {self.name}: a terminal of every home is")
        if len(set(self.joins)) != len(self.joins) or not self.joins:
            raise ValueError(f"joins must name different homes, got {list(self.joins)}")
        pairs = {frozenset(pair) for pair in self.pairs}
        for what, named in (("gaps", self.gaps), ("unrecorded", self.unrecorded)):
            for pair in named:
                if frozenset(pair) not in pairs:
                    raise ValueError(f"{what} must name neighbours in joins, got {' and '.join(pair)}")
        for pair in self.unrecorded:
            if not self.is_whole(pair):
                raise ValueError(f"unrecorded: between {' and '.join(pair)} is a gap, which joins nothing")

    @property
    def pairs(self) -> tuple[tuple[str, str], ...]:
        """The neighbouring homes, whether the metal between them is whole or not."""
        return tuple(zip(self.joins, self.joins[1:], strict=False))

    def is_whole(self, pair: tuple[str, str]) -> bool:
        """Whether the metal between two neighbours is continuous."""
        return pair not in self.gaps and pair[::-1] not in self.gaps

    def is_recorded(self, pair: tuple[str, str]) -> bool:
        """Whether the record shows that the metal between two neighbours is continuous."""
        return self.is_whole(pair) and pair not in self.unrecorded and pair[::-1] not in self.unrecorded


@dataclass(frozen=True, slots=True)
class Electrode:
    """An earth electrode on the main's neutral at a junction."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    at: str
    """The junction that it stands at."""
    ohm: float
    """Its resistance to true earth, in ohms."""

    def __post_init__(self) -> None:
        _above_zero(ohm=self.ohm)


@dataclass(frozen=True, slots=True)
class Street:
    """A whole street. Refused at birth unless every home is fed and every name is known."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    title: str
    """What it is called in lists and at the head of its page."""
    supply: Supply
    """The transformer that feeds it."""
    mains: tuple[Span, ...]
    """Its main, span by span, outward from `substation`. It has no rings."""
    premises: dict[str, Premises]
    """Name -> home. Faults and walks say a home by this name."""
    metalwork: tuple[Metalwork, ...] = ()
    """Pipes and other metal that homes share."""
    electrodes: tuple[Electrode, ...] = ()
    """Earth electrodes on the neutral of the main, besides the substation's."""
    about: str = ""
    """What it is like, and what it is there to show."""
    review_by: str = ""
    """The last day before it has to be reviewed again, as year-month-day."""
    sources: tuple[str, ...] = field(default=())
    """Where it is taken from: ids in sources.yaml."""
    load_law: Literal["ohms", "amperes", "watts"] = "ohms"
    """What its loads keep while their volts change."""

    def __post_init__(self) -> None:
        _known("load_law", self.load_law, LAWS)
        if not self.premises:
            raise ValueError("premises must name at least one home")
        fed = {"substation"}
        for span in self.mains:
            if span.between[0] not in fed:
                raise ValueError(
                    f"mains must be listed outward from `substation`: {span.name} starts at "
                    f"{span.between[0]}, which no earlier span reaches"
                )
            if span.between[1] in fed:
                raise ValueError(f"the main is radial: {span.name} reaches {span.between[1]} a second time")
            fed.add(span.between[1])
        for place in (*fed, *self.premises):
            _usable(place)
        for name in (*fed, *self.premises, *(metalwork.name for metalwork in self.metalwork)):
            if not name.strip():
                raise ValueError(f"a name must have letters or digits, got {name!r}")
        for home, premises in self.premises.items():
            if home in fed:
                raise ValueError(f"premises {home}: a junction has that name already")
            _known(
                f"premises {home}: at", premises.at, fed | {*itertools.takewhile(home.__ne__, self.premises)}
            )
            if premises.at in self.premises:
                self._looped(home, premises, self.premises[premises.at])
        for electrode in self.electrodes:
            _known("electrodes: at", electrode.at, fed)
            if electrode.at == "substation":
                raise ValueError("the substation's electrode is supply: star_point_earth_ohm")
        _once("electrodes: at", [electrode.at for electrode in self.electrodes])
        for metalwork in self.metalwork:
            for home in metalwork.joins:
                _known(f"metalwork {metalwork.name}: joins", home, self.premises)
        _once("metalwork", [f"{home}.{metal.name}" for metal in self.metalwork for home in metal.joins])

    def _looped(self, home: str, premises: Premises, feeding: Premises) -> None:
        if missing := sorted(set(premises.phases) - set(feeding.phases)):
            raise ValueError(
                f"premises {home}: the cut-out of {premises.at}, which feeds it, has no {', '.join(missing)}"
            )
        if premises.earthing == "tn-s" and feeding.earthing == "tt":
            raise ValueError(f"premises {home}: a TN-S home needs an earth from {premises.at}, which is TT")

    def to_data(self) -> dict[str, Any]:
        """The street as plain data, for JSON; calc.shaped makes it a street again."""
        return asdict(self)

    def sharing_metalwork(self, home: str, recorded: bool = False) -> tuple[str, ...]:
        """The other homes that whole metalwork joins to `home`, nearest first; those that records show."""
        found = [home]
        for here in found:
            for metalwork in self.metalwork:
                joined = metalwork.is_recorded if recorded else metalwork.is_whole
                for pair in metalwork.pairs:
                    if here in pair and joined(pair):
                        other = pair[1] if pair[0] == here else pair[0]
                        if other not in found:
                            found.append(other)
        return tuple(found[1:])

    def beyond(self, span: str) -> tuple[str, ...]:
        """The homes fed through the span called `span`."""
        reached: set[str] = set()
        for candidate in self.mains:
            if candidate.name == span or candidate.between[0] in reached:
                reached.add(candidate.between[1])
        return tuple(home for home in self.premises if self.junction_of(home) in reached)

    def junction_of(self, home: str) -> str:
        """The junction that feeds a home, through the cut-outs of others where its service is looped."""
        at = self.premises[home].at
        return self.junction_of(at) if at in self.premises else at

    def fed_through(self, home: str) -> tuple[str, ...]:
        """The homes fed from the cut-out of `home`, and from theirs in turn."""
        through = [home]
        for name, premises in self.premises.items():  # a home that feeds another stands before it
            if premises.at in through:
                through.append(name)
        return tuple(through[1:])


def _known(what: str, name: str, names: Iterable[str]) -> None:
    if name not in names:
        raise ValueError(f"{what}: {name!r} is not known (known: {', '.join(sorted(names))})")


def _usable(name: str) -> None:
    """Names of places and metalwork become parts of names of points, conductors and faults."""
    if not name or set(name) & set("./@=+"):
        raise ValueError(f"a name has at least one character and none of . / @ = + in it, got {name!r}")


def _once(what: str, names: list[str]) -> None:
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f"{what}: {name} stands there {names.count(name)} times; once is enough")


@dataclass(frozen=True)
class Network:
    """A street's circuit as it stands now: every branch by name, solved when first asked.

    In `branches` loads and generation are as rated. Whatever is done to them, the loads settle last:
    `solution` is of the circuit in which they have come to rest by the `law` of loads, a power as in
    calc.settling.LAWS. `thirds` holds the third harmonic of each home's loads, where there is any.
    """

    street: Street
    branches: Mapping[str, Branch]
    law: Any = OHMS
    thirds: Mapping[str, Any] = field(default_factory=dict)

    @cached_property
    def settled(self) -> Settled:
        """The circuit with its loads and generation at rest. Raises CircuitError as calc.settling.settle."""
        return settle(self.branches, self.law)

    @cached_property
    def solution(self) -> Solution:
        """The solved circuit. Raises calc.circuit.CircuitError when there is no answer."""
        return solve(self.settled.branches.values())

    @cached_property
    def third(self) -> Solution | None:
        """The circuit at three times its frequency, where some home's loads have a third harmonic."""
        return third_harmonic(self.solution, self.thirds) if self.thirds else None

    def changed(self, *branches: Branch) -> Network:
        """The same network with these branches in place of their namesakes, or added."""
        return replace(self, branches={**self.branches, **{branch.name: branch for branch in branches}})

    def opened(self, *names: str) -> Network:
        """The same network with the named conductors broken. Raises KeyError for an unknown name."""
        return self.changed(*(self.branches[name].opened() for name in names))

    def with_added_ohm(self, name: str, ohm: Any) -> Network:
        """The same network with `ohm` more (an array for a batch) in the named conductor. Raises KeyError."""
        branch = self.branches[name]
        return self.changed(replace(branch, impedance=branch.impedance + ohm))

    def conductors_of(self, home: str, part: str) -> tuple[str, ...]:
        """Names of the home's branches whose name begins with `part`, e.g. `service` or `tail`."""
        return tuple(name for name in self.branches if name.startswith(f"{home}/{part}"))


def network(street: Street) -> Network:
    """The circuit of a healthy street, every conductor whole and every load on."""
    branches = [
        *_supply(street.supply),
        *(branch for span in street.mains for branch in _span(span)),
        *(branch for home in street.premises for branch in _home(street, home)),
        *(branch for metalwork in street.metalwork for branch in _metalwork(metalwork)),
        *(Branch(f"{e.at}/electrode", f"{e.at}.N", EARTH, e.ohm) for e in street.electrodes),
    ]
    thirds = {home: each.third_harmonic for home, each in street.premises.items() if each.third_harmonic}
    return Network(street, {branch.name: branch for branch in branches}, LAWS[street.load_law], thirds)


def _supply(supply: Supply) -> Iterator[Branch]:
    impedance = transformer_impedance(
        supply.rating_kva, supply.impedance_percent, supply.volts * math.sqrt(3)
    )
    for phase, unit in PHASES.items():
        yield Branch(
            f"substation/{phase}", "substation.N", f"substation.{phase}", impedance, supply.volts * unit
        )
    yield Branch("substation/neutral_link", "substation.N", "substation.E")
    yield Branch("substation/electrode", "substation.N", EARTH, supply.star_point_earth_ohm)


def _span(span: Span) -> Iterator[Branch]:
    cable, kilometres = CABLES[span.cable], span.metres / 1000
    near, far = span.between
    for phase in PHASES:
        yield Branch(
            f"{span.name}/{phase}", f"{near}.{phase}", f"{far}.{phase}", cable.line_ohm_per_km * kilometres
        )
    neutral = cable.neutral_ohm_per_km * kilometres
    if cable.earth_ohm_per_km is None:
        yield Branch(f"{span.name}/PEN", f"{near}.N", f"{far}.N", neutral)
        yield Branch(f"{span.name}/near_link", f"{near}.N", f"{near}.E")
        yield Branch(f"{span.name}/far_link", f"{far}.N", f"{far}.E")
    else:
        yield Branch(f"{span.name}/N", f"{near}.N", f"{far}.N", neutral)
        yield Branch(f"{span.name}/E", f"{near}.E", f"{far}.E", cable.earth_ohm_per_km * kilometres)


def _home(street: Street, home: str) -> Iterator[Branch]:
    premises = street.premises[home]
    cable, kilometres = CABLES[premises.service.cable], premises.service.metres / 1000
    fed_from = f"{premises.at}.cutout" if premises.at in street.premises else premises.at
    cutout, tail = f"{home}.cutout", premises.tails.ohm
    for phase, kilowatts in zip(premises.phases, premises.load_kw, strict=True):
        yield Branch(
            f"{home}/service.{phase}",
            f"{fed_from}.{phase}",
            f"{cutout}.{phase}",
            cable.line_ohm_per_km * kilometres,
        )
        yield Branch(f"{home}/tail.{phase}", f"{cutout}.{phase}", f"{home}.{phase}", tail)
        yield Branch(
            f"{home}/load.{phase}", f"{home}.{phase}", f"{home}.N", load_ohm(kilowatts, premises.power_factor)
        )
        yield Branch(f"{home}/filter.{phase}", f"{home}.{phase}", f"{home}.MET", capacitor_ohm(FILTER_FARAD))
        yield Branch(f"{home}/insulation.{phase}", f"{home}.{phase}", EARTH, INSULATION_OHM)
    for phase, kilowatts in zip(premises.phases, premises.generation_kw, strict=False):
        yield generation(home, phase, kilowatts)
    neutral = cable.neutral_ohm_per_km * kilometres
    combined = premises.earthing == "tn-c-s"
    yield Branch(f"{home}/service.{'PEN' if combined else 'N'}", f"{fed_from}.N", f"{cutout}.N", neutral)
    yield Branch(f"{home}/tail.N", f"{cutout}.N", f"{home}.N", tail)
    yield Branch(f"{home}/filter.N", f"{home}.N", f"{home}.MET", capacitor_ohm(FILTER_FARAD))
    yield Branch(f"{home}/insulation.N", f"{home}.N", EARTH, INSULATION_OHM)
    yield from _earthing(home, premises, fed_from, kilometres)
    yield Branch(f"{home}/floor", f"{home}.MET", EARTH, FLOOR_OHM)


def _earthing(home: str, premises: Premises, fed_from: str, kilometres: float) -> Iterator[Branch]:
    cable, cutout = CABLES[premises.service.cable], f"{home}.cutout"
    earth_terminal = f"{home}.electrode" if premises.earthing == "tt" else f"{cutout}.E"
    if premises.earthing == "tn-c-s":
        yield Branch(f"{home}/earth_link", f"{cutout}.N", f"{cutout}.E")
    elif premises.earthing == "tn-s":
        assert cable.earth_ohm_per_km is not None
        sheath = cable.earth_ohm_per_km * kilometres
        yield Branch(f"{home}/service.E", f"{fed_from}.E", f"{cutout}.E", sheath)
    yield Branch(f"{home}/main_earth", earth_terminal, f"{home}.MET", premises.main_earth.ohm)
    if premises.electrode_ohm is not None:
        buried = earth_terminal if premises.earthing == "tt" else f"{home}.MET"
        yield Branch(f"{home}/electrode", buried, EARTH, premises.electrode_ohm)


def _metalwork(metalwork: Metalwork) -> Iterator[Branch]:
    name = metalwork.name
    between = pipe_ohm_per_m(metalwork.pipe) * metalwork.metres + metalwork.joint_ohm
    for home in metalwork.joins:
        yield Branch(f"{home}/bond.{name}", f"{home}.MET", f"{home}.{name}", metalwork.bond.ohm)
        if metalwork.earth_ohm_each is not None:
            yield Branch(f"{home}/soil.{name}", f"{home}.{name}", EARTH, metalwork.earth_ohm_each)
    for one, other in metalwork.pairs:
        impedance = between if metalwork.is_whole((one, other)) else OPEN
        yield Branch(f"{one}-{other}/{name}", f"{one}.{name}", f"{other}.{name}", impedance)


def load_ohm(kilowatts: float, power_factor: float = 1.0) -> complex:
    """Impedance in ohms of a load that takes `kilowatts` at 230 V; `OPEN` for no load at all."""
    if kilowatts == 0:
        return OPEN
    apparent = kilowatts * 1000 / power_factor
    return cmath.rect(NOMINAL_VOLTS**2 / apparent, math.acos(power_factor))


def generation(home: str, phase: str, kilowatts: float) -> Branch:
    """A home's generation on one line, as the current that it gives at 230 V; open where it gives none."""
    ends = (f"{home}/generation.{phase}", f"{home}.N", f"{home}.{phase}")
    if kilowatts == 0:
        return Branch(*ends, OPEN)
    return Branch(*ends, SOURCE_OHM, kilowatts * 1000 / NOMINAL_VOLTS * PHASES[phase] * SOURCE_OHM)


def capacitor_ohm(farad: float) -> complex:
    """Impedance in ohms of a capacitor at mains frequency."""
    return 1 / (2j * math.pi * HERTZ * farad)
