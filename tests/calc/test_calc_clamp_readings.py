"""Clamp readings before and after a known load: held to the site tree, to ngspice and to geometry."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import spice
import streets
import yaml
from hypothesis import given
from hypothesis import strategies as st

from calc.calculators import CALCULATORS, default_raw, parse
from calc.calculators.clamp_readings import LIMITS_A, Band, Clamped, doubts, fits, judged, turned_round
from calc.faults import parse as parse_fault
from calc.street import Network, network
from calc.work import KNOWN_LOAD_KW, as_worked, done

_FILE = Path(__file__).parents[2] / "guide_src/trees/site/test-one-home.yaml"
NODES = yaml.safe_load(_FILE.read_text("utf-8"))["nodes"]
CALCULATOR = CALCULATORS["clamp-readings"]
SHARP, USUAL = Band(0, 0), Band(2, 0.05)
SOUND = Clamped(2.1, 1.6, 12.4, 9.4, 1.4, 3.2)


def answered(**typed: str) -> Any:
    values, problems = parse(CALCULATOR, default_raw(CALCULATOR, {}) | typed, {})
    assert problems == {}
    return CALCULATOR.run(values, {})


def borders(node: str) -> list[float]:
    """The limits between the ranges of one reading of the tree."""
    return [
        float(below["to"]) for below, above in pairwise(NODES[node]["ranges"]) if below["to"] == above["from"]
    ]


def test_the_limits_are_those_of_the_tree() -> None:
    assert borders("tail-at-rest") == [LIMITS_A.tail_at_rest_below]
    assert borders("known-load-tail") == [LIMITS_A.change_from, LIMITS_A.change_below]
    assert NODES["known-load-tail"]["change_from"] == "tail-at-rest"
    nothing, *limits = borders("known-load-both")
    assert limits == [LIMITS_A.open_below, LIMITS_A.carries_from]
    assert nothing < LIMITS_A.open_below  # below it the home is put off besides
    assert borders("known-load-earth") == [LIMITS_A.earth_below]


@pytest.mark.parametrize(
    ("both", "state"),
    [(0, "open"), (2.99, "open"), (3, "part"), (5.99, "part"), (6, "carries"), (12, "carries")],
)
def test_each_side_of_each_limit_as_the_tree_has_it(both: float, state: str) -> None:
    assert judged(replace(SOUND, both_after=both)) == state


@pytest.mark.parametrize(
    "spoilt",
    [
        replace(SOUND, tail_before=12, tail_after=22),
        replace(SOUND, tail_after=7.99, tail_before=0),
        replace(SOUND, tail_after=SOUND.tail_before + 13.01),
        replace(SOUND, tail_before=4.5),
        replace(SOUND, earth_after=7.5),
        replace(SOUND, earth_after=None),
    ],
)
def test_what_proves_nothing(spoilt: Clamped) -> None:
    assert judged(spoilt) == "not-proven"


ENDS = {
    "load-off-broken": "open",
    "load-off-open": "open",
    "load-off-part": "part",
    "neutral-under-load": "carries",
}
WAYS = {"tail-at-rest": "tail_before", "known-load-tail": "tail_after", "known-load-both": "both_after"}


def walked(readings: Clamped) -> str:
    """Where the tree itself leads with these readings, steps and guards included."""
    here = "tail-at-rest"
    while here not in ENDS and here not in ("load-off-not-proven", "quiet-off"):
        node = NODES[here]
        if here == "probe-under-load":  # near true earth: the clamp has no say in it
            here = node["ranges"][0]["go"]
        elif "ranges" in node:
            amps = getattr(readings, WAYS.get(here, "earth_after"))
            if since := node.get("change_from"):
                amps = abs(amps - getattr(readings, WAYS[since]))
            here = next(r["go"] for r in node["ranges"] if r.get("from", 0) <= amps < r.get("to", math.inf))
        else:
            here = node["go"]
    return ENDS.get(here, "not-proven")


@given(st.tuples(*[st.floats(0, 30)] * 6))
def test_says_what_a_walk_of_the_tree_says(amps: tuple[float, ...]) -> None:
    readings = Clamped(*amps)
    assert judged(readings) == walked(readings)


@pytest.mark.parametrize("both", [0, 2.9, 3, 5.9, 6, 20])
@pytest.mark.parametrize("earth", [7.4, 7.5])
def test_says_what_a_walk_of_the_tree_says_at_the_limits(both: float, earth: float) -> None:
    readings = replace(SOUND, both_after=both, earth_after=earth)
    assert judged(readings) == walked(readings)


# Streets, as ngspice has them

CASES = {
    "healthy terrace, copper pipe": (streets.terrace(), "healthy", "6", {"carries", "part"}),
    "healthy terrace, no pipe": (streets.terrace(pipe=None), "healthy", "6", {"carries"}),
    "its service PEN open, pipe": (streets.terrace(), "service-pen-open@6", "6", {"open"}),
    # its own PEN is whole, but its main earth carries 9 A of next door's: nothing is proven
    "next door's service PEN open": (streets.pair(), "service-pen-open@14", "12", {"not-proven"}),
    "its service PEN with 1 ohm": (streets.terrace(), "service-pen-high@6=1", "6", {"open"}),
    "its service PEN with 0.1 ohm": (streets.terrace(), "service-pen-high@6=0.1", "6", {"open", "part"}),
}


def clamped(bad: Network, home: str, folder: Path) -> Clamped:
    """Six readings out of two runs of ngspice, the home's own loads left off."""
    shown: dict[str, float] = {}
    conditions = done(frozenset(), "quieten-home", home)
    for when in ("before", "after"):
        if when == "after":
            conditions = done(conditions, "switch-on-known-load", home)
        (folder / when).mkdir()
        amperes = spice.simulate(as_worked(bad, conditions).branches.values(), folder / when).amperes
        tail, earth = amperes[f"{home}/tail.N"], amperes[f"{home}/main_earth"]
        shown |= {f"tail_{when}": abs(tail), f"earth_{when}": abs(earth), f"both_{when}": abs(tail + earth)}
    return Clamped(**shown)


