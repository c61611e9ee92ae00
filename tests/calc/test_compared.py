"""What the sentences of a comparison are decided by: readings put just on and just beyond each limit."""

from __future__ import annotations

from dataclasses import replace

import pytest
import streets

from calc.compared import hurts, lifting, ordinary
from calc.danger import GAP_LIVE, METALWORK_LIVE, Harm
from calc.faults import parse
from calc.instruments import INSTRUMENTS, Display
from calc.readings import readings
from calc.street import network

HEALTHY = readings(network(streets.pair()), "12")


def with_reading(test: str, value: float | None) -> dict[str, Display]:
    """The readings of a healthy home, one of them another; None for over range."""
    tester = HEALTHY[test].instrument
    return {**HEALTHY, test: tester.shown(tester.high * 2 if value is None else value)}


PASSES = "every ordinary test passes"
CASES = [  # earthing, test, reading, what the sentence says of it
    ("tn-c-s", "volts-line-neutral", 216.2, PASSES),  # 230 V less 6 % (SI 1994/3021)
    ("tn-c-s", "volts-line-neutral", 216.1, "216.1 V line to neutral"),
    ("tn-c-s", "volts-line-neutral", 253.0, PASSES),  # 230 V plus 10 %
    ("tn-c-s", "volts-line-neutral", 253.1, "253.1 V line to neutral"),
    ("tn-c-s", "volts-line-earth", 216.1, "216.1 V line to earth"),
    ("tn-c-s", "volts-line-earth", 253.1, "253.1 V line to earth"),
    ("tn-c-s", "volts-line-earth", None, "line to earth"),
    ("tn-c-s", "loop-line-neutral", 0.35, PASSES),  # what distributors quote (ER P23/1)
    ("tn-c-s", "loop-line-neutral", 0.36, "loop line to neutral 0.36"),
    ("tn-c-s", "loop-line-earth", 0.36, "loop line to earth 0.36"),
    ("tn-c-s", "loop-line-earth", None, "loop line to earth"),
    ("tn-s", "loop-line-earth", 0.8, PASSES),
    ("tn-s", "loop-line-earth", 0.81, "loop line to earth 0.81"),
    ("tt", "loop-line-earth", 60.0, PASSES),  # its electrode's, and no fault
    ("tt", "loop-line-neutral", 0.81, "loop line to neutral 0.81"),
]


@pytest.mark.parametrize(("earthing", "test", "value", "said"), CASES)
def test_an_ordinary_visit_passes_up_to_the_limits(
    earthing: str, test: str, value: float | None, said: str
) -> None:
    sentence = ordinary("12", earthing, with_reading(test, value))
    assert said in sentence
    assert (PASSES in sentence) == (said == PASSES)


@pytest.mark.parametrize("instrument", ["contact", "non-contact"])
def test_a_light_on_metalwork_is_told(instrument: str) -> None:
    tester = INSTRUMENTS[instrument]
    lit = {**HEALTHY, f"{instrument}-metalwork": replace(tester.shown(tester.high), text="lit")}
    assert f"{instrument} indicator lit on metalwork" in ordinary("12", "tn-c-s", lit)
    assert PASSES in ordinary("12", "tn-c-s", HEALTHY)


def told(fault: str, **pair: object) -> str:
    faulty = parse(fault).applied_to(network(streets.pair(**pair)))
    return " ".join(lifting(faulty, "12", "our", readings(faulty, "12")))


def test_a_loose_earth_that_a_body_pulls_down_is_told() -> None:
    """Without a pipe only filters hold it up: half the mains to a voltmeter, a few volts across a body."""
    apart = network(streets.pair()).opened("12-14/water")
    sentence = " ".join(lifting(apart, "12", "our", readings(apart, "12")))
    assert "once a person touches it" in sentence and "Lifting it would bring" not in sentence
    assert "once a person touches it" not in told("healthy")


def test_a_live_loose_earth_that_no_lamp_shows_is_told() -> None:
    """Both homes on one line: beside an open PEN the loose earth stands at that line, and no lamp lights."""
    silent = "An indicator that shows nothing there is no proof"
    assert silent in told("service-pen-open@14", phases=("L1", "L1"))
    assert silent not in told("service-pen-open@14", phases=("L1", "L2"))
    assert silent not in told("healthy")


def test_what_lifting_would_bring_is_told() -> None:
    bringing = told("service-pen-open@14")
    assert f"{GAP_LIVE} at 12" in bringing and METALWORK_LIVE in bringing
    assert "Lifting it would bring" not in told("healthy")


def test_each_kind_of_harm_once_with_its_homes_and_volts() -> None:
    harms = [Harm(str(home), METALWORK_LIVE, 60.0 + home) for home in range(1, 9)]
    said = hurts([*harms, Harm("3", GAP_LIVE, 230.0), Harm("3", GAP_LIVE, 230.2)])
    assert said == (
        f"{METALWORK_LIVE} at 1, 2, 3, 4, 5, 6 and 2 more (61 V to 68 V); {GAP_LIVE} at 3 (230 V)"
    )
    assert hurts([]) == ""
