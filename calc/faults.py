"""The faults a street can have, each a named change to one of its conductors.

A fault is written `kind@place`, or `kind@place=ohm` for one with a resistance of its own:
`service-pen-open@12`, `mains-pen-open@J1-J2`, `service-pen-high@12=0.5`, `bond-lost@12.water`.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from calc.circuit import Branch
from calc.conductor import CABLES
from calc.street import PHASES, Network, Street

__all__ = ["HEALTHY", "KINDS", "Fault", "Kind", "after_fuses", "catalogue", "fuses_of", "parse"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of fault.

    `endangers`: left alone it can kill or burn, whether or not it shows today. `ohm`: the added
    resistance unless another is given (None: the conductor is open or moved). `places` gives where on
    a street it can be; `change` makes the faulty network.
    """

    id: str
    title: str
    endangers: bool
    ohm: float | None
    places: Callable[[Street], Iterator[str]]
    change: Callable[[Network, str, float], Network]


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
        kind = KINDS[self.kind]
        places = tuple(kind.places(network.street))
        if self.at not in places:
            near = difflib.get_close_matches(self.at, places, 3) or places[:8]
            raise ValueError(
                f"{self.kind} cannot be at {self.at!r} on this street; it can be at {', '.join(near)}"
            )
        if self.kind == HEALTHY.kind:
            return network
        return after_fuses(kind.change(network, self.at, self.ohm or kind.ohm or 0.0))

    def homes(self, street: Street) -> tuple[str, ...]:
        """The homes whose own conductors the fault is in: one home, or all beyond a span of main."""
        place = self.at.split(".")[0]
        if place in street.premises:
            return (place,)
        beyond = street.beyond(place)
        if self.kind == "mains-sheath-open":  # an electrode of one's own needs no sheath
            return tuple(home for home in beyond if street.premises[home].earthing != "tt")
        return beyond


def parse(text: str) -> Fault:
    """A fault from its written form. Raises ValueError that says how to mend it.

    >>> parse("service-pen-high@12=0.5")
    Fault(kind='service-pen-high', at='12', ohm=0.5)
    """
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
    """The network once every fuse that carries more than twice its rating has blown, the worst first.

    Twice the rating is common practice for a gG fuse that operates within minutes; no source.
    """
    fuses = fuses_of(network.street)
    for _ in fuses:
        load = {name: abs(network.solution.current(name)) / rating for name, rating in fuses.items()}
        worst = max(load, key=lambda name: load[name])
        if load[worst] <= 2:
            break
        network = network.opened(worst)
    return network


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


def _adds_to_phase(network: Network, at: str, ohm: float) -> Network:
    home, phase = at.rsplit(".", 1)
    return network.with_added_ohm(f"{home}/tail.{phase}", ohm)


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


def _raises_volts(network: Network, _: str, per_unit: float) -> Network:
    sources = (network.branches[f"substation/{phase}"] for phase in ("L1", "L2", "L3"))
    return network.changed(*(replace(source, emf=source.emf * (1 + per_unit)) for source in sources))


_ANY, _PEN, _SEPARATE = ("tn-c-s", "tn-s", "tt"), ("tn-c-s",), ("tn-s", "tt")

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
        Kind("mains-sheath-open", "Mains sheath open", True, None, _spans("N"), _opens("E")),
        Kind(
            "service-neutral-open",
            "Service neutral open",
            True,
            None,
            _homes(*_SEPARATE),
            _opens("service.N"),
        ),
        Kind("sheath-open", "Service sheath open", True, None, _homes("tn-s"), _opens("service.E")),
        Kind("line-open", "Service line open", False, None, _home_phases, _opens_phase("service.")),
        Kind("mains-line-open", "Mains line open", False, None, _span_phases, _opens_phase("")),
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
        Kind("loose-line-tail", "Loose line meter tail", True, 1.0, _home_phases, _adds_to_phase),
        Kind("high-volts", "Supply volts too high", False, 0.08, _everywhere, _raises_volts),
    )
}
"""The catalogue of kinds, by id."""

HEALTHY = Fault("healthy", "")
"""The street with nothing wrong."""
