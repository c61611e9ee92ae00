"""What is left of a street when anything, or anything of the same shape, will do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from build_tools.guide.loading import load
from build_tools.proof.counterexample import Counterexample
from build_tools.proof.shrinking import MOST_TRIALS, shrunk
from calc.drawn_streets import draw
from calc.faults import KINDS, parse_one

GUIDE = Path(__file__).parents[2] / "guide_src"
ENOUGH = 5000
SHAPES = 6


@pytest.fixture(scope="module")
def drawn() -> list[Counterexample]:
    """Drawn streets of several homes, with an open service PEN at the last one."""
    sampling = load(GUIDE).sampling
    assert sampling is not None
    found = []
    for number in range(200):
        one = draw(sampling.plain, number)
        homes = list(one.street.premises)
        if len(homes) > 3 and len(one.street.mains) > 1 and len(found) < SHAPES:
            found.append(
                Counterexample(
                    "found",
                    "tree",
                    f"service-pen-open@{homes[-1]}",
                    homes[-1],
                    sampling.seed,
                    number,
                    one.meters,
                    one.caller,
                    one.known_load_kw,
                    one.later_kw,
                    one.street,
                )
            )
    assert len(found) == SHAPES
    return found


def digits(value: float) -> int:
    """How many digits a figure is written with."""
    return len(f"{value:.12g}".replace(".", "").replace("-", "").lstrip("0").rstrip("0").partition("e")[0])


def kept(shape: Callable[[Counterexample], object], worst: Counterexample) -> Counterexample:
    """Cut down to what has the same shape."""
    return shrunk(worst, lambda one: shape(one) == shape(worst), ENOUGH)


def test_where_anything_fails_next_to_nothing_is_left(drawn: list[Counterexample]) -> None:
    for worst in drawn:
        left = shrunk(worst, lambda _: True, ENOUGH)
        street = left.street
        assert list(street.premises) == [worst.home] == list(left.later_kw)
        assert len(street.mains) == 1 and street.mains[0].between[0] == "substation"
        assert street.electrodes == ()
        assert all(metal.joins == (worst.home,) or not metal.pairs for metal in street.metalwork)
        assert set(left.meters.values()) == {0.0} and left.meters.keys() == worst.meters.keys()
        assert left.later_kw == {worst.home: street.premises[worst.home].load_kw}
        assert left.known_load_kw == 2.4
        assert (left.fault, left.home, left.seed, left.number) == (
            worst.fault, worst.home, worst.seed, worst.number,
        )  # fmt: skip
        assert all(digits(value) == 1 for value in left.caller.values())


def test_where_nothing_else_fails_all_is_left(drawn: list[Counterexample]) -> None:
    for worst in drawn[:2]:
        assert shrunk(worst, lambda _: False) == worst


def test_what_cannot_be_solved_shows_nothing(drawn: list[Counterexample]) -> None:
    def stumbles(_: Counterexample) -> bool:
        raise ZeroDivisionError

    assert shrunk(drawn[0], stumbles) == drawn[0]


@pytest.mark.parametrize("most", [0, 1, 7, MOST_TRIALS])
def test_no_more_is_tried_than_is_said(drawn: list[Counterexample], most: int) -> None:
    tried: list[Counterexample] = []

    def fails(one: Counterexample) -> bool:
        tried.append(one)
        return len(tried) % 2 == 0

    worst = drawn[0]
    left = shrunk(worst, fails, most)
    assert len(tried) <= most and (len(tried) == most or most == MOST_TRIALS)
    assert (left == worst) == (most < 2)
    assert worst not in tried


def test_every_home_that_is_needed_gets_plain_figures(drawn: list[Counterexample]) -> None:
    for worst in drawn:
        left = kept(lambda one: (list(one.street.premises), len(one.street.mains)), worst)
        for home, each in left.street.premises.items():
            assert set(each.load_kw) <= {0.1, 1.0}
            assert set(left.later_kw[home]) <= {0.1, 1.0}
            assert (each.service.metres, each.main_earth.metres, each.power_factor) == (10, 3, 1)
            assert each.third_harmonic == 0 and not any(each.generation_kw)
        assert left.street.load_law == "ohms"
        assert {span.metres for span in left.street.mains} == {50}
        supply = left.street.supply
        assert (supply.rating_kva, supply.impedance_percent) == (315, 4.5)
        assert (supply.star_point_earth_ohm, supply.volts) == (1, 240)


def test_joints_and_electrodes_that_are_needed_get_plain_figures(drawn: list[Counterexample]) -> None:
    for worst in drawn:
        left = kept(lambda one: [electrode.at for electrode in one.street.electrodes], worst)
        assert [electrode.ohm for electrode in left.street.electrodes] == [20] * len(left.street.electrodes)
        assert len(left.street.electrodes) > 1


def test_a_pipe_that_is_needed_is_whole_and_plain(drawn: list[Counterexample]) -> None:
    def whole(one: Counterexample) -> list[tuple[str, str]]:
        return [pair for metal in one.street.metalwork for pair in metal.pairs if metal.is_whole(pair)]

    seen = 0
    for worst in drawn:
        if not whole(worst):
            continue
        seen += 1
        left = kept(lambda one: (whole(one), any(m.earth_ohm_each for m in one.street.metalwork)), worst)
        assert whole(left) == whole(worst)
        assert {metal.earth_ohm_each for metal in left.street.metalwork} <= {20, None}
        assert {metal.joint_ohm for metal in left.street.metalwork} <= {0, 0.01}
        assert {metal.metres for metal in left.street.metalwork} == {10}
    assert seen


def test_a_pipe_that_only_has_to_be_there_joins_nobody(drawn: list[Counterexample]) -> None:
    """It stays at every home, but is parted between them, lies in no soil and has no joints."""
    for worst in drawn:
        left = kept(lambda one: [metal.joins for metal in one.street.metalwork], worst)
        for metal in left.street.metalwork:
            assert not any(metal.is_whole(pair) for pair in metal.pairs)
            assert (metal.unrecorded, metal.earth_ohm_each, metal.joint_ohm) == ((), None, 0)
    assert any(
        metal.is_whole(pair) for one in drawn for metal in one.street.metalwork for pair in metal.pairs
    )


def test_a_joint_gone_bad_is_as_bad_as_usual_or_a_plain_figure(drawn: list[Counterexample]) -> None:
    worst = replace(drawn[0], fault=f"service-pen-high@{drawn[0].home}=0.8374")
    usual = KINDS["service-pen-high"].ohm
    assert parse_one(shrunk(worst, lambda _: True, ENOUGH).fault).ohm == usual
    for least, plain in ((0.79, 0.8), (0.83, 0.84)):
        left = shrunk(worst, lambda one, least=least: least < (parse_one(one.fault).ohm or 0) < 0.85, ENOUGH)
        assert parse_one(left.fault).ohm == plain


def test_what_a_caller_needs_is_plain(drawn: list[Counterexample]) -> None:
    worst = drawn[0]
    name, value = max(worst.caller.items(), key=lambda one: digits(one[1]))
    left = shrunk(worst, lambda one: abs(one.caller[name] / value - 1) < 0.005, ENOUGH)
    assert digits(left.caller[name]) <= digits(value) and left.known_load_kw == 2.4


def test_a_meter_that_has_to_err_errs_by_one_digit(drawn: list[Counterexample]) -> None:
    for worst in drawn:
        name = max(worst.meters, key=lambda one: abs(worst.meters[one]))
        left = kept(lambda one, name=name: one.meters[name] != 0, worst)
        assert {other for other, value in left.meters.items() if value} == {name}
        assert digits(left.meters[name]) == 1


def test_loads_that_have_to_stay_are_made_plain_together(drawn: list[Counterexample]) -> None:
    def now(one: Counterexample) -> dict[str, tuple[float, ...]]:
        return {home: each.load_kw for home, each in one.street.premises.items()}

    for worst in drawn[:2]:
        steady = replace(worst, later_kw=now(worst))
        left = kept(lambda one: (one.later_kw == now(one), list(one.street.premises)), steady)
        assert left.later_kw == now(left)
        assert {load for loads in now(left).values() for load in loads} <= {0.1, 1.0}


def test_a_load_that_has_to_change_is_the_only_one(drawn: list[Counterexample]) -> None:
    for worst in drawn:
        now = {home: each.load_kw for home, each in worst.street.premises.items()}
        if worst.later_kw[worst.home] == now[worst.home]:
            continue

        def changes(one: Counterexample) -> tuple[bool, list[str]]:
            here = one.street.premises[one.home].load_kw
            return one.later_kw[one.home] != here, list(one.street.premises)

        left = kept(changes, worst)
        others = {home: each.load_kw for home, each in left.street.premises.items() if home != left.home}
        assert others == {home: loads for home, loads in left.later_kw.items() if home != left.home}


def test_a_home_without_neighbours_keeps_its_pipe_whole_across_them(drawn: list[Counterexample]) -> None:
    """Two homes at the ends of a pipe stay joined when those between them go, or stay parted."""
    for worst in drawn:
        first = next(iter(worst.street.premises))
        shared = first in worst.street.sharing_metalwork(worst.home)

        def ends(one: Counterexample, first: str = first) -> tuple[bool, bool]:
            there = first in one.street.premises
            return there, there and first in one.street.sharing_metalwork(one.home)

        left = kept(ends, worst)
        assert set(left.street.premises) == {first, worst.home}
        assert (first in left.street.sharing_metalwork(worst.home)) == shared


@pytest.mark.parametrize("place", [0, -1])
def test_of_several_electrodes_the_one_that_is_needed_stays(drawn: list[Counterexample], place: int) -> None:
    for worst in drawn:
        needed = worst.street.electrodes[place].at
        assert len(worst.street.electrodes) > 1
        left = kept(lambda one, needed=needed: needed in [each.at for each in one.street.electrodes], worst)
        assert [each.at for each in left.street.electrodes] == [needed]
