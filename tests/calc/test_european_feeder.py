"""The European low-voltage test feeder: 906 buses, 55 one-phase homes, the loads of one minute.

Sources, in references/european-feeder (see its README): the feeder, as a working group of the IEEE
published it and pandapower, a library of power flow, is distributed with it; the answer that pandapower is
distributed with; and OpenDSS, which is told the same feeder in its own lines, transformer and constant-power
loads. What OpenDSS answers is not stored.

Each line is given by its sequence impedances. As four wires it is Z1 in each phase and (Z0 - Z1)/3 in a
neutral that is earthed at the star point alone: exact for the volts of a phase against its neutral. That
loads take a constant power is worked out here, by fixed-point iteration.
"""

from __future__ import annotations

import cmath
import csv
import math
from collections.abc import Iterator
from pathlib import Path

import opendssdirect as dss
import pytest

from calc.circuit import EARTH, Branch, Solution, solve
from calc.street import PHASES

FOLDER = Path(__file__).parents[1] / "references" / "european-feeder"
VOLTS = 416 / math.sqrt(3)
"""Of a phase at the transformer's rating: what 1 per unit is."""

SOURCE = 1.05
"""Per unit, held at the transformer's 11 kV terminals."""

WINDING = complex(0.4, 4) / 100 * 416**2 / 800_000
"""The transformer's impedance: 0.4 and 4 % of 800 kVA, in ohms at its low-voltage side."""

PUBLISHED_ZERO = 0.1 * WINDING + 1 / (1 / (0.9 * WINDING) + 1 / complex(0, abs(WINDING)))
"""What it has in zero sequence where the answer was published: nine tenths of WINDING beside a magnetising
reactance as large as the whole."""

WITHIN_OPENDSS = 1e-8
"""Per unit, at every bus and phase; the worst seen is 3e-10."""

WITHIN_PUBLISHED = 1e-5
"""Per unit, at every home; the worst seen is 5e-6, or 1.2 mV: the published answer has a source of 10 GVA in
negative sequence, where ours has none."""


