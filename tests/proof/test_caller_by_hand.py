"""What callers of hand-made streets notice, held against each street alone, and where it leads them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import streets
from batches import as_drawn, batch_of, parted

from build_tools.guide.loading import load
from build_tools.guide.trees import Tree
from build_tools.proof.caller_model import Caller, Mistakes, matter, mistakes, outcomes
from build_tools.proof.counting import visited_streets
from build_tools.proof.street_batch import StreetBatch, batched
from calc.circuit import EARTH
from calc.danger import touched_points
from calc.drawn_streets import Drawn
from calc.street import Network, Street, network
from calc.symptoms import OFF_BELOW_VOLTS, home_volts
from calc.work import as_worked, done

NONE: frozenset[str] = frozenset()
LIGHT, HEAVY = {"12": (0.4,), "14": (0.4,)}, {"12": (0.2,), "14": (9.0,)}


def caller_of(batch: StreetBatch) -> Caller:
    return Caller(batch, visited_streets(batch))


def with_loads(street: Street, loads: dict[str, tuple[float, ...]]) -> Street:
    homes = {
        home: replace(one, load_kw=loads.get(home, one.load_kw)) for home, one in street.premises.items()
    }
    return replace(street, premises=homes)


def now_and_later(drawn: Drawn, batch: StreetBatch, place: int) -> list[Network]:
    """The street with its fault, as it is and once its loads have changed."""
    fault = batch.fault(place)
    return [
        fault.applied_to(network(each)) for each in (drawn.street, with_loads(drawn.street, drawn.later_kw))
    ]


def felt_ma(alone: Network, home: str, body: float) -> float:
    """The milliamperes through a body at the worst thing that is touched."""
    volts = (
        (abs(alone.solution.volts(metal, EARTH)), metal, alone.solution.impedance_between(metal, EARTH))
        for metal in touched_points(alone, home)
    )
    return max(1000 * each / abs(body + ohm) for each, _, ohm in volts)


@pytest.mark.parametrize("kind", ["mains-pen-open", "protective-conductor-lost", "main-earth-lost"])
@pytest.mark.parametrize(("loads", "later"), [(LIGHT, HEAVY), (HEAVY, LIGHT)])
def test_a_tingle_is_felt_from_the_current_that_a_caller_feels(
    kind: str, loads: dict[str, tuple[float, ...]], later: dict[str, tuple[float, ...]]
) -> None:
    """Of whatever is touched, and whether the loads are as they are now or as they come to be."""
    street = with_loads(streets.pair(pipe_earth_ohm=200), loads)
    one = as_drawn(street, later_kw=later, caller={"caller-body-ohm": 1500.0})
    (batch,) = [batch_of(one, kind=kind)]
    most = max(felt_ma(alone, "12", 1500) for alone in now_and_later(one, batch, 0))
    drawn = [replace(one, caller={**one.caller, "caller-feels-ma": most * by}) for by in (0.99, 1.01, 0.99)]
    caller = caller_of(batch_of(*drawn, kind=kind))
    assert caller.noticed("tingle").tolist() == [True, False, True]
    assert caller.words("tingle").tolist() == ["felt", "none", "felt"]
    assert (caller.words("noticed") == "tingle").tolist() == [True, False, True]
    assert caller.words("danger").tolist() == ["yes", "no", "yes"]


@pytest.mark.parametrize("side", ["dim", "bright"])
@pytest.mark.parametrize("when", [0, 1])
def test_lights_change_by_the_volts_above_those_of_the_sound_street(side: str, when: int) -> None:
    """Now or later, against the same street without its fault under the same loads."""
    loads = [LIGHT, HEAVY if side == "bright" else {"12": (9.0,), "14": (0.2,)}]
    street = with_loads(streets.pair(), loads[1 - when])
    one = as_drawn(street, later_kw=loads[when])
    batch = batch_of(one, kind="mains-pen-high")
    sound = [network(each) for each in (street, with_loads(street, one.later_kw))]
    change = [
        home_volts(bad, "12") - home_volts(good, "12")
        for bad, good in zip(now_and_later(one, batch, 0), sound, strict=True)
    ]
    greatest = max(change) if side == "bright" else -min(change)
    assert greatest > 1 and abs(change[when]) == pytest.approx(greatest)
    sees = [replace(one, caller={**one.caller, "caller-sees-volts": greatest * by}) for by in (0.99, 1.01)]
    assert caller_of(batch_of(*sees, kind="mains-pen-high")).words("lights").tolist() == [side, "steady"]


def test_a_dip_by_ones_own_kettle_is_seen_from_a_share_of_the_volts() -> None:
    one = as_drawn(streets.pair())
    alone = batch_of(one, kind="service-pen-high").fault(0).applied_to(network(one.street))
    kettle = replace(alone.branches["12/load.L1"], name="12/known_load", impedance=230**2 / 2300)
    worked = as_worked(alone, done(frozenset(), "switch-on-known-load", "12")).changed(kettle)
    before, after = home_volts(alone, "12"), home_volts(worked, "12")
    dip = (before - after) / before
    sees = [replace(one, caller={**one.caller, "caller-sees-dip": dip * by}) for by in (0.99, 1.01)]
    caller = caller_of(batch_of(*sees, kind="service-pen-high"))
    assert dip > 0 and caller.words("lights").tolist() == ["dim", "steady"]
    assert caller.noticed("dim").tolist() == [True, False] and not caller.noticed("bright").any()


def test_off_is_no_change_of_lights_and_is_told_of_here_and_beside() -> None:
    """Of homes in a row with no pipe one has lost its line: those beside it see it off."""
    street = parted(streets.terrace())
    drawn = [
        as_drawn(street, home, shares=(0.0, share), caller={"caller-sees-dip": 0.0})
        for home, share in (("2", 0.0), ("4", 0.0), ("6", 0.0), ("6", 0.5))
    ]
    batch = batch_of(*drawn, kind="line-open")
    assert [batch.fault(n).homes(street) for n in range(4)] == [("2",)] * 3 + [("8",)]
    caller = caller_of(batch)
    assert home_volts(batch.fault(0).applied_to(network(street)), "2") < OFF_BELOW_VOLTS
    assert caller.noticed("off").tolist() == [True, False, False, False]
    assert caller.words("lights").tolist() == ["steady", "dim", "dim", "dim"], "who has supply sees a dip"
    assert caller.words("neighbour").tolist() == ["off", "off", "on", "off"]
    assert caller.words("noticed").tolist() == ["off", "dim", "dim", "dim"], "a dip is told before a supply"
    assert caller.words("neighbours").tolist() == ["yes"] * 4, "a dip next door"
    quiet = [replace(each, caller={**each.caller, "caller-sees-dip": 1.0}) for each in drawn]
    assert caller_of(batch_of(*quiet, kind="line-open")).words("neighbours").tolist() == ["no"] * 4


def test_bright_lights_are_a_danger_too_and_what_is_not_known_is_usual() -> None:
    seen = [as_drawn(streets.pair(), caller={"caller-sees-volts": volts}) for volts in (0.0, 1e6)]
    caller = caller_of(batch_of(*seen))
    assert caller.words("danger").tolist() == ["yes", "no"] and not caller.noticed("tingle").any()
    assert caller.words("noticed").tolist() == ["bright", "steady"]
    assert caller.words("other").tolist() == ["usual"] * 2
    with pytest.raises(KeyError, match="weather"):
        caller.words("weather")


def test_who_is_in_danger_is_so_at_home_and_now() -> None:
    """Not next door, and not by loads that come later."""
    faulty = batch_of(as_drawn(streets.pair()), as_drawn(streets.pair(), "14"), kind="main-earth-lost")
    apart = parted(streets.terrace())
    lost = batch_of(*(as_drawn(apart, home) for home in ("2", "4")), kind="service-pen-open")
    assert caller_of(lost).in_danger().tolist() == [True, False]
    assert not caller_of(faulty.sound).in_danger().any()
    high, uneven = streets.pair(volts=252), {"12": (0.1,), "14": (100.0,)}
    later = as_drawn(high, later_kw=uneven)
    now = as_drawn(with_loads(high, uneven))
    caller = caller_of(batch_of(later, now))
    assert caller.in_danger().tolist() == [False, True]


CALL = """
title: A call
audience: call
about: Made for its words.
review_by: 2099-01-01
sources: [model]
start: lights
nodes:
  lights: {question: Lights?, caller: lights, answers: [
    {answer: Bright, is: bright, go: bright}, {answer: Dim, is: dim, go: say},
    {answer: As ever, is: steady, go: other}]}
  say: {step: Say so., go: again}
  again: {question: And now?, caller: lights, answers: [
    {answer: Bright, is: bright, go: bright}, {answer: Dim, is: dim, go: dim},
    {answer: As ever, is: steady, go: other}]}
  other: {question: Anything else?, answers: [
    {answer: Nothing, is: usual, go: round}, {answer: Something, is: odd, go: bright}]}
  round: {step: Once more., go: lights-again}
  lights-again: {question: Dim?, caller: lights, answers: [
    {answer: Dim, is: dim, go: dim}, {answer: Steady, is: steady, go: other},
    {answer: Bright, is: bright, go: bright}]}
  bright: {outcome: Bright., priority: emergency, hand_over: Somebody.}
  dim: {outcome: Dim., priority: urgent, hand_over: Somebody.}
