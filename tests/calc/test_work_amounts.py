"""How much is put on and left on: watts that a power meter would find."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import streets

from calc.circuit import OPEN
from calc.street import Network, network
from calc.work import ACTIONS, Condition, as_worked, done

NOTHING = frozenset[Condition]()


def watts(network_: Network, load: str) -> float:
    """What a load takes now, as so many watts of 230 V."""
    volts = network_.solution.volts(network_.branches[load].start, network_.branches[load].end)
    return float(network_.solution.power(load).real * (230 / abs(volts)) ** 2)


def test_the_known_load_is_a_kettle() -> None:
    """2.4 kW is 10.4 A at 230 V, a little under 11 A at 240 V."""
    worked = as_worked(network(streets.pair()), done(NOTHING, "switch-on-known-load", "12"))
    assert watts(worked, "12/known_load") == pytest.approx(2400)
    assert 10 < abs(worked.solution.current("12/known_load")) < 11
    assert worked.branches["12/known_load"].start == "12.L1"


def test_the_known_load_goes_on_the_first_line_of_three() -> None:
    worked = as_worked(network(streets.mixed()), done(NOTHING, "switch-on-known-load", "7"))
    known = worked.branches["7/known_load"]
    assert (known.start, known.end) == ("7.L1", "7.N")


@pytest.mark.parametrize(("kw", "left"), [(3.0, 500), (0.8, 500), (0.5, 500), (0.3, 300), (0.05, 50)])
def test_a_quiet_home_takes_half_a_kilowatt_at_most(kw: float, left: float) -> None:
    quiet = as_worked(network(streets.pair(kw=(kw, 2.0))), done(NOTHING, "quieten-home", "12"))
    assert watts(quiet, "12/load.L1") == pytest.approx(left)
    assert watts(quiet, "14/load.L2") == pytest.approx(2000)


def test_every_line_of_a_quiet_home_is_quiet_and_keeps_its_power_factor() -> None:
    before = network(streets.mixed())
    after = as_worked(before, done(NOTHING, "quieten-home", "7"))
    assert [watts(after, f"7/load.L{n}") for n in (1, 2, 3)] == pytest.approx([500, 500, 400])
    quiet = as_worked(before, done(NOTHING, "quieten-home", "9"))
    load = quiet.branches["9/load.L2"].impedance
    assert load.real / abs(load) == pytest.approx(0.95)
    assert abs(load) == pytest.approx(230**2 / 500)


def test_what_is_off_stays_off_in_a_quiet_home() -> None:
    switched_off = network(streets.pair()).opened("12/load.L1")
    after = as_worked(switched_off, done(NOTHING, "quieten-home", "12"))
    assert after.branches["12/load.L1"].impedance == OPEN


def test_a_batch_is_made_quiet_street_by_street() -> None:
    alone = [network(streets.pair(kw=(kw, 2.0))) for kw in (3.0, 0.3)]
    loads = [each.branches["12/load.L1"] for each in alone]
    many = alone[0].changed(replace(loads[0], impedance=np.array([load.impedance for load in loads])))
    quiet = done(NOTHING, "quieten-home", "12")
    together = as_worked(many, quiet).branches["12/load.L1"].impedance
    each = [as_worked(one, quiet).branches["12/load.L1"].impedance for one in alone]
    assert together.tolist() == pytest.approx(each)


def test_each_condition_is_begun_by_one_action_and_ended_by_one() -> None:
    for name in {name for name, _ in ACTIONS.values()}:
        assert sorted(begins for other, begins in ACTIONS.values() if other == name) == [False, True]


def test_quiet_and_the_known_load_go_together() -> None:
    conditions = done(done(NOTHING, "quieten-home", "12"), "switch-on-known-load", "12")
    worked = as_worked(network(streets.pair(kw=(3.0, 2.0))), conditions)
    assert watts(worked, "12/load.L1") == pytest.approx(500)
    assert watts(worked, "12/known_load") == pytest.approx(2400)