def rows(name: str) -> list[dict[str, str]]:
    with open(FOLDER / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


LINES, LOADS = rows("lines"), rows("loads")
CABLES = {
    cable["cable"]: tuple(
        complex(float(cable[f"r{n}_ohm_per_km"]), float(cable[f"x{n}_ohm_per_km"])) for n in (1, 0)
    )
    for cable in rows("cables")
}
"""Positive and zero sequence impedance, in ohms a kilometre."""


EMFS = {phase: SOURCE * VOLTS * turned * cmath.rect(1, -math.pi / 6) for phase, turned in PHASES.items()}
"""Of the transformer's windings; Dyn1 is 30 degrees behind."""


def load_name(load: dict[str, str]) -> str:
    return f"load {load['bus']}"


def across(solution: Solution, load: dict[str, str]) -> complex:
    """Volts of a load's phase against its neutral."""
    volts: complex = solution.volts(f"{load['bus']}.{load['phase']}", f"{load['bus']}.N")
    return volts


def power(load: dict[str, str]) -> complex:
    """Volt-amperes."""
    return 1000 * complex(float(load["kw"]), float(load["kvar"]))


def branches() -> Iterator[Branch]:
    """The feeder, each load as the impedance that takes its power at 1 per unit."""
    yield Branch("star", "1.N", EARTH)
    for phase, emf in EMFS.items():
        yield Branch(f"winding {phase}", "1.N", f"1.{phase}", WINDING, emf)
    for line in LINES:
        yield from conductors(line)
    for load in LOADS:
        impedance = VOLTS**2 / power(load).conjugate()
        yield Branch(load_name(load), f"{load['bus']}.{load['phase']}", f"{load['bus']}.N", impedance)


def conductors(line: dict[str, str]) -> Iterator[Branch]:
    """The four wires of a line. A cable whose Z0 is below its Z1 has no neutral of that kind: as it feeds one
    home alone, the phase of that home carries all of Z1 + (Z0 - Z1)/3 there."""
    z1, z0 = (float(line["metres"]) / 1000 * z for z in CABLES[line["cable"]])
    neutral = (z0 - z1) / 3
    if neutral.real < 0:
        z1, neutral = z1 + neutral, 0j
    for wire, impedance in (*((phase, z1) for phase in PHASES), ("N", neutral)):
        start, end = f"{line['from']}.{wire}", f"{line['to']}.{wire}"
        yield Branch(f"{start}-{end}", start, end, impedance)


def settled(zero_sequence: complex = WINDING) -> Solution:
    """Each load made to take its power: an emf in it stands for what its impedance takes too much or too
    little at the volts found, until none moves.

    So do the emfs of the windings for a transformer whose zero sequence impedance is another than WINDING:
    less of it cannot be had from branches, since the star point would want a negative one.
    """
    solution = solve(branches())
    for _ in range(50):
        shared = sum(solution.current(f"winding {phase}") for phase in PHASES) / 3
        emfs = {f"winding {phase}": emf + (WINDING - zero_sequence) * shared for phase, emf in EMFS.items()}
        for load in LOADS:
            branch, volts = solution.branches[load_name(load)], across(solution, load)
            emfs[branch.name] = (power(load) / volts).conjugate() * branch.impedance - volts
        moved = max(abs(emf - solution.branches[name].emf) for name, emf in emfs.items())
        if moved < 1e-9:
            return solution
        solution = solution.with_emfs(emfs)
    raise AssertionError(f"the loads do not settle: {moved} V")


def opendss() -> dict[str, complex]:
    """Volts to earth of every node, by OpenDSS."""
    for command in commands():
        dss.Text.Command(command)
    assert dss.Solution.Converged()
    parts = iter(dss.Circuit.AllBusVolts())
    volts = [complex(re, im) for re, im in zip(parts, parts, strict=True)]
    return dict(zip(dss.Circuit.AllNodeNames(), volts, strict=True))


def commands() -> Iterator[str]:
    """The feeder in OpenDSS's language: three-phase lines by their sequence impedances."""
    yield "clear"
    yield "set defaultbasefrequency=50"
    yield f"new circuit.feeder bus1=source basekv=11 pu={SOURCE} Z1=(0, 1e-9) Z0=(0, 1e-9)"
    yield (
        "new transformer.substation phases=3 windings=2 buses=(source, 1) conns=(delta, wye) kvs=(11, 0.416)"
        " kvas=(800, 800) xhl=4 %rs=(0.2, 0.2) ppm_antifloat=0"
    )
    for name, (z1, z0) in CABLES.items():
        sequences = f"r1={z1.real} x1={z1.imag} r0={z0.real} x0={z0.imag} c1=0 c0=0"
        yield f"new linecode.{name} nphases=3 basefreq=50 units=km {sequences}"
    for number, line in enumerate(LINES):
        between = f"bus1={line['from']} bus2={line['to']}"
        yield f"new line.{number} {between} linecode={line['cable']} length={line['metres']} units=m"
    for load in LOADS:
        at = f"{load['bus']}.{load['phase'][1]}"
        yield (
            f"new load.{load['bus']} phases=1 bus1={at} kv={VOLTS / 1000!r} model=1 vminpu=0.5 vmaxpu=2"
            f" kw={load['kw']} kvar={load['kvar']}"
        )
    yield from ("set tolerance=1e-10", "set maxiterations=1000", "solve mode=snap")


PAST_ONE_WIRE = {(bus, phase) for bus in ("889", "893", "898") for phase in ("L2", "L3")}
"""Phases without a load past the cable that has no neutral of our kind: volts that nobody has."""


@pytest.mark.outside
def test_every_bus_agrees_with_opendss() -> None:
    ours, outside = settled(), opendss()
    buses = ["1", *(line["to"] for line in LINES)]
    off = {
        (bus, phase): abs(ours.volts(f"{bus}.{phase}", f"{bus}.N") - outside[f"{bus}.{phase[1]}"])
        for bus in buses
        for phase in PHASES
        if (bus, phase) not in PAST_ONE_WIRE
    }
    worst = max(off, key=off.__getitem__)
    assert len(off) == 906 * 3 - len(PAST_ONE_WIRE)
    assert off[worst] < WITHIN_OPENDSS * VOLTS, (worst, off[worst])


def published(load: dict[str, str]) -> complex:
    """Volts of a load's phase."""
    return cmath.rect(float(load["volts_per_unit"]) * VOLTS, math.radians(float(load["degrees"])))


def worst_home(ours: Solution) -> tuple[float, str]:
    """How far the volts of a home are from the published ones, and which home it is."""
    return max((abs(across(ours, load) - published(load)), load["bus"]) for load in LOADS)


def test_every_home_has_the_published_volts() -> None:
    off, home = worst_home(settled(PUBLISHED_ZERO))
    assert off < WITHIN_PUBLISHED * VOLTS, home


def test_would_notice_a_neutral_that_costs_no_volts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Or a transformer with as much impedance in zero sequence as in the others."""
    assert worst_home(settled())[0] > 50 * WITHIN_PUBLISHED * VOLTS
    for name, (z1, _) in CABLES.items():
        monkeypatch.setitem(CABLES, name, (z1, z1))
    assert worst_home(settled(PUBLISHED_ZERO))[0] > 1000 * WITHIN_PUBLISHED * VOLTS
