"""What people notice follows from the circuit, and the records say what the street file says."""

from __future__ import annotations

import pytest
import streets

from calc.faults import catalogue, parse
from calc.street import Street, network
from calc.symptoms import FACTS, fact
from calc.work import as_worked, done

UNBALANCED = (2.0, 1.0, 0.4)

NOTICED: dict[str, tuple[Street, str, str, dict[str, str]]] = {  # street, fault, home, what is noticed there
    "all is well": (
        streets.pair(),
        "healthy",
        "12",
        {
            "supply-on": "yes",
            "lights": "normal",
            "lights-dip": "no",
            "tingle": "no",
            "contact-indicator-lights": "no",
            "non-contact-indicator-lights": "no",
            "main-earth-looks-whole": "yes",
            "neighbour-off": "no",
            "shares-metalwork": "yes",
            "pipe-passes-a-mains-joint": "no",
        },
    ),
    "next door's PEN is open and nobody notices": (
        streets.pair(),
        "service-pen-open@14",
        "14",
        {"supply-on": "yes", "lights": "normal", "tingle": "no", "contact-indicator-lights": "no"},
    ),
    "a PEN is open and there is no pipe": (
        streets.terrace(pipe=None),
        "service-pen-open@6",
        "6",
        {
            "supply-on": "no",
            "lights": "off",
            "lights-dip": "no",
            "tingle": "yes",
            "contact-indicator-lights": "yes",
            "non-contact-indicator-lights": "yes",
        },
    ),
    "the home next to it": (
        streets.terrace(pipe=None),
        "service-pen-open@6",
        "4",
        {"supply-on": "yes", "neighbour-off": "yes", "tingle": "no", "shares-metalwork": "no"},
    ),
    "mains PEN open, the phase with the load": (
        streets.terrace(6, UNBALANCED, pipe=None),
        "mains-pen-open@substation-J1",
        "2",
        {"lights": "dim", "tingle": "yes", "lights-dip": "yes"},
    ),
    "mains PEN open, the phase without": (
        streets.terrace(6, UNBALANCED, pipe=None),
        "mains-pen-open@substation-J1",
        "6",
        {"lights": "bright", "supply-on": "yes", "tingle": "yes"},
    ),
    "a lost main earth": (streets.pair(), "main-earth-lost@12", "12", {"main-earth-looks-whole": "no"}),
    "too many volts": (streets.pair(), "high-volts", "12", {"lights": "bright", "supply-on": "yes"}),
    "a joint going bad": (
        streets.terrace(pipe=None),
        "service-pen-high@6=1",
        "6",
        {"lights-dip": "yes", "lights": "normal"},
    ),
    "a case that a leak holds up is felt, and it alone": (
        streets.terrace(pipe=None),
        "protective-conductor-lost@6=2000",
        "6",
        {"tingle": "yes", "contact-indicator-lights": "no", "lights": "normal"},
    ),
    "a case that its filter alone holds up": (
        streets.terrace(pipe=None),
        "protective-conductor-lost@6",
        "6",
        {"tingle": "no"},
    ),
    "the lights of crossed neutral tails": (
        streets.terrace(pipe=None),
        "crossed-neutrals@4.6",
        "6",
        {"lights": "normal", "tingle": "no", "neighbour-off": "no"},
    ),
    "a terrace": (streets.terrace(), "healthy", "8", {"pipe-passes-a-mains-joint": "yes", "phases": "1"}),
    "TN-S": (streets.mixed(), "healthy", "1", {"earthing": "tn-s", "pipe-passes-a-mains-joint": "no"}),
    "TT": (streets.mixed(), "healthy", "5", {"earthing": "tt", "shares-metalwork": "yes"}),
    "three phases": (streets.mixed(), "healthy", "7", {"earthing": "tn-c-s", "phases": "3"}),
}


@pytest.mark.parametrize("case", NOTICED)
def test_people_notice(case: str) -> None:
    street, fault, home, expected = NOTICED[case]
    faulty = parse(fault).applied_to(network(street))
    assert {name: fact(name, faulty, home) for name in expected} == expected


def test_lifting_our_earth_puts_the_neighbour_off() -> None:
    faulty = parse("service-pen-open@14").applied_to(network(streets.pair()))
    lifted = as_worked(faulty, done(frozenset(), "lift-main-earth", "12"))
    assert fact("neighbour-off", faulty, "12") == "no"
    assert fact("neighbour-off", lifted, "12") == "yes"
    assert fact("supply-on", lifted, "14") == "no"


WORDS = {
    "lights": {"bright", "dim", "normal", "off"},
    "earthing": {"tn-c-s", "tn-s", "tt"},
    "phases": {"1", "2", "3"},
}


def test_every_fact_answers_in_its_words() -> None:
    street = streets.mixed()
    for fault in {fault.kind: fault for fault in catalogue(street)}.values():
        faulty = fault.applied_to(network(street))
        for home in street.premises:
            for name in FACTS:
                assert fact(name, faulty, home) in WORDS.get(name, {"yes", "no"})


def test_an_unknown_fact_is_refused() -> None:
    with pytest.raises(KeyError):
        fact("mood", network(streets.pair()), "12")
