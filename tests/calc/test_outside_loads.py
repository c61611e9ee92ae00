"""Loads of every law, generation and the third harmonic, each solved again by a program from outside.

Source of what is expected: OpenDSS, an open simulator of distribution networks, whose loads keep their ohms,
amperes or watts between two volts and leave them as calc.settling's do; and ngspice, an open circuit
simulator, at 150 Hz. What they answer is not stored. Tolerance: 1e-8 of the supply's volts at every point
with OpenDSS, as in test_outside_opendss, and 1e-9 with ngspice, as in test_outside_ngspice.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from pathlib import Path

import pytest
import spice
import streets
from opendss import node_of, solved

from calc.circuit import Branch
from calc.faults import parse
from calc.instruments import clamped
from calc.loads import settled, tripped
from calc.settling import LAWS, LOAD_WINDOW
from calc.street import Network, Street, network

WITHIN = 1e-8
MODELS = {"ohms": 2, "amperes": 5, "watts": 1}
LOW, HIGH = LOAD_WINDOW
HEAVY = (4.5, 0.3, 2.8)
"""Loads so unlike that an open neutral takes them out of their window."""


def loads(law: str) -> str:
    return f"model={MODELS[law]} vminpu={LOW!r} vmaxpu={HIGH!r} vlowpu=0.5"


def with_each(street: Street, **parts: object) -> Street:
    """The street with these parts in every home."""
    return replace(street, premises={name: replace(home, **parts) for name, home in street.premises.items()})


CASES: dict[str, tuple[Street, str, str]] = {  # street, fault, the conductor that OpenDSS is not told of
    "twelve homes, healthy": (streets.terrace(12), "healthy", ""),
    "lagging loads": (with_each(streets.terrace(), power_factor=0.9), "healthy", ""),
    "pair, next door's PEN open": (streets.pair(), "service-pen-open@14", "14/service.PEN"),
    "no pipe, next door's PEN open": (streets.terrace(pipe=None), "service-pen-open@6", "6/service.PEN"),
    "mains PEN open, pipe past it": (streets.terrace(), "mains-pen-open@J1-J2", "J1-J2/PEN"),
    "mains PEN open, nothing past it": (
        streets.terrace(pipe=None),
        "mains-pen-open@substation-J1",
        "substation-J1/PEN",
    ),
    "the same, heavy loads": (
        with_each(streets.terrace(kw=HEAVY, pipe=None), power_factor=0.95),
        "mains-pen-open@substation-J1",
        "substation-J1/PEN",
    ),
    "a line open": (streets.terrace(), "line-open@6.L3", "6/service.L3"),
}
GENERATING = {
    "solar on every roof": (with_each(streets.terrace(), generation_kw=(3.6,)), "healthy", ""),
    "the same beside an open PEN": (
        with_each(streets.pair(), generation_kw=(3.6,)),
        "service-pen-open@14",
        "14/service.PEN",
    ),
    "nothing switched on": (with_each(streets.terrace(12, kw=(0.2,)), generation_kw=(2.0,)), "healthy", ""),
}


def assert_agrees(faulty: Network, broken: str, law: str) -> float:
    outside, ours = solved(faulty.street, broken, loads(law)), faulty.solution
    points = {point for b in faulty.branches.values() for point in (b.start, b.end)} - {"earth"}
    nodes = {point: node_of(point, faulty.street) for point in points}
    off = {point: abs(outside[node] - ours.potential(point)) for point, node in nodes.items()}
    worst = max(off, key=off.__getitem__)
    assert off[worst] < WITHIN * faulty.street.supply.volts, (
        worst,
        outside[nodes[worst]],
        ours.potential(worst),
    )
    return off[worst] / faulty.street.supply.volts


@pytest.mark.outside
@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("case", CASES)
def test_loads_settle_as_in_opendss(case: str, law: str) -> None:
    street, fault, broken = CASES[case]
    assert_agrees(parse(fault).applied_to(settled(network(street), law)), broken, law)


@pytest.mark.outside
@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("case", GENERATING)
def test_generation_settles_as_in_opendss(case: str, law: str) -> None:
    street, fault, broken = GENERATING[case]
    faulty = parse(fault).applied_to(settled(network(street), law))
    assert not tripped(faulty)
    assert_agrees(faulty, broken, law)


@pytest.mark.outside
def test_would_notice_another_law() -> None:
    street = streets.terrace()
    outside = solved(street, "", loads("watts"))
    ours = settled(network(street), "amperes").solution
    assert abs(outside[node_of("4.L2", street)] - ours.potential("4.L2")) > 1000 * WITHIN * 240


HARMONIC: dict[str, tuple[Street, str]] = {
    "electronics on three lines": (with_each(streets.terrace(12), third_harmonic=0.7), "healthy"),
    "one home alone": (
        replace(
            streets.mixed(),
            premises={
                name: replace(home, third_harmonic=0.4 if name == "7" else 0.0)
                for name, home in streets.mixed().premises.items()
            },
        ),
        "healthy",
    ),
    "mains PEN open": (
        with_each(streets.terrace(pipe=None), third_harmonic=0.3, power_factor=0.9),
        "mains-pen-open@J1-J2",
    ),
    "service PEN open": (with_each(streets.pair(), third_harmonic=0.5), "service-pen-open@14"),
}


@pytest.mark.outside
@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("case", HARMONIC)
def test_the_third_harmonic_agrees_with_ngspice(case: str, law: str, tmp_path: Path) -> None:
    """ngspice is told of the coils and capacitors at 50 Hz and runs at 150 Hz; each load is a source of its
    own current behind a gigohm."""
    street, fault = HARMONIC[case]
    faulty = parse(fault).applied_to(settled(network(street), law))
    branches = [_at_150(branch, faulty) for branch in faulty.settled.branches.values()]
    outside = spice.simulate(branches, tmp_path, hertz=150)
    assert faulty.third is not None
    largest = max(map(abs, outside.amperes.values()))
    off = {name: abs(amps - faulty.third.current(name)) for name, amps in outside.amperes.items()}
    worst = max(off, key=off.__getitem__)
    assert off[worst] < 1e-9 * largest, (worst, outside.amperes[worst], faulty.third.current(worst))
    for home in street.premises:
        shown = math.hypot(
            abs(faulty.solution.current(f"{home}/tail.N")), abs(outside.amperes[f"{home}/tail.N"])
        )
        assert clamped(faulty, home, ("neutral_tail",)) == pytest.approx(shown, rel=1e-9)


def _at_150(branch: Branch, faulty: Network) -> Branch:
    home, _, part = branch.name.partition("/")
    share = faulty.street.premises[home].third_harmonic if home in faulty.street.premises else 0.0
    if not part.startswith("load.") or not share or cmath.isinf(branch.impedance):
        return Branch(branch.name, branch.start, branch.end, branch.impedance)
    size, angle = cmath.polar(faulty.solution.current(branch.name))
    return replace(branch, impedance=1e9 + 0j, emf=1e9 * cmath.rect(share * size, 3 * angle))
