"""Explaining what was seen: Bayes' rule by hand on a table made for it, and sampled streets that speak."""

from __future__ import annotations

import math
import random
from functools import cache
from typing import Any

import pytest

from build_tools.explained import explained_file
from build_tools.explained.calibration import calibrated, fixed_order, grounds_of
from build_tools.explained.reading_table import drawn_table
from build_tools.guide.loading import load
from build_tools.setup.result_cache import ROOT
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
    in_danger,
    sampled,
    value_of,
)
from calc.faults import KINDS
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
    assert measured.top_two_bounds[1] > 0.85
    sure = [row for row in measured.reliability if row.low >= 0.8]
    assert sum(row.right for row in sure) >= 0.7 * sum(row.said for row in sure)


def test_the_kept_table_is_small_and_can_be_read() -> None:
    found = explained_file.read(GUIDE.folder)
    assert found is not None and GUIDE.sampling is not None, explained_file.COMMAND
    assert found["grounds"] == grounds_of(GUIDE.sampling), (
        f"the table is older than the model: {explained_file.COMMAND}"
    )
    assert (GUIDE.folder / explained_file.FILE).stat().st_size < 1_500_000
    table = sampled(found["table"])
    assert table.starts[-1] == sum(table.counts) == len(table.columns["lights"])


# What is said first


def of_tingles(shares: dict[tuple[str, str], float]) -> Sampled:
    """A table where that share of each state's thousand streets has a tingle, and else none of them has."""
    columns = {name: bytes([NO_READING] * 1000 * len(PRIORS)) for name in ASKED}
    columns["tingle"] = b"".join(
        bytes([1] * round(1000 * share) + [0] * (1000 - round(1000 * share)))
        for share in (shares.get(each, 0.2) for each in PRIORS)
    )
    return Sampled((1000,) * len(PRIORS), columns, {KNOWN_LOAD: bytes(1000 * len(PRIORS))})


def answered(table: Sampled, **typed: str) -> Any:
    values, problems = parse(CALCULATOR, default_raw(CALCULATOR, {}) | typed, {})
    assert problems == {}
    return CALCULATOR.run(values, {"explain": table.to_data()})


def test_no_fault_at_30_percent_does_not_lead_over_open_pens_at_53() -> None:
    """Three states of an open PEN, none of which is as probable as no fault, and together likelier by far."""
    shares = {("healthy", "here"): 0.345, ("service-pen-open", "here"): 1.0, ("mains-pen-open", "here"): 1.0}
    shares |= {each: 0.8 for each in PRIORS if each[1] == "next-door" and "pen" in each[0]}
    table = of_tingles(shares)
    states = Explained(table, {"tingle": 1}).states()
    pens = [state for state in states if "PEN" in state.title and "open" in state.title]
    assert [len(pens), states[0].place] == [3, 0]
    assert states[0].probability == pytest.approx(0.30, abs=0.005)
    assert sum(state.probability for state in pens) == pytest.approx(0.53, abs=0.005)
    first, second = answered(table, tingle="yes").summary[:2]
    assert first.startswith("All states that can kill or burn, together: 6") and "PEN" in first
    assert second == "Of single states the most probable: no fault that reaches this home (30 %)."


def test_comfort_leads_only_where_it_is_likelier_and_the_danger_is_told_beside_it() -> None:
    table = of_tingles({("healthy", "here"): 1.0} | {each: 0.0 for each in PRIORS if each[0] != "healthy"})
    said = answered(table, tingle="yes").summary
    assert said[0].startswith("Most probable: no fault") and said[1].startswith("All states that can kill")


def test_danger_leads_wherever_it_is_likelier_whatever_was_read() -> None:
    """Random readings of random streets: the lead, the table and the picture are of the same figures."""
    chance, table = random.Random(5), drawn()
    leads = set()
    for _ in range(60):
        street = chance.randrange(table.starts[-1])
        seen = {}
        for name in chance.sample(sorted(ASKED), chance.choice((1, 2, 3))):
            code, one = table.columns[name][street], ASKED[name]
            if code != NO_READING and not (code > 250 and not one.words):
                seen[name] = one.words[code] if one.words else f"{min(value_of(one, code), one.high):.2f}"
        answer = answered(table, **seen)
        if answer.summary[0].startswith("None of these fits"):
            continue
        values, _ = parse(CALCULATOR, default_raw(CALCULATOR, {}) | seen, {})
        states = Explained(table, {name: code_of(ASKED[name], values[name]) for name in seen}).states()
        harmless = next(state.probability for state in states if state.place == 0)
        lead = next(each for each in answer.summary if not each.startswith("Nothing was entered"))
        leads.add(lead.split()[0])
        assert lead.startswith("All states that can kill") == (in_danger(states) >= harmless)
        assert any(each.startswith("All states that can kill or burn") for each in answer.summary)
        assert any(row.label.startswith("All states that can kill") for row in answer.tables[0].rows)
    assert leads == {"All", "Most"}


def test_the_faults_that_it_does_not_know_are_those_that_it_says() -> None:
    unknown = KINDS.keys() - {kind for kind, _ in PRIORS}
    here = {kind for kind in unknown if not KINDS[kind].beyond_meter}
    assert {kind for kind in here if not any(said in kind for said in ("neutral", "sheath", "line"))} == set()
