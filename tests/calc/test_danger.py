"""Harms are those of a body, not of a voltmeter; what stood before is not new; sharing metal is told."""

from __future__ import annotations

import pytest
import streets

from calc.danger import (
    END_LIVE,
    GAP_LIVE,
    METALWORK_LIVE,
    SUPPLY_LOST,
    VOLTS_TOO_HIGH,
    Harm,
    endangered_homes,
    measured,
    new_harms,
    standing_harms,
    touch_volts,
)
from calc.faults import parse
from calc.instruments import across
from calc.limits import LIMITS
from calc.street import Network, network
from calc.work import as_worked, done


def faulty(fault: str, **pair: object) -> Network:
    return parse(fault).applied_to(network(streets.pair(**pair)))


def what(harms: tuple[Harm, ...]) -> set[tuple[str, str]]:
    return {(harm.home, harm.what) for harm in harms}


def test_a_healthy_street_hurts_nobody() -> None:
    every = [
        streets.pair(),
        streets.terrace(12),
        streets.mixed(),
        streets.overhead(),
        *streets.SHIPPED.values(),
    ]
    for street in every:
        assert standing_harms(network(street)) == ()


def test_a_loose_earth_on_filters_alone_hurts_nobody() -> None:
    """A voltmeter shows tens of volts on it; across a body they are gone."""
    loose = faulty("healthy").opened("12/main_earth", "12-14/water")
    assert across(loose, "12.MET", "earth", float("inf")) > LIMITS["touch-volts"].value
    assert touch_volts(loose, "12") < 5
    assert standing_harms(loose) == ()


def test_an_open_pen_without_pipe_makes_its_own_home_live_and_dark() -> None:
    alone = network(streets.terrace(pipe=None))
    harms = standing_harms(parse("service-pen-open@6").applied_to(alone))
    assert what(harms) == {("6", METALWORK_LIVE), ("6", SUPPLY_LOST)}
    assert next(harm.volts for harm in harms if harm.what == METALWORK_LIVE) == pytest.approx(240, abs=6)


def test_an_open_pen_beside_a_pipe_hurts_nobody_until_an_earth_is_lifted() -> None:
    before = faulty("service-pen-open@14")
    after = as_worked(before, done(frozenset(), "lift-main-earth", "12"))
    assert standing_harms(before) == ()
    assert what(new_harms(measured(before), measured(after))) == {
        ("12", METALWORK_LIVE),
        ("12", GAP_LIVE),
        ("14", METALWORK_LIVE),
        ("14", SUPPLY_LOST),
    }


def test_the_end_of_a_lifted_main_earth_is_live_where_its_own_pen_is_open() -> None:
    """No pipe: the loose earth falls dead, and the end in the other hand stands at mains voltage."""
    before = parse("service-pen-open@6").applied_to(network(streets.terrace(pipe=None)))
    after = as_worked(before, done(frozenset(), "lift-main-earth", "6"))
    assert touch_volts(after, "6") < 5
    assert ("6", END_LIVE) in what(new_harms(measured(before), measured(after)))
    assert measured(after)["6"][END_LIVE] == pytest.approx(240, abs=20)
    assert measured(before)["6"][END_LIVE] == 0


def test_a_sound_end_hurts_nobody() -> None:
    for street in (*streets.SHIPPED.values(), streets.terrace(pipe=None), streets.mixed()):
        for home in street.premises:
            lifted = as_worked(network(street), done(frozenset(), "lift-main-earth", home))
            assert measured(lifted)[home][END_LIVE] < 5


def test_what_stood_before_is_not_new() -> None:
    before = parse("service-pen-open@6").applied_to(network(streets.terrace(pipe=None)))
    after = as_worked(before, done(frozenset(), "switch-on-known-load", "4"))
    assert standing_harms(after) != ()
    assert new_harms(measured(before), measured(after)) == ()


def test_high_volts_and_lost_volts() -> None:
    assert what(standing_harms(faulty("high-volts"))) == {("12", VOLTS_TOO_HIGH), ("14", VOLTS_TOO_HIGH)}
    assert what(standing_harms(faulty("line-open@12.L1"))) == {("12", SUPPLY_LOST)}


def test_homes_that_share_metalwork_are_endangered_together() -> None:
    assert endangered_homes(streets.mixed(), ("9",)) == {"5", "7", "9", "11"}
    assert endangered_homes(streets.mixed(), ("1",)) == {"1", "3"}
    assert endangered_homes(streets.overhead(), ("Mill",)) == {"Mill"}
    assert endangered_homes(streets.mixed(), ()) == frozenset()


def test_a_harm_says_itself() -> None:
    assert str(Harm("12", GAP_LIVE, 239.6)) == "12: volts across the lifted main earth (240 V)"


def test_a_body_never_raises_the_volts() -> None:
    """Why a place that is below the limit without a body needs no second sum."""
    for fault in ("service-pen-open@14", "reversed-polarity@12", "main-earth-lost@12"):
        street = faulty(fault, pipe_earth_ohm=40)
        for home in ("12", "14"):
            assert touch_volts(street, home) <= across(street, f"{home}.MET", "earth", float("inf"))
