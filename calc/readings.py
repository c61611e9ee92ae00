"""The tests that a visit can make at one home, and what each would show."""

from __future__ import annotations

from dataclasses import dataclass

from calc.instruments import Display, read
from calc.street import Network
from calc.work import Condition, as_worked, done

__all__ = ["TESTS", "Test", "readings"]


@dataclass(frozen=True, slots=True)
class Test:
    """One test: the instrument, where it is held, and what must be done before (and undone after)."""

    __test__ = False  # not a case for pytest

    id: str
    title: str
    instrument: str
    on: tuple[str, ...]
    after: tuple[str, ...] = ()


TESTS: tuple[Test, ...] = (
    Test("clamp-main-earth", "Clamp round the main earthing conductor", "clamp", ("main_earth",)),
    Test("clamp-neutral-tail", "Clamp round the neutral tail", "clamp", ("neutral_tail",)),
    Test(
        "clamp-neutral-and-earth",
        "Clamp round neutral tail and main earthing conductor together",
        "clamp",
        ("neutral_tail", "main_earth"),
    ),
    Test(
        "clamp-both-tails",
        "Clamp round line and neutral tails together",
        "clamp",
        ("line_tail", "neutral_tail"),
    ),
    Test("volts-line-neutral", "Voltmeter, line to neutral", "voltmeter", ("line", "neutral")),
    Test("volts-line-earth", "Voltmeter, line to earth", "voltmeter", ("line", "earth")),
    Test("volts-neutral-earth", "Voltmeter, neutral to earth", "voltmeter", ("neutral", "earth")),
    Test(
        "volts-earth-probe",
        "Voltmeter, earth to an independent earth",
        "voltmeter",
        ("earth", "independent_earth"),
    ),
    Test("two-pole-line-neutral", "Two-pole indicator, line to neutral", "two-pole", ("line", "neutral")),
    Test("two-pole-line-earth", "Two-pole indicator, line to earth", "two-pole", ("line", "earth")),
    Test("two-pole-neutral-earth", "Two-pole indicator, neutral to earth", "two-pole", ("neutral", "earth")),
    Test("contact-metalwork", "Contact indicator on bonded metalwork", "contact", ("earth",)),
    Test("non-contact-metalwork", "Non-contact indicator at bonded metalwork", "non-contact", ("earth",)),
    Test("loop-line-earth", "Loop tester, line to earth", "loop", ("line", "earth")),
    Test("loop-line-neutral", "Loop tester, line to neutral", "loop", ("line", "neutral")),
    Test(
        "known-load-neutral-tail",
        "With the known load on: clamp round the neutral tail",
        "clamp",
        ("neutral_tail",),
        after=("switch-on-known-load",),
    ),
    Test(
        "known-load-neutral-and-earth",
        "With the known load on: clamp round neutral tail and main earth together",
        "clamp",
        ("neutral_tail", "main_earth"),
        after=("switch-on-known-load",),
    ),
    Test(
        "lifted-line-to-loose-earth",
        "Main earth lifted: two-pole indicator, line to the loose earth",
        "two-pole",
        ("line", "earth"),
        after=("lift-main-earth",),
    ),
    Test(
        "lifted-loose-to-supply-earth",
        "Main earth lifted: voltmeter, loose earth to the terminal it came from",
        "voltmeter",
        ("earth", "supply_earth"),
        after=("lift-main-earth",),
    ),
    Test(
        "lifted-loose-earth-probe",
        "Main earth lifted: voltmeter, loose earth to an independent earth",
        "voltmeter",
        ("earth", "independent_earth"),
        after=("lift-main-earth",),
    ),
)
"""Every test of the guide, in the order in which a visit would make them. The last three are shown so that
nobody has to make them: lifting a main earth is a step that the guide guards."""


def readings(network: Network, home: str) -> dict[str, Display]:
    """What each of TESTS shows at `home`, by test id."""
    shown = {}
    for test in TESTS:
        conditions = frozenset[Condition]()
        for action in test.after:
            conditions = done(conditions, action, home)
        worked = as_worked(network, conditions) if conditions else network
        shown[test.id] = read(worked, home, test.instrument, test.on)
    return shown
