"""What people do is undone by its opposite, and does to the street what it does."""

from __future__ import annotations

from itertools import permutations

import pytest
import streets

from calc.circuit import OPEN
from calc.faults import parse
from calc.street import network
from calc.work import ACTIONS, KNOWN_LOAD_KW, Condition, as_worked, done

OPPOSITES = [
    ("lift-main-earth", "restore-main-earth"),
    ("open-main-switch", "close-main-switch"),
    ("switch-on-known-load", "switch-off-known-load"),
    ("quieten-home", "end-quiet"),
    ("withdraw-cut-out-fuse", "replace-cut-out-fuse"),
]
BEGUN = {
    "lift-main-earth": ["12/main_earth"],
    "open-main-switch": ["12/load.L1", "12/filter.L1", "12/filter.N"],
    "withdraw-cut-out-fuse": ["12/tail.L1"],
}


def test_every_action_has_its_opposite() -> None:
    assert {action for pair in OPPOSITES for action in pair} == set(ACTIONS)


@pytest.mark.parametrize(("begin", "end"), OPPOSITES)
def test_what_is_begun_at_a_home_is_ended_there(begin: str, end: str) -> None:
    begun = done(frozenset(), begin, "12")
    assert len(begun) == 1
    assert done(begun, begin, "12") == begun
    assert done(begun, end, "14") == begun
    assert done(begun, end, "12") == frozenset()
    healthy = network(streets.pair())
    assert as_worked(healthy, done(begun, end, "12")).branches == healthy.branches
    assert as_worked(healthy, begun).branches != healthy.branches


@pytest.mark.parametrize("action", BEGUN)
def test_opens_those_conductors_and_no_other(action: str) -> None:
    healthy = network(streets.pair())
    after = as_worked(healthy, done(frozenset(), action, "12"))
    opened = [name for name, branch in after.branches.items() if branch != healthy.branches[name]]
    assert opened == BEGUN[action]
    assert all(after.branches[name].impedance == OPEN for name in opened)


def test_the_known_load_is_about_ten_amperes() -> None:
    with_load = as_worked(network(streets.pair()), done(frozenset(), "switch-on-known-load", "12"))
    assert abs(with_load.solution.current("12/known_load")) == pytest.approx(
        KNOWN_LOAD_KW * 1000 / 230, rel=0.05
    )


def test_the_main_switch_takes_the_known_load_off() -> None:
    conditions = frozenset({Condition("known-load-on", "12"), Condition("main-switch-open", "12")})
    worked = as_worked(network(streets.pair()), conditions)
    assert worked.solution.current("12/known_load") == 0
    assert abs(worked.solution.current("12/tail.L1")) < 1e-3
    assert abs(worked.solution.volts("12.L1", "12.N")) > 230  # the supply side of the switch stays alive


def test_a_three_phase_home_loses_all_its_fuses() -> None:
    worked = as_worked(network(streets.mixed()), done(frozenset(), "withdraw-cut-out-fuse", "7"))
    for phase in ("L1", "L2", "L3"):
        assert abs(worked.solution.volts(f"7.{phase}", "7.N")) < 10


def test_the_order_of_doing_does_not_matter() -> None:
    faulty = parse("service-pen-open@14").applied_to(network(streets.pair()))
    actions = ("lift-main-earth", "switch-on-known-load", "open-main-switch")
    ends = []
    for order in permutations(actions):
        conditions: frozenset[Condition] = frozenset()
        for action in order:
            conditions = done(conditions, action, "12")
        ends.append(as_worked(faulty, conditions).solution.potential("12.MET"))
    assert len(set(ends)) == 1


def test_an_unknown_action_is_refused() -> None:
    with pytest.raises(KeyError):
        done(frozenset(), "take-a-break", "12")