"""


@pytest.fixture(scope="module")
def call(tmp_path_factory: pytest.TempPathFactory) -> Tree:
    folder = tmp_path_factory.mktemp("guide")
    (folder / "trees" / "call").mkdir(parents=True)
    (folder / "trees" / "call" / "words.yaml").write_text(CALL, "utf-8")
    return load(Path(folder)).trees["words"]


def test_a_call_is_led_by_what_is_noticed_and_goes_round_once(call: Tree) -> None:
    """Bright to its end, dim by a step and a question more, steady round to what was asked before."""
    senses = ({"caller-sees-volts": 0.0}, {"caller-sees-dip": 0.0}, {})
    batch = batch_of(*(as_drawn(streets.pair(), caller=each) for each in senses))
    ends = outcomes(call, caller_of(batch), 1, Mistakes(0.0))
    assert {node: mask.tolist() for node, mask in ends.items()} == {
        "bright": [True, False, False],
        "dim": [False, True, False],
    }


def test_who_errs_at_each_question_errs_each_time_anew(call: Tree) -> None:
    """Half of all answers are wrong: a quarter of the callers with dim lights come to the end for them by two
    right answers, more by others."""
    many = 900
    dim = as_drawn(streets.pair(), caller={"caller-sees-dip": 0.0})
    ends = outcomes(call, caller_of(batch_of(*[dim] * many)), 1, Mistakes(0.5))
    assert (np.sum(list(ends.values()), axis=0) <= 1).all()
    # right twice; or bright by mistake; or steady by mistake, nothing else by no mistake, then dim by none
    assert ends["dim"].mean() == pytest.approx(0.25 + 0.125 * 0.5 * 0.5 + 0.25 * 0.5 * 0.5, abs=0.05)


TWICE = """
title: A call
audience: call
about: Made for its words.
review_by: 2099-01-01
sources: [model]
start: first
nodes:
  first: {question: Lights?, caller: lights, matter: MATTER, answers: [
    {answer: Bright, is: bright, go: odd}, {answer: Dim, is: dim, go: odd},
    {answer: As ever, is: steady, go: second}]}
  odd: {question: Odd?, caller: danger, matter: MATTER, answers: [
    {answer: It is, is: "yes", go: both}, {answer: It is not, is: "no", go: first-wrong}]}
  second: {question: Odd?, caller: danger, matter: MATTER, answers: [
    {answer: It is, is: "yes", go: second-wrong}, {answer: It is not, is: "no", go: neither}]}
  both: {outcome: Wrong twice., priority: emergency, hand_over: Somebody.}
  first-wrong: {outcome: Wrong at first., priority: urgent, hand_over: Somebody.}
  second-wrong: {outcome: Wrong later., priority: urgent, hand_over: Somebody.}
  neither: {outcome: Never wrong., priority: urgent, hand_over: Somebody.}
