"""A street built a second time in OpenDSS, from its records, with neutral and earth as nodes of their own.

Written apart from calc.street and calc.settling on purpose: of calc it uses the tables of conductors alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import opendssdirect as dss

from calc.conductor import CABLES, copper_ohm_per_m, pipe_ohm_per_m, transformer_impedance
from calc.street import FILTER_FARAD, FLOOR_OHM, INSULATION_OHM, Premises, Street

NODES = {"L1": 1, "L2": 2, "L3": 3, "N": 4, "MET": 5}
"""Number of each terminal at a bus; a PEN joint and a TN-C-S cut-out have neutral and earth as one, `.4`."""

OHMS = "model=2 vminpu=0 vmaxpu=3"
"""A load that keeps its ohms, whatever the volts."""


def commands(street: Street, broken: str, load: str = OHMS) -> Iterator[str]:
    """The street in OpenDSS's language, its loads as `load` says. `broken` is a conductor left out of it."""
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
        yield from installation(name, home, broken, load)
    for pipe in street.metalwork:
        for name in pipe.joins:
            yield resistor(f"bond{name}", f"home{name}.5", f"pipe{name}.1", pipe.bond.ohm)
            if pipe.earth_ohm_each:
                yield resistor(f"soil{name}", f"pipe{name}.1", f"pipe{name}.0", pipe.earth_ohm_each)
        for one, other in pipe.pairs:
            ohm = pipe_ohm_per_m(pipe.pipe) * pipe.metres
            yield resistor(f"pipe{one}", f"pipe{one}.1", f"pipe{other}.1", ohm)


def installation(name: str, home: Premises, broken: str, load: str) -> Iterator[str]:
    """A single-phase TN-C-S home: service, tails, main earth, load, generation, filters and insulation."""
    cable, kilometres = CABLES[home.service.cable], home.service.metres / 1000
    node, house = NODES[home.phases[0]], f"home{name}"
    cores = {home.phases[0]: cable.line_ohm_per_km * kilometres, "PEN": cable.neutral_ohm_per_km * kilometres}
    whole = {core: ohm for core, ohm in cores.items() if broken != f"{name}/service.{core}"}
    nodes = [node if core in NODES else 4 for core in whole]
    yield line(f"service{name}", home.at, f"cutout{name}", nodes, list(whole.values()))
    yield line(f"tails{name}", f"cutout{name}", house, [node, 4], [home.tails.ohm] * 2)
    earth = home.main_earth.metres * copper_ohm_per_m(home.main_earth.size_mm2)
    yield resistor(f"earth{name}", f"cutout{name}.4", f"{house}.5", earth)
    yield (
        f"new load.{name} phases=1 bus1={house}.{node}.4 kv=0.23 {load}"
        f" kw={home.load_kw[0]!r} pf={home.power_factor!r}"
    )
    for kilowatts in home.generation_kw:
        yield (
            f"new generator.{name} phases=1 bus1={house}.{node}.4 kv=0.23 kw={kilowatts!r} pf=1 model=1"
            f" vminpu=0.7 vmaxpu=1.3"
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


def solved(street: Street, broken: str, load: str = OHMS) -> dict[str, complex]:
    """Volts to earth of every node, by OpenDSS."""
    for command in commands(street, broken, load):
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
