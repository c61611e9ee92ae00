"""Explaining what was seen: Bayes' rule by hand on a table made for it, and sampled streets that speak."""

from __future__ import annotations

import math
from functools import cache

import pytest

from build_tools.explained import kept
from build_tools.explained.calibrated import calibrated, fixed_order, grounds_of
from build_tools.explained.table import drawn_table
from build_tools.guide import load
from build_tools.kept import ROOT
from calc.calculators.explain import CALCULATOR
from calc.explain import (
    ASKED,
    NO_READING,
    PRIORS,
    STATES,
    TOO_LIKELY,
    Explained,
    Sampled,
    before_anything,
    code_of,
    sampled,
    value_of,
)
from calc.form import default_raw, parse

GUIDE = load(ROOT / "guide_src")
KNOWN_LOAD = "switch-on-known-load"


def made(clamp: dict[str, float], hurt: tuple[str, ...] = ()) -> Sampled:
    """A table of one street for each fault: the clamp shows what is given, or 1 A; all else shows nothing."""
    columns = {name: bytes([NO_READING] * len(PRIORS)) for name in ASKED}
    one = ASKED["clamp-main-earth"]
    columns[one.id] = bytes(code_of(one, clamp.get(kind, 1.0)) for kind, _ in PRIORS)
    return Sampled((1,) * len(PRIORS), columns, {KNOWN_LOAD: bytes(kind in hurt for kind, _ in PRIORS)})


@cache
def drawn() -> Sampled:
    assert GUIDE.sampling is not None
    return drawn_table(GUIDE.sampling, range(150), 60)


def probability(told: Explained, title: str) -> float:
    return next(state.probability for state in told.states() if state.title == title)


def test_nothing_seen_leaves_what_is_common() -> None:
    told = Explained(made({}))
    assert [state.title for state in told.states()] == [state.title for state in before_anything()]
    assert told.states()[0].probability == pytest.approx(PRIORS["healthy", "here"] / sum(PRIORS.values()))


def test_bayes_by_hand() -> None:
    """One width apart is exp(-1/2) times as likely."""
    one = ASKED["clamp-main-earth"]
    near = value_of(one, code_of(one, 1.0) + round(one.width))
    told = Explained(made({"healthy": near}), {one.id: code_of(one, 1.0)})
    healthy, others = (
        PRIORS["healthy", "here"] * math.exp(-0.5),
        sum(PRIORS.values()) - PRIORS["healthy", "here"],
    )
    assert probability(told, STATES[0][0]) == pytest.approx(healthy / (healthy + others))


def test_what_could_not_be_taken_says_nothing() -> None:
    told = Explained(made({"healthy": 9}), {"clamp-main-earth": NO_READING})
    assert told.states() == Explained(made({"healthy": 9})).states() and not told.seen


def test_a_test_that_would_hurt_waits_until_its_state_is_improbable() -> None:
    """1 in 1,000, as asked; PEN broken here is 8 in 106 before anything is seen."""
    table = made({"service-pen-open": 90.0}, hurt=("service-pen-open",))
    before = Explained(table)
    assert before.hurts(KNOWN_LOAD) > TOO_LIKELY
    assert not any(ASKED[name].needs for name, _ in before.telling())
    after = Explained(table, {"clamp-main-earth": code_of(ASKED["clamp-main-earth"], 1.0)})
    assert after.hurts(KNOWN_LOAD) <= TOO_LIKELY
    assert any(ASKED[name].needs for name, _ in after.telling())


def test_no_test_is_ever_behind_a_lifted_earth() -> None:
    assert {one.needs for one in ASKED.values()} == {"", KNOWN_LOAD}


def test_readings_like_no_street_are_not_explained() -> None:
    seen = {
        name: code_of(ASKED[name], value)
        for name, value in {"clamp-main-earth": 150.0, "loop-line-earth": 190.0}.items()
    }
    told = Explained(drawn(), seen)
    assert not told.fits
    values, _ = parse(
        CALCULATOR, default_raw(CALCULATOR, {}) | {"clamp-main-earth": "150", "loop-line-earth": "190"}, {}
    )
    assert CALCULATOR.run(values, {"explain": drawn().to_data()}).summary[0].startswith("None of these fits")


def test_the_share_of_a_known_load_finds_a_broken_pen() -> None:
    """All of a known load past this home's PEN: the pair of tail and main earth shows none of it. By
    Kirchhoff's current law at the cut-out."""
    seen = {"known-load-neutral-tail": 13.0, "known-load-neutral-and-earth": 0.05, "loop-line-earth": 0.3}
    told = Explained(drawn(), {name: code_of(ASKED[name], value) for name, value in seen.items()})
    assert told.states()[0].title == "Service PEN open" and told.states()[0].probability > 0.9


def test_codes_keep_a_display_to_four_hundredths() -> None:
    for one in ASKED.values():
        for value in (0.0, one.high / 3, one.high) if not one.words else ():
            assert value_of(one, code_of(one, value)) == pytest.approx(value, rel=0.04, abs=one.high / 250)


def test_fresh_streets_are_explained_as_often_as_is_said() -> None:
    assert GUIDE.sampling is not None
    new = drawn_table(GUIDE.sampling, range(500_000, 500_150), 40)
    measured = calibrated(drawn(), new, fixed_order(GUIDE), GUIDE.sampling, cases=100, stepped=19)
    assert measured.top_two_bounds[1] > 0.9
    sure = [row for row in measured.reliability if row.low >= 0.8]
    assert sum(row.right for row in sure) >= 0.7 * sum(row.said for row in sure)


def test_the_kept_table_is_small_and_can_be_read() -> None:
    found = kept.read(GUIDE.folder)
    assert found is not None and GUIDE.sampling is not None, kept.COMMAND
    assert found["grounds"] == grounds_of(GUIDE.sampling), (
        f"the table is older than the model: {kept.COMMAND}"
    )
    assert (GUIDE.folder / kept.FILE).stat().st_size < 1_500_000
    table = sampled(found["table"])
    assert table.starts[-1] == sum(table.counts) == len(table.columns["lights"])
