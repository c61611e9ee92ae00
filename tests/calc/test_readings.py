"""Each test of a visit shows what its instrument shows there, and leaves the street as it found it."""

from __future__ import annotations

import pytest
import streets

from calc.faults import catalogue, parse
from calc.instruments import INSTRUMENTS, read
from calc.readings import TESTS, readings
from calc.street import Street, network
from calc.work import ACTIONS, as_worked, done

EVERY = {"pair": streets.pair(), "mixed": streets.mixed(), "overhead": streets.overhead(), **streets.SHIPPED}


def test_tests_are_told_apart_and_use_instruments_and_actions_that_exist() -> None:
    assert len({test.id for test in TESTS}) == len({test.title for test in TESTS}) == len(TESTS)
    assert {test.instrument for test in TESTS} == set(INSTRUMENTS)
    assert {action for test in TESTS for action in test.after} <= set(ACTIONS)


@pytest.mark.parametrize("name", EVERY)
def test_every_test_answers_at_every_home_in_every_fault(name: str) -> None:
    street: Street = EVERY[name]
    by_kind = {fault.kind: fault for fault in catalogue(street)}
    for fault in by_kind.values():
        faulty = fault.applied_to(network(street))
        for home in street.premises:
            shown = readings(faulty, home)
            assert list(shown) == [test.id for test in TESTS]
            for display in shown.values():
                assert display.text
                assert (display.value is None) == (display.state != "shown")


def test_what_must_be_done_first_is_done_for_that_test_alone() -> None:
    faulty = parse("service-pen-open@14").applied_to(network(streets.pair()))
    before = faulty.solution.potential("12.MET")
    shown = readings(faulty, "12")
    lifted = as_worked(faulty, done(frozenset(), "lift-main-earth", "12"))
    assert shown["lifted-line-to-loose-earth"] == read(lifted, "12", "two-pole", ("line", "earth"))
    assert shown["lifted-line-to-loose-earth"] != shown["two-pole-line-earth"]
    assert faulty.solution.potential("12.MET") == before


def test_the_known_load_share_tells_a_sound_pen_from_a_broken_one() -> None:
    """Change of neutral tail and main earth together, over the change of the neutral tail alone."""
    shares = {}
    for fault in ("healthy", "service-pen-open@12", "service-pen-high@12=1", "service-pen-high@12=0.1"):
        shown = readings(parse(fault).applied_to(network(streets.pair())), "12")
        pair = shown["known-load-neutral-and-earth"].value - shown["clamp-neutral-and-earth"].value
        tail = shown["known-load-neutral-tail"].value - shown["clamp-neutral-tail"].value
        assert tail == pytest.approx(10.4, abs=0.5)
        shares[fault] = pair / tail
    assert shares["service-pen-open@12"] == 0
    assert 0 < shares["service-pen-high@12=1"] < 0.1
    assert shares["service-pen-high@12=1"] < shares["service-pen-high@12=0.1"] < shares["healthy"]
    assert shares["healthy"] > 0.35
