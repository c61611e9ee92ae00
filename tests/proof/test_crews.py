"""Crews: as often as stated, each from a stream of its own, and moved by nothing else."""

from __future__ import annotations

import pytest
from scipy import stats

from build_tools.proof.crews import PERFECT, SCREENS, Crews
from calc.minutes import CHANCES

HOMES = ("1", "2", "3")
MANY = range(3000)


def drawn(numbers: object = MANY, **chances: float) -> Crews:
    stated = {name.replace("_", "-"): chance for name, chance in chances.items()}
    return Crews.drawn(7, numbers, HOMES, {**PERFECT, **stated})  # type: ignore[arg-type]


def test_a_perfect_crew_wants_nothing_and_errs_in_nothing() -> None:
    crews = drawn()
    assert not any(vars(crews)[name] for name in ("no_record", "record_wrong", "eye_misses", "jaw_open"))
    assert not any(crews.out.values()) and not any(crews.hidden.values()) and not crews.unsteady
    assert all(both == (0, 0) for both in crews.flat.values())
    assert PERFECT.keys() == CHANCES.keys()


@pytest.mark.parametrize(
    ("name", "chance"),
    [
        ("no_record", "no-record"),
        ("record_wrong", "record-wrong"),
        ("eye_misses", "eye-misses"),
        ("stays_here", "stays-here"),
        ("says_nothing", "record-says-nothing"),
        ("jaw_open", "jaw-not-closed"),
    ],
)
def test_as_often_as_stated(name: str, chance: str) -> None:
    found = vars(drawn(**{chance: 0.3}))
    assert stats.binomtest(found[name].bit_count(), len(MANY), 0.3).pvalue > 1e-4
    others = {"no_record", "record_wrong", "eye_misses", "stays_here", "says_nothing", "jaw_open"} - {name}
    assert not any(found[other] for other in others)


@pytest.mark.parametrize(("name", "chance"), [("no_soil", "no-soil"), ("hidden", "main-earth-hidden")])
def test_at_each_home_as_often_as_stated(name: str, chance: str) -> None:
    found = vars(drawn(**{chance: 0.3}))[name]
    assert found.keys() == set(HOMES)
    assert all(stats.binomtest(found[home].bit_count(), len(MANY), 0.3).pvalue > 1e-4 for home in HOMES)
    assert len({found[home] for home in HOMES}) == len(HOMES)


def test_a_display_that_never_holds_still_does_not_on_any_screen() -> None:
    crews = drawn([4, 5], not_steady=1.0)
    assert dict(crews.unsteady) == dict.fromkeys(range(SCREENS), 0b11)
    assert crews.size == 2 and drawn([4], jaw_share=0.25).jaw_share == 0.25


def test_neighbours_are_out_each_by_itself() -> None:
    out = drawn(neighbour_out=0.45).out
    counted = [out[home].bit_count() for home in HOMES]
    assert all(stats.binomtest(n, len(MANY), 0.45).pvalue > 1e-4 for n in counted)
    both = (out["1"] & out["2"]).bit_count()
    assert stats.binomtest(both, len(MANY), 0.45**2).pvalue > 1e-4


def test_displays_do_not_hold_still_once_in_so_many_screens() -> None:
    unsteady = drawn(range(300), not_steady=0.01).unsteady
    assert max(unsteady) < 2000 and min(unsteady) >= 0
    for first, last in ((0, 100), (100, 2000)):
        found = sum(unsteady[screen].bit_count() for screen in range(first, last) if screen in unsteady)
        assert stats.binomtest(found, 300 * (last - first), 0.01).pvalue > 1e-4
    assert {drawn([4], not_steady=1.0).unsteady[screen] for screen in range(50)} == {1}


def test_one_tester_is_flat_and_shows_0_or_nothing() -> None:
    flat = drawn(flat_meter=1.0).flat
    together = 0
    for zero, nothing in flat.values():
        assert zero.bit_count() > 150 and nothing.bit_count() > 150
        assert not (zero | nothing) & together and not zero & nothing
        together |= zero | nothing
    assert together.bit_count() == len(MANY)


def test_a_chance_that_changes_moves_nothing_else() -> None:
    one = drawn(neighbour_out=0.45, no_soil=0.25, not_steady=0.01)
    other = drawn(neighbour_out=0.1, no_soil=0.25, not_steady=0.01, no_record=0.9, flat_meter=1.0)
    assert one.no_soil == other.no_soil and one.unsteady == other.unsteady
    assert all(other.out[home] & ~one.out[home] == 0 for home in HOMES)  # fewer, and of the same


def test_a_crew_is_the_same_wherever_its_street_is_drawn() -> None:
    whole, alone = (
        drawn(range(20), neighbour_out=0.5, no_record=0.5),
        drawn([13], neighbour_out=0.5, no_record=0.5),
    )
    assert whole.no_record >> 13 & 1 == alone.no_record
    assert all(whole.out[home] >> 13 & 1 == alone.out[home] for home in HOMES)
