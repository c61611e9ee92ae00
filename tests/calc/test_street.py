"""A street is refused at birth when it cannot be, survives JSON, and becomes the circuit of its records."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import streets

from calc.circuit import OPEN
from calc.conductor import CABLES
from calc.shaped import shaped
from calc.street import (
    NOMINAL_VOLTS,
    Conductor,
    Electrode,
    Metalwork,
    Service,
    Span,
    Street,
    Supply,
    load_ohm,
    network,
)

EVERY = {
    "pair": streets.pair(pipe_earth_ohm=40),
    "terrace": streets.terrace(12),
    "mixed": streets.mixed(),
    "overhead": streets.overhead(),
    **streets.SHIPPED,
}


@pytest.mark.parametrize("name", EVERY)
def test_survives_json(name: str) -> None:
    street = EVERY[name]
    assert shaped(Street, json.loads(json.dumps(street.to_data()))) == street


def with_supply(**change: Any) -> Callable[[], object]:
    return lambda: Supply(**{"rating_kva": 315, "impedance_percent": 4.5, "star_point_earth_ohm": 1} | change)


def street(**change: Any) -> Callable[[], object]:
    return lambda: replace(streets.pair(), **change)


def water(**change: Any) -> Callable[[], object]:
    return lambda: replace(streets.pair().metalwork[0], **change)


def premises(**change: Any) -> Callable[[], object]:
    return lambda: streets.home(**change)


FIRST = Span(("substation", "J1"), 90, "mains-185-al-cne")
REFUSED: dict[str, tuple[Callable[[], object], str]] = {
    "no rating": (with_supply(rating_kva=0), "rating_kva must be above 0, got 0"),
    "negative electrode": (
        with_supply(star_point_earth_ohm=-1),
        "star_point_earth_ohm must be above 0, got -1",
    ),
    "volts not a number": (with_supply(volts=math.nan), "volts must be above 0, got nan"),
    "endless span": (lambda: replace(FIRST, metres=math.inf), "metres must be above 0, got inf"),
    "unknown main": (lambda: replace(FIRST, cable="string"), "cable: 'string' is not known"),
    "span to itself": (lambda: replace(FIRST, between=("J1", "J1")), "joins two junctions, got J1 twice"),
    "unknown service": (lambda: Service(14, "string"), "cable: 'string' is not known"),
    "unknown size": (lambda: Conductor(3, 17), "17"),
    "no phase": (premises(phases=(), load_kw=()), "phases must name one, two or three different phases"),
    "a phase twice": (premises(phases=("L1", "L1"), load_kw=(1, 1)), "different phases, got ['L1', 'L1']"),
    "a fourth phase": (premises(phase="L4"), "phases: 'L4' is not known"),
    "loads missing": (premises(phases=("L1", "L2")), "one figure for each of 2 phases, got 1"),
    "negative load": (premises(kw=-1), "load_kw must be 0 or more, got -1"),
    "endless load": (premises(kw=math.inf), "load_kw must be 0 or more, got inf"),
    "power factor": (premises(power_factor=1.2), "power_factor must be above 0 and at most 1, got 1.2"),
    "unknown earthing": (premises(earthing="pme"), "earthing: 'pme' is not known (known: tn-c-s, tn-s, tt)"),
    "TT without an electrode": (premises(earthing="tt"), "a TT home needs electrode_ohm"),
    "TN-S without a sheath": (premises(earthing="tn-s"), "and service-25-cu-cne has none"),
    "unknown pipe": (water(pipe="bamboo"), "pipe: 'bamboo' is not known"),
    "pipe joins a home twice": (water(joins=("12", "12")), "joins must name different homes"),
    "gap between strangers": (water(gaps=(("12", "99"),)), "neighbours in joins, got 12 and 99"),
    "pipe called as a terminal": (water(name="N"), "metalwork cannot be called N"),
    "electrode of 0 ohm": (lambda: Electrode("J1", 0), "ohm must be above 0, got 0"),
    "no homes": (street(premises={}), "premises must name at least one home"),
    "main in the air": (
        street(mains=(replace(FIRST, between=("J7", "J1")),)),
        "J7, which no earlier span reaches",
    ),
    "main in a ring": (
        street(mains=(FIRST, FIRST)),
        "the main is radial: substation-J1 reaches J1 a second time",
    ),
    "home called as a joint": (
        street(premises={"J1": streets.home()}),
        "premises J1: a junction has that name",
    ),
    "home fed from nowhere": (
        street(premises={"12": streets.home("J9")}),
        "premises 12: at: 'J9' is not known",
    ),
    "home with a dot": (street(premises={"12.1": streets.home()}), "none of . / @ = + in it, got '12.1'"),
    "electrode nowhere": (street(electrodes=(Electrode("J9", 5),)), "electrodes: at: 'J9' is not known"),
    "two electrodes": (
        street(electrodes=(Electrode("J1", 5), Electrode("J1", 9))),
        "J1 stands there 2 times",
    ),
    "electrode at the source": (street(electrodes=(Electrode("substation", 5),)), "star_point_earth_ohm"),
    "pipe to nowhere": (street(premises={"12": streets.home()}), "metalwork water: joins: '14' is not known"),
    "one pipe twice": (street(metalwork=streets.pair().metalwork * 2), "12.water stands there 2 times"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refused_at_birth(case: str) -> None:
    make, message = REFUSED[case]
    with pytest.raises(ValueError, match=re.escape(message)):
        make()


def test_a_load_takes_its_kilowatts_at_230_volts() -> None:
    power = NOMINAL_VOLTS**2 / load_ohm(2.4, 0.8).conjugate()
    assert power.real == pytest.approx(2400)
    assert power.imag == pytest.approx(1800)  # lagging: 3 kVA at 0.8
    assert load_ohm(0) == OPEN


def test_every_conductor_runs_from_the_supply_to_the_home() -> None:
    """So that a sum over several conductors in one jaw keeps its signs."""
    branches = network(streets.mixed()).branches
    assert (branches["7/service.PEN"].start, branches["7/service.PEN"].end) == ("J2.N", "7.cutout.N")
    assert (branches["7/main_earth"].start, branches["7/main_earth"].end) == ("7.cutout.E", "7.MET")
    assert (branches["1/service.E"].start, branches["1/main_earth"].end) == ("J1.E", "1.MET")
    assert (branches["J2-J3/PEN"].start, branches["J2-J3/PEN"].end) == ("J2.N", "J3.N")


def test_impedances_are_those_of_the_records() -> None:
    branches = network(streets.mixed()).branches
    assert branches["J1-J2/L2"].impedance == CABLES["mains-95-cu-sne"].line_ohm_per_km * 0.06
    assert branches["J1-J2/E"].impedance == CABLES["mains-95-cu-sne"].earth_ohm_per_km * 0.06
    assert branches["11/electrode"].impedance == 25
    assert branches["3-5/water"].impedance == OPEN  # the gap
    assert abs(branches["substation/L1"].emf) == pytest.approx(240)


def test_neutral_and_earth_are_one_only_where_they_should_be() -> None:
    solution = network(streets.mixed()).solution
    for point in ("substation", "J2", "J3", "7.cutout", "9.cutout"):
        assert solution.volts(f"{point}.N", f"{point}.E") == 0
    for point in ("J1", "1.cutout", "3.cutout"):
        assert abs(solution.volts(f"{point}.N", f"{point}.E")) > 1e-3
    with pytest.raises(ValueError, match=r"no point is called '5\.cutout\.E'"):
        solution.potential("5.cutout.E")  # a TT home has no earth at its cut-out


def test_homes_that_share_metalwork() -> None:
    mixed = streets.mixed()
    assert mixed.sharing_metalwork("1") == ("3",)  # plastic between 3 and 5
    assert set(mixed.sharing_metalwork("5")) == {"7", "9", "11"}  # 11 by gas, the others by water
    assert mixed.sharing_metalwork("5")[0] == "7"
    assert streets.overhead().sharing_metalwork("Mill") == ()


def test_a_gap_counts_whichever_way_it_is_written() -> None:
    assert not Metalwork("water", "lead", ("1", "3"), 9, gaps=(("3", "1"),)).is_whole(("1", "3"))


def test_homes_beyond_a_span() -> None:
    terrace = streets.terrace(9)
    assert terrace.beyond("J1-J2") == ("8", "10", "12", "14", "16", "18")
    assert terrace.beyond("substation-J1") == tuple(terrace.premises)
    assert terrace.beyond("J8-J9") == ()


def test_a_network_changes_by_being_copied() -> None:
    healthy = network(streets.pair())
    volts = healthy.solution.volts("14.L2", "14.N")
    broken = healthy.opened("14/service.PEN", "12-14/water")
    assert abs(broken.solution.volts("14.L2", "14.N")) < 10
    assert healthy.solution.volts("14.L2", "14.N") == volts
    assert healthy.with_added_ohm("14/tail.N", 1).branches["14/tail.N"].impedance == pytest.approx(
        healthy.branches["14/tail.N"].impedance + 1
    )
    assert healthy.conductors_of("12", "service") == ("12/service.L1", "12/service.PEN")
    with pytest.raises(KeyError):
        healthy.opened("99/service.PEN")