"""
"""Whoever notices nothing is asked for it twice."""


def shares(tmp_path: Path, err: Mistakes, matters: tuple[str, str] = ("seen", "seen")) -> dict[str, float]:
    """The share of 4,000 callers who notice nothing at each end of TWICE."""
    text = TWICE
    first, second = matters
    text = text.replace("MATTER", first, 1).replace("MATTER", second)
    (tmp_path / "trees" / "call").mkdir(parents=True)
    (tmp_path / "trees" / "call" / "twice.yaml").write_text(text, "utf-8")
    tree = load(tmp_path).trees["twice"]
    batch = batch_of(*[as_drawn(streets.pair())] * 4_000)
    ends = outcomes(tree, caller_of(batch), 1, err)
    return {end: float(mask.mean()) for end, mask in ends.items()}


def test_who_got_a_matter_wrong_gets_it_wrong_again_as_often_as_is_stated(tmp_path: Path) -> None:
    """By hand, with one answer in five wrong and 0.3 of the lots kept: of the mistaken 0.3 + 0.7 * 0.2 are so
    again, of the others 0.7 * 0.2; one in five is wrong at either asking."""
    ends = shares(tmp_path, Mistakes(0.2, 0.3))
    assert ends["both"] == pytest.approx(0.2 * (0.3 + 0.7 * 0.2), abs=0.015)
    assert ends["first-wrong"] == pytest.approx(0.2 * 0.7 * 0.8, abs=0.015)
    assert ends["second-wrong"] == pytest.approx(0.8 * 0.7 * 0.2, abs=0.02)
    assert ends["both"] + ends["first-wrong"] == pytest.approx(0.2, abs=0.02)
    assert ends["both"] + ends["second-wrong"] == pytest.approx(0.2, abs=0.02)


def test_with_no_lot_kept_mistakes_are_apart_and_with_all_kept_they_are_one(tmp_path: Path) -> None:
    apart = shares(tmp_path / "apart", Mistakes(0.2, 0.0))
    assert apart["both"] == pytest.approx(0.2 * 0.2, abs=0.01)
    one = shares(tmp_path / "one", Mistakes(0.2, 1.0))
    assert set(one) == {"both", "neither"} and one["both"] == pytest.approx(0.2, abs=0.02)


def test_mistakes_about_two_matters_are_apart(tmp_path: Path) -> None:
    ends = shares(tmp_path, Mistakes(0.2, 1.0), ("seen", "felt"))
    assert ends["both"] == pytest.approx(0.2 * 0.2, abs=0.01)


def test_a_call_ends_the_same_with_whatever_streets_it_is_counted(call: Tree) -> None:
    """One matter is asked more than once on the way; each street alone, some, and all of them."""
    sees = {"caller-sees-dip": 0.0}
    drawn = [as_drawn(streets.pair(), number=number, caller=sees) for number in range(40)]

    def ends(some: list[Drawn]) -> dict[int, str]:
        (batch,) = batched(some)
        found = outcomes(call, caller_of(batch), 7, Mistakes(0.5, 0.5))
        return {batch.drawn[i].number: end for end, mask in found.items() for i in np.flatnonzero(mask)}

    whole = ends(drawn)
    assert len(set(whole.values())) == 2
    assert ends(drawn[::-3]) == {one.number: whole[one.number] for one in drawn[::-3] if one.number in whole}
    for one in drawn[:6]:
        assert ends([one]) == {number: end for number, end in whole.items() if number == one.number}


def test_what_a_question_is_about(tmp_path: Path, call: Tree) -> None:
    """Its matter; without one what it is answered by; of what the model knows nothing of, itself alone."""
    assert [matter(call.nodes[id_]) for id_ in ("lights", "again", "other")] == ["lights", "lights", "other"]
    shares(tmp_path, Mistakes(0.0))
    assert matter(load(tmp_path).trees["twice"].nodes["odd"]) == "seen"


def test_the_sampling_says_how_callers_err() -> None:
    """Project choice: one answer in twenty, and three times in ten as the last time."""
    sampling = load(Path(__file__).parents[2] / "guide_src").sampling
    assert sampling is not None and mistakes(sampling) == Mistakes(0.05, 0.3)
