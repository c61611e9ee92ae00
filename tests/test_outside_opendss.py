"""Streets built a second time in OpenDSS, from their records, with neutral and earth as nodes of their own.

Source of what is expected: OpenDSS, an open simulator of distribution networks, which has its own lines,
loads and sources. What it answers is not stored. Tolerance: 1e-8 of the supply's volts at every point; the
worst seen is 4e-10, since OpenDSS approaches its answer step by step until a step is below 1e-10.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import opendssdirect as dss
import pytest
import streets

from calc.conductor import CABLES, copper_ohm_per_m, pipe_ohm_per_m, transformer_impedance
from calc.faults import parse
from calc.street import FILTER_FARAD, FLOOR_OHM, INSULATION_OHM, Premises, Street, network

WITHIN = 1e-8
NODES = {"L1": 1, "L2": 2, "L3": 3, "N": 4, "MET": 5}
"""Number of each terminal at a bus; a PEN joint and a TN-C-S cut-out have neutral and earth as one, `.4`."""

CASES: dict[str, tuple[Street, str, str]] = {  # street, fault, the conductor that OpenDSS is not told of
    "terrace, mains PEN open, no pipe": (streets.terrace(pipe=None), "mains-pen-open@J1-J2", "J1-J2/PEN"),
    "terrace, pipe past an open mains PEN": (streets.terrace(), "mains-pen-open@J1-J2", "J1-J2/PEN"),
    "pair, next door's PEN open": (streets.pair(), "service-pen-open@14", "14/service.PEN"),
    "pair on one phase, earthed pipe": (
        streets.pair(("L1", "L1"), pipe_earth_ohm=40),
        "service-pen-open@14",
        "14/service.PEN",
    ),
    "twelve homes, healthy": (streets.terrace(12), "healthy", ""),
}


def commands(street: Street, broken: str) -> Iterator[str]:
    """The street in OpenDSS's language. `broken` is the conductor left out of it."""
    supply = street.supply
    z = transformer_impedance(supply.rating_kva, supply.impedance_percent, supply.volts * math.sqrt(3))
    source = f"R1={z.real!r} X1={z.imag!r} R0={z.real!r} X0={z.imag!r}"
    kilovolts = supply.volts * math.sqrt(3) / 1000
    yield "clear"
    yield f"new circuit.street bus1=substation.1.2.3 bus2=substation.4.4.4 basekv={kilovolts!r} pu=1 {source}"
    yield "set defaultbasefrequency=50"
    yield "edit vsource.source basefreq=50 frequency=50 angle=0"
    yield resistor("star", "substation.4", "substation.0", supply.star_point_earth_ohm)
    for span in street.mains:
        cable, kilometres = CABLES[span.cable], span.metres / 1000
        cores = [cable.line_ohm_per_km * kilometres] * 3 + [cable.neutral_ohm_per_km * kilometres]
        yield line(
            span.name, *span.between, [1, 2, 3, 4], cores[:3] if broken == f"{span.name}/PEN" else cores
        )
    for electrode in street.electrodes:
        yield resistor(f"rod{electrode.at}", f"{electrode.at}.4", f"{electrode.at}.0", electrode.ohm)
    for name, home in street.premises.items():
        yield from installation(name, home, broken)
    for pipe in street.metalwork:
        for name in pipe.joins:
            yield resistor(f"bond{name}", f"home{name}.5", f"pipe{name}.1", pipe.bond.ohm)
            if pipe.earth_ohm_each:
                yield resistor(f"soil{name}", f"pipe{name}.1", f"pipe{name}.0", pipe.earth_ohm_each)
        for one, other in pipe.pairs:
            ohm = pipe_ohm_per_m(pipe.pipe) * pipe.metres
            yield resistor(f"pipe{one}", f"pipe{one}.1", f"pipe{other}.1", ohm)