@pytest.mark.outside
@pytest.mark.parametrize("case", CASES)
def test_streets_solved_by_ngspice_are_told_apart(case: str, tmp_path: Path) -> None:
    """Source: ngspice, an open circuit simulator, run here. The states: what the street was given."""
    street, fault, home, expected = CASES[case]
    readings = clamped(parse_fault(fault).applied_to(network(street)), home, tmp_path)
    assert judged(readings) in expected, readings
    assert list(doubts(readings, USUAL, KNOWN_LOAD_KW)) == []


# Geometry

AMPS = st.floats(0.1, 40)


@given(AMPS, AMPS, st.floats(0, math.pi))
def test_turned_round_is_the_difference_of_the_phasors(tail: float, earth: float, angle: float) -> None:
    both = abs(tail + cmath.rect(earth, angle))
    assert turned_round(tail, earth, both) == pytest.approx(abs(tail - cmath.rect(earth, angle)), abs=1e-6)


@given(AMPS, AMPS, st.floats(0, math.pi))
def test_true_phasors_are_never_called_impossible(tail: float, earth: float, angle: float) -> None:
    both = abs(tail + cmath.rect(earth, angle))
    readings = Clamped(tail, both, tail + 10.4, both, earth, None)
    assert not any("cannot" in doubt for doubt in doubts(readings, Band(0, 1e-6), KNOWN_LOAD_KW))


def test_what_cannot_be_is_called_so() -> None:
    assert any("cannot" in doubt for doubt in doubts(replace(SOUND, both_after=16), SHARP, KNOWN_LOAD_KW))
    assert any("cannot" in doubt for doubt in doubts(replace(SOUND, both_before=0.5), SHARP, KNOWN_LOAD_KW))


# How sure

READING = st.floats(0, 30)


@given(st.tuples(*[READING] * 6), st.floats(0, 5), st.floats(0, 0.5))
def test_a_worse_meter_never_tells_more(amps: tuple[float, ...], percent: float, error: float) -> None:
    readings = Clamped(*amps)
    sharp, dull = fits(readings, Band(percent, error)), fits(readings, Band(percent + 1, error + 0.1))
    assert sharp[0] == judged(readings)
    assert set(sharp) <= set(dull)


@given(READING, st.floats(0, 0.02), st.floats(0, 0.02), st.floats(-1, 1))
def test_what_the_meter_may_have_meant_is_among_what_fits(
    both: float, percent: float, error: float, way: float
) -> None:
    band = Band(100 * percent, error)
    readings = replace(SOUND, both_after=both)
    meant = replace(readings, both_after=max(both + way * band.of(both), 0))
    assert judged(meant) in fits(readings, band)


def test_too_near_a_limit_does_not_tell() -> None:
    assert fits(replace(SOUND, both_after=6.05), USUAL) == ("carries", "part")
    assert "do not tell" in answered(both_after="6.05", earth_after="6.4").summary[0]


def test_held_wrongly_may_hide_an_open_pen() -> None:
    for both in (24.8, 12.4):
        assert "open" in fits(replace(SOUND, earth_after=12.4, both_after=both), USUAL)


@pytest.mark.parametrize(
    ("after", "words"), [(2.1, "did not rise"), (9.0, "switched off"), (16.0, "switched on too"), (12.4, "")]
)
def test_another_load_is_noticed(after: float, words: str) -> None:
    said = " ".join(doubts(replace(SOUND, tail_after=after, earth_after=None), USUAL, KNOWN_LOAD_KW))
    assert (words in said) if words else ("switched" not in said)


def test_a_neighbours_current_is_noticed() -> None:
    said = " ".join(answered(earth_before="6.3", both_before="5.2").summary)
    assert "not this home's own" in said
    assert "not this home's own" not in " ".join(answered().summary)


def test_every_answer_speaks_for_one_home_only() -> None:
    for example in CALCULATOR.examples:
        assert any("this home only" in sentence for sentence in answered(**example.values).summary)


def test_an_open_pen_is_told_at_once() -> None:
    answer = answered(earth_before="2.1", both_before="0", earth_after="12.4", both_after="0")
    assert any(
        sentence.startswith("Switch the known load off. Tell the control room now")
        for sentence in answer.summary
    )
    assert answer.warnings
