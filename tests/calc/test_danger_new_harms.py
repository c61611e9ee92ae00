"""What counts as done by what was done: figures before and after, made up to lie on each edge."""

from __future__ import annotations

import numpy as np
import pytest
import streets

from calc.danger import (
    CASE_LIVE,
    END_LIVE,
    GAP_LIVE,
    HARMS,
    METALWORK_LIVE,
    SUPPLY_LOST,
    VOLTS_TOO_HIGH,
    Harm,
    measured,
    metalwork_volts,
    new_harms,
    raised,
    touch_volts,
    touched_points,
)
from calc.faults import catalogue, parse
from calc.instruments import across
from calc.instruments import measured as told
from calc.limits import LIMITS
from calc.street import network
from calc.work import as_worked, done

SOUND = {
    METALWORK_LIVE: 0.0,
    CASE_LIVE: 0.0,
    GAP_LIVE: 0.0,
    END_LIVE: 0.0,
    VOLTS_TOO_HIGH: 240.0,
    SUPPLY_LOST: 240.0,
}

CASES = {  # what, volts before, volts after, whether it is new
    "metalwork comes alive": (METALWORK_LIVE, 0.0, 60.0, True),
    "it was alive before": (METALWORK_LIVE, 60.0, 200.0, False),
    "it goes dead": (METALWORK_LIVE, 60.0, 0.0, False),
    "past the limit by a hair": (METALWORK_LIVE, 48.0, 52.9, False),
    "a change that just counts": (METALWORK_LIVE, 46.0, 51.0, True),
    "up to the limit": (METALWORK_LIVE, 0.0, 50.0, False),
    "a case": (CASE_LIVE, 0.0, 230.0, True),
    "the gap": (GAP_LIVE, 0.0, 230.0, True),
    "the end": (END_LIVE, 0.0, 230.0, True),
    "too many volts": (VOLTS_TOO_HIGH, 245.0, 260.0, True),
    "too many volts, by a hair": (VOLTS_TOO_HIGH, 252.0, 255.0, False),
    "the supply fails": (SUPPLY_LOST, 240.0, 20.0, True),
    "the supply sinks by a hair": (SUPPLY_LOST, 162.0, 158.0, False),
    "the supply sinks by what just counts": (SUPPLY_LOST, 164.0, 159.0, True),
    "it had failed": (SUPPLY_LOST, 20.0, 0.0, False),
    "it comes back": (SUPPLY_LOST, 20.0, 240.0, False),
}


@pytest.mark.parametrize("case", CASES)
def test_a_harm_is_new_where_it_did_not_stand_and_the_volts_have_moved(case: str) -> None:
    what, before, after, new = CASES[case]
    then = {"2": dict(SOUND), "4": SOUND | {what: before}, "6": dict(SOUND)}
    now = {"2": dict(SOUND), "4": SOUND | {what: after}, "6": dict(SOUND)}
    assert new_harms(then, now) == ((Harm("4", what, after),) if new else ())


def test_in_a_batch_each_street_by_itself() -> None:
    names = [name for name, (what, *_) in CASES.items() if what == METALWORK_LIVE]
    before, after, new = (np.array([CASES[name][i] for name in names]) for i in (1, 2, 3))
    then, now = ({"4": SOUND | {METALWORK_LIVE: volts}} for volts in (before, after))
    found = {what: mask for _, what, mask in raised(then, now)}
    assert found[METALWORK_LIVE].tolist() == new.tolist()
    assert list(found) == list(HARMS)


def test_every_home_and_every_harm_is_looked_at() -> None:
    homes = ("2", "4", "6")
    then = {home: dict(SOUND) for home in homes}
    now = {home: dict.fromkeys(SOUND, 400.0) for home in homes}
    hurt = {(harm.home, harm.what) for harm in new_harms(then, now)}
    assert hurt == {(home, what) for home in homes for what in SOUND if what != SUPPLY_LOST}


def test_the_worst_line_of_three_decides() -> None:
    street = streets.mixed()
    for fault in ("mains-pen-open@J1-J2", "mains-line-open@J1-J2.L2", "healthy"):
        try:
            faulty = parse(fault).applied_to(network(street))
        except ValueError:
            continue
        volts = [told(faulty, "7", "voltmeter", (line, "neutral")) for line in ("line", "line2", "line3")]
        found = measured(faulty)["7"]
        assert found[VOLTS_TOO_HIGH] == pytest.approx(max(volts), rel=1e-3)
        assert found[SUPPLY_LOST] == pytest.approx(min(volts), rel=1e-3)
        if fault != "healthy":
            assert max(volts) - min(volts) > 20


def test_what_is_measured_is_what_a_body_would_bridge() -> None:
    """At every home with every fault, whole and lifted: a body of 1000 ohm (common practice, no source)
    between the points that somebody would touch, wherever the open circuit is above 50 V."""
    body, limit = 1000, 50
    lifted_homes = 0
    street = streets.pair(pipe_earth_ohm=40)
    for fault in catalogue(street):
        for lifted in ("", "12", "14"):
            faulty = fault.applied_to(network(street))
            if lifted:
                faulty = as_worked(faulty, done(frozenset(), "lift-main-earth", lifted))
            for home, found in measured(faulty).items():
                earth = faulty.branches[f"{home}/main_earth"]
                pairs = {METALWORK_LIVE: (f"{home}.MET", "earth")}
                if f"{home}/case_feet" in faulty.branches:
                    pairs[CASE_LIVE] = (f"{home}.case", "earth")
                else:
                    assert found[CASE_LIVE] == 0
                if earth.is_open:
                    lifted_homes += 1
                    pairs |= {GAP_LIVE: (earth.start, earth.end), END_LIVE: (earth.start, "earth")}
                else:
                    assert found[GAP_LIVE] == found[END_LIVE] == 0
                for what, (a, b) in pairs.items():
                    whole = across(faulty, a, b, float("inf"))
                    felt = across(faulty, a, b, body) if whole > limit else whole
                    assert found[what] == pytest.approx(felt)
                assert metalwork_volts(faulty, home) == found[METALWORK_LIVE]
                points = touched_points(faulty, home)
                assert points[0] == f"{home}.MET"
                assert touch_volts(faulty, home) == max(across(faulty, one, "earth", body) for one in points)
    assert LIMITS["body-ohm"].value == body
    assert lifted_homes > 20