def installation(name: str, home: Premises, broken: str) -> Iterator[str]:
    """A single-phase TN-C-S home: service, tails, main earth, load, filters and insulation."""
    cable, kilometres = CABLES[home.service.cable], home.service.metres / 1000
    node, house = NODES[home.phases[0]], f"home{name}"
    cores = [cable.line_ohm_per_km * kilometres, cable.neutral_ohm_per_km * kilometres]
    whole = cores[:1] if broken == f"{name}/service.PEN" else cores
    yield line(f"service{name}", home.at, f"cutout{name}", [node, 4], whole)
    yield line(f"tails{name}", f"cutout{name}", house, [node, 4], [home.tails.ohm] * 2)
    earth = home.main_earth.metres * copper_ohm_per_m(home.main_earth.size_mm2)
    yield resistor(f"earth{name}", f"cutout{name}.4", f"{house}.5", earth)
    yield (
        f"new load.{name} phases=1 bus1={house}.{node}.4 kv=0.23 model=2 vminpu=0 vmaxpu=3"
        f" kw={home.load_kw[0]!r} pf={home.power_factor!r}"
    )
    for core in (node, 4):
        yield (
            f"new capacitor.filter{name}_{core} phases=1 bus1={house}.{core} bus2={house}.5 kv=0.23"
            f" cuf={FILTER_FARAD * 1e6!r} basefreq=50"
        )
        yield resistor(f"insulation{name}_{core}", f"{house}.{core}", f"{house}.0", INSULATION_OHM)
    yield resistor(f"floor{name}", f"{house}.5", f"{house}.0", FLOOR_OHM)


def resistor(name: str, one: str, other: str, ohm: float) -> str:
    return f"new reactor.{name} phases=1 bus1={one} bus2={other} R={ohm!r} X=0 basefreq=50"


def line(name: str, one: str, other: str, nodes: list[int], cores: list[complex]) -> str:
    """A line of uncoupled cores between the given nodes of two buses, without capacitance."""
    kept = nodes[: len(cores)]
    at = "".join(f".{node}" for node in kept)

    def matrix(diagonal: list[float]) -> str:
        return " | ".join(
            " ".join(repr(value if row == column else 0.0) for column in range(len(kept)))
            for row, value in enumerate(diagonal)
        )

    return (
        f"new line.{name} phases={len(kept)} bus1={one}{at} bus2={other}{at} length=1 units=none basefreq=50"
        f" rmatrix=({matrix([complex(core).real for core in cores])})"
        f" xmatrix=({matrix([complex(core).imag for core in cores])})"
        f" cmatrix=({matrix([0.0] * len(kept))})"
    )


def solved(street: Street, broken: str) -> dict[str, complex]:
    """Volts to earth of every node, by OpenDSS."""
    for command in commands(street, broken):
        dss.Text.Command(command)
    for command in ("set tolerance=1e-10", "set maxiterations=1000", "solve mode=snap"):
        dss.Text.Command(command)
    assert dss.Solution.Converged()
    parts = iter(dss.Circuit.AllBusVolts())
    volts = [complex(re, im) for re, im in zip(parts, parts, strict=True)]
    return dict(zip(dss.Circuit.AllNodeNames(), volts, strict=True))


def node_of(point: str, street: Street) -> str:
    """The name in OpenDSS of a point of the street."""
    place, _, terminal = point.rpartition(".")
    if place.endswith(".cutout"):
        bus, terminal = f"cutout{place.removesuffix('.cutout')}", "N" if terminal == "E" else terminal
    elif place in street.premises:
        bus = f"home{place}" if terminal in NODES else f"pipe{place}"
    else:
        bus, terminal = place, "N" if terminal == "E" else terminal
    return f"{bus}.{NODES.get(terminal, 1)}".lower()


@pytest.mark.outside
@pytest.mark.parametrize("case", CASES)
def test_agrees_with_opendss(case: str) -> None:
    street, fault, broken = CASES[case]
    faulty = parse(fault).applied_to(network(street))
    outside, ours = solved(street, broken), faulty.solution
    points = {point for b in faulty.branches.values() for point in (b.start, b.end)} - {"earth"}
    nodes = {point: node_of(point, street) for point in points}
    assert set(nodes.values()) == set(outside)
    off = {point: abs(outside[node] - ours.potential(point)) for point, node in nodes.items()}
    worst = max(off, key=off.__getitem__)
    assert off[worst] < WITHIN * street.supply.volts, (worst, outside[nodes[worst]], ours.potential(worst))


@pytest.mark.outside
def test_would_notice_a_broken_pen() -> None:
    """With a good pipe beside it, a quarter of a volt is all that an open PEN moves anywhere."""
    street = streets.pair()
    sound, broken = solved(street, ""), solved(street, "14/service.PEN")
    assert max(abs(sound[node] - broken[node]) for node in sound) > 1e4 * WITHIN * street.supply.volts
