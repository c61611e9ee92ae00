"""What a state costs a minute: reckoned by hand for two homes, held against Ohm's law, and alike for
arrays."""

from __future__ import annotations

import math

import numpy as np
import pytest
import streets

from build_tools.proof.street_batch import stacked
from calc.circuit import EARTH
from calc.danger import standing_harms
from calc.exposure import (
    EXPOSURES,
    FIRE_FROM_WATTS,
    WET_BODY_OHM,
    People,
    exposure,
    hottest_joint_watts,
    in_touch_danger,
    street_exposure,
    touchable,
)
from calc.faults import parse
from calc.instruments import across
from calc.street import Network, network
from calc.work import as_worked, done

PEOPLE = People(at_home=2, touch_dry=0.1, touch_wet=0.05)
NOBODY = dict.fromkeys(EXPOSURES, 0.0)


def faulty(fault: str, street: object = None) -> tuple[Network, Network]:
    sound = network(street or streets.pair())  # type: ignore[arg-type]
    return parse(fault).applied_to(sound), sound


def alone() -> object:
    return streets.terrace(homes=2, pipe=None)


def test_a_healthy_street_costs_nothing() -> None:
    for street in (streets.pair(), streets.terrace(12), streets.mixed(), *streets.SHIPPED.values()):
        healthy = network(street)
        assert set(map(str, exposure(healthy, PEOPLE, healthy).values())) == {str(NOBODY)}


def test_two_homes_reckoned_by_hand() -> None:
    """Home 2 alone loses its PEN: its metalwork stands near mains volts and nothing works. Two persons, who
    touch metal for a tenth (dry) and a twentieth (wet) of the time. 7 minutes so, then 5 with its main switch
    open, when nothing lifts the metalwork any more: (0.2 + 0.1) x 7 = 2.1 person-minutes in touch danger, and
    2 x 12 = 24 without supply. Home 4 has nothing of it."""
    live, sound = faulty("service-pen-open@2", alone())
    off = as_worked(live, done(frozenset(), "open-main-switch", "2"))
    spent = {
        kind: 7 * street_exposure(live, PEOPLE, sound)[kind] + 5 * street_exposure(off, PEOPLE, sound)[kind]
        for kind in EXPOSURES
    }
    assert spent == pytest.approx(
        {"touch-dry": 1.4, "touch-wet": 0.7, "volts-high": 0, "supply-lost": 24, "heat": 0}
    )
    assert in_touch_danger(spent) == pytest.approx(2.1)
    assert exposure(live, PEOPLE, sound)["4"] == NOBODY


def test_wet_hands_are_in_danger_where_dry_ones_are_not() -> None:
    """A pipe with some earth holds metalwork between 25 V and 50 V, as a voltage divider: the load's
    230^2/1400 = 38 ohm against both homes' pipe and the neighbour's whole earth."""
    between = []
    for joint_ohm in (1, 2, 4, 6, 8, 10, 12):
        live, sound = faulty(f"service-pen-high@2={joint_ohm}", alone())
        volts = across(live, "2.MET", EARTH, math.inf)
        exposed = exposure(live, PEOPLE, sound)["2"]
        assert (exposed["touch-wet"] > 0) == (across(live, "2.MET", EARTH, WET_BODY_OHM) > 25)
        assert (exposed["touch-dry"] > 0) == (across(live, "2.MET", EARTH, 1000) > 50)
        between.append((exposed["touch-wet"] > 0, exposed["touch-dry"] > 0, volts > 25))
    assert (True, False, True) in between and (False, False, False) in between
    assert not any(dry and not wet for wet, dry, _ in between)


def test_the_body_is_the_cautious_column_of_the_table_for_wet_skin() -> None:
    """IEC 60479-1, water-wet, 25 V, 5 %: 1175 ohm hand to hand (from memory), half of it from both hands to
    the feet."""
    assert pytest.approx(1175 / 2) == WET_BODY_OHM


