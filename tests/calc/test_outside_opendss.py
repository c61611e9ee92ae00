"""Streets built a second time in OpenDSS, from their records.

Source of what is expected: OpenDSS, an open simulator of distribution networks, which has its own lines,
loads and sources. What it answers is not stored. Tolerance: 1e-8 of the supply's volts at every point; the
worst seen is 4e-10, since OpenDSS approaches its answer step by step until a step is below 1e-10.
"""

from __future__ import annotations

import pytest
import streets
from opendss import node_of, solved

from calc.faults import parse
from calc.street import Street, network

WITHIN = 1e-8

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