def test_heat_of_a_joint_by_ohms_law() -> None:
    """1 ohm in series with 230^2 V^2/1400 W = 37.8 ohm and some milliohms of cable on about 240 V: a little
    under (240 / 38.8)^2 x 1 = 38 W."""
    hot, sound = faulty("loose-neutral-tail@12")
    (watts,) = (hottest := hottest_joint_watts(hot, sound)).values()
    load = 230**2 / 1400
    assert watts == pytest.approx((240 / (load + 1)) ** 2, rel=0.02)
    assert watts < (240 / (load + 1)) ** 2
    assert hottest.keys() == {"12"}
    assert watts > FIRE_FROM_WATTS
    assert exposure(hot, PEOPLE, sound)["12"]["heat"] == 2
    cold, _ = faulty("loose-neutral-tail@12=0.1")
    assert exposure(cold, PEOPLE, sound)["12"]["heat"] == 0


def test_an_open_conductor_and_a_joint_in_the_ground_heat_no_home() -> None:
    for fault in ("service-pen-open@12", "mains-pen-high@substation-J1"):
        now, sound = faulty(fault)
        assert hottest_joint_watts(now, sound) == {}


def test_volts_too_high_count_only_where_appliances_get_them() -> None:
    """A broken neutral of the main lifts the volts of the light load; behind an open main switch nobody is
    hurt by them, but there is no supply either."""
    broken, sound = faulty("mains-pen-open@substation-J1", streets.pair(kw=(5.0, 0.3)))
    assert exposure(broken, PEOPLE, sound)["14"]["volts-high"] == 2
    off = as_worked(broken, done(frozenset(), "open-main-switch", "14"))
    exposed = exposure(off, PEOPLE, sound)["14"]
    assert (exposed["volts-high"], exposed["supply-lost"]) == (0, 2)


def test_the_end_of_a_lifted_earth_can_be_touched() -> None:
    live, _ = faulty("service-pen-open@12")
    lifted = as_worked(live, done(frozenset(), "lift-main-earth", "12"))
    assert [point for point, _ in touchable(live, "12")] == ["12.MET", "12.water"]
    assert [point for point, _ in touchable(lifted, "12")] == ["12.MET", "12.water", "12.cutout.E"]
    assert exposure(live, PEOPLE)["12"]["touch-dry"] == 0
    assert exposure(lifted, PEOPLE)["12"]["touch-dry"] == pytest.approx(0.2)


def test_where_a_harm_stands_somebody_is_exposed() -> None:
    """Dry touch, high volts and lost supply go by the same limits as calc.danger, at whatever can be
    touched."""
    of = {
        "earthed metalwork live to true earth": "touch-dry",
        "end of the lifted main earth live to true earth": "touch-dry",
        "supply above 253 V": "volts-high",
        "supply lost or far too low": "supply-lost",
    }
    told = set()
    for fault in ("service-pen-open@2", "mains-pen-open@substation-J1", "reversed-polarity-earth-live@4"):
        for pipe in (None, "copper-22"):
            live, sound = faulty(fault, streets.terrace(pipe=pipe))
            exposed = exposure(live, PEOPLE, sound)
            for harm in standing_harms(live):
                if harm.what in of:
                    told.add(of[harm.what])
                    assert exposed[harm.home][of[harm.what]] > 0, (fault, harm)
    assert told == set(of.values())


def test_many_streets_at_once_cost_what_each_costs_alone() -> None:
    loads = [(1.4, 2.0), (5.0, 0.3), (0.2, 0.2), (7.0, 7.0)]
    sounds = [network(streets.pair(kw=kw)) for kw in loads]
    for fault in ("service-pen-open@12", "mains-pen-open@substation-J1", "loose-line-tail@12.L1"):
        each = [parse(fault).applied_to(sound) for sound in sounds]
        for conditions in (frozenset(), done(frozenset(), "lift-main-earth", "12")):
            worked = [as_worked(one, conditions) for one in each]
            many = street_exposure(stacked(worked), PEOPLE, stacked(sounds))
            singly = [street_exposure(*pair) for pair in zip(worked, [PEOPLE] * 4, sounds, strict=True)]
            for kind in EXPOSURES:
                array = np.broadcast_to(many[kind], (4,)).tolist()
                assert array == pytest.approx([one[kind] for one in singly]), (fault, kind)


@pytest.mark.parametrize(
    "wrong", [(-1, 0, 0), (1, -0.1, 0), (1, 0.6, 0.5), (math.inf, 0, 0), (1, math.nan, 0)]
)
def test_people_who_cannot_be_are_refused(wrong: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match=r"at_home|touch_dry"):
        People(*wrong)
