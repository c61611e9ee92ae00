"""What is left of a street when anything, or anything of the same shape, will do."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest
import streets
from batches import as_drawn

from build_tools.guide.loading import load
from build_tools.proof.counterexample import Counterexample
from build_tools.proof.shrinking import MOST_TRIALS, shrunk
from calc.drawn_streets import draw
from calc.faults import KINDS, parse_one
from calc.street import Conductor, Electrode, Metalwork, Service, Span, Street, Supply

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


def by_hand(street: Street, fault: str, home: str, **more: Any) -> Counterexample:
    """A street with meters and a caller that are as plain as can be."""
    drawn = as_drawn(street)
    meters, caller = dict.fromkeys(drawn.meters, 0.0), dict.fromkeys(drawn.caller, 1.0)
    whole = Counterexample("found", "tree", fault, home, 7, 30, meters, caller, 2.4, drawn.later_kw, street)
    return replace(whole, **more)


def figures(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every figure and word of a record, by where it stands."""
    if isinstance(value, dict | tuple):
        within = value.items() if isinstance(value, dict) else enumerate(value)
        for name, each in within:
            yield from figures(each, f"{path}.{name}".lstrip("."))
    else:
        yield path, value


def tried(worst: Counterexample) -> list[Counterexample]:
    """Every simplification that is tried on it, in their order: none of them is kept."""
    asked: list[Counterexample] = []
    assert shrunk(worst, asked.append, ENOUGH) is worst  # type: ignore[arg-type]
    return asked


def changes(worst: Counterexample) -> list[dict[str, Any]]:
    """What stands otherwise in each of them; None where it is gone."""
    before = dict(figures(asdict(worst)))
    found = []
    for one in tried(worst):
        now = dict(figures(asdict(one)))
        found.append({path: now.get(path) for path in {**before, **now} if now.get(path) != before.get(path)})
    return found


def plain_street(**parts: Any) -> Street:
    """Homes 12 and 14 with nothing left to make plain."""
    premises = {name: streets.home(kw=1.0, service=Service(10, "service-25-cu-cne")) for name in ("12", "14")}
    given = {
        "title": "Plain",
        "supply": Supply(315, 4.5, 1),
        "mains": (Span(("substation", "J1"), 50, "mains-185-al-cne"),),
        "premises": premises,
    }
    return Street(**{**given, **parts})


def test_each_figure_is_tried_as_usual_and_with_two_digits() -> None:
    """A load as 0.1, as 1 and with two digits; where it stays as it is later, later as well."""
    rough = {
        name: streets.home(
            kw=kw,
            service=Service(12.3, "service-25-cu-cne"),
            main_earth=Conductor(3.21, 16),
            power_factor=0.953,
            third_harmonic=0.123,
            generation_kw=(1.5,),
        )
        for name, kw in (("12", 1.44), ("14", 2.66))
    }
    street = plain_street(
        premises=rough,
        load_law="watts",
        mains=(
            Span(("substation", "J1"), 51.6, "mains-185-al-cne"),
            Span(("J1", "J2"), 47.3, "mains-95-al-cne"),
        ),
        supply=Supply(333, 4.44, 1.11, volts=243.2),
        electrodes=(Electrode("J1", 21.2), Electrode("J2", 22.7)),
    )
    worst = by_hand(street, "service-pen-open@12", "12", known_load_kw=2.44)
    worst = replace(
        worst, later_kw={**worst.later_kw, "12": (0.555,)}, meters={**worst.meters, "a": 0.0123, "b": 0.0456}
    )
    found = changes(worst)
    start = found.index({"street.load_law": "ohms"})

    def two(path: str, usual: float, plain: float) -> list[dict[str, Any]]:
        return [{f"street.{path}": usual}, {f"street.{path}": plain}]

    expected: list[dict[str, Any]] = [{"street.load_law": "ohms"}]
    for home, loads, also in (("12", (0.1, 1.0, 1.4), False), ("14", (0.1, 1.0, 2.7), True)):
        at = f"premises.{home}"
        expected += [
            {f"street.{at}.load_kw.0": load} | ({f"later_kw.{home}.0": load} if also else {})
            for load in loads
        ]
        expected += two(f"{at}.service.metres", 10.0, 12.0) + two(f"{at}.main_earth.metres", 3.0, 3.2)
        expected += two(f"{at}.power_factor", 1.0, 0.95) + two(f"{at}.third_harmonic", 0.0, 0.12)
        expected += [{f"street.{at}.generation_kw.0": None}]
        expected += [{f"later_kw.{home}.0": load} for load in ((0.1, 1.0, 2.7) if also else (0.1, 1.0, 0.56))]
    expected += two("mains.0.metres", 50.0, 52.0) + two("mains.1.metres", 50.0, 47.0)
    expected += two("electrodes.0.ohm", 20.0, 21.0) + two("electrodes.1.ohm", 20.0, 23.0)
    expected += two("supply.rating_kva", 315.0, 330.0) + two("supply.impedance_percent", 4.5, 4.4)
    expected += two("supply.star_point_earth_ohm", 1.0, 1.1) + two("supply.volts", 240.0, 240.0)
    expected += [{"meters.a": 0.01}, {"meters.b": 0.05}, {"known_load_kw": 2.4}]
    assert found[start:] == expected


def test_each_pipe_and_electrode_is_tried_with_less_of_it() -> None:
    """Without its home at either end, cut between two homes, in no soil, with no joint; a pipe that is cut
    there, or joins nobody, has less to lose."""
    water = Metalwork("water", "lead", ("12", "14"), 11.3, joint_ohm=0.0123, earth_ohm_each=33.3)
    steel = replace(water, name="steel", unrecorded=(("12", "14"),), joint_ohm=0.0, earth_ohm_each=None)
    gas = replace(steel, name="gas", metres=10, unrecorded=(), gaps=(("14", "12"),))
    alone = replace(gas, name="oil", joins=("14",), gaps=())
    electrodes = (Electrode("J1", 20), Electrode("J2", 30))
    pipes = (water, steel, gas, alone)
    mains = tuple(Span(ends, 50, "mains-185-al-cne") for ends in (("substation", "J1"), ("J1", "J2")))
    street = plain_street(mains=mains, metalwork=pipes, electrodes=electrodes)
    worst = by_hand(street, "service-pen-open@12", "12")
    found = [one for one in tried(worst) if (len(one.street.mains), len(one.street.premises)) == (2, 2)]
    without, parted = {"joins": ("14",)}, {"gaps": (("12", "14"),), "unrecorded": ()}
    instead = [
        (0, without),
        (0, {"joins": ("12",)}),
        (0, parted),
        (0, {"earth_ohm_each": None}),
        (0, {"joint_ohm": 0.0}),
        (1, {**without, "unrecorded": ()}),
        (1, {"joins": ("12",), "unrecorded": ()}),
        (1, parted),
        (2, {**without, "gaps": ()}),
        (2, {"joins": ("12",), "gaps": ()}),
        *((0, {"metres": metres}) for metres in (10.0, 11.0)),
        *((0, {"joint_ohm": ohm}) for ohm in (0.01, 0.012)),
        *((0, {"earth_ohm_each": ohm}) for ohm in (20.0, 33.0)),
        *((1, {"metres": metres}) for metres in (10.0, 11.0)),
    ]
    expected = [
        (*pipes[:place], replace(pipes[place], **new), *pipes[place + 1 :])  # type: ignore[arg-type]
        for place, new in instead
    ]
    assert [one.street.electrodes for one in found[:2]] == [electrodes[1:], electrodes[:1]]
    assert [one.street.metalwork for one in found[2:-1]] == expected
    assert found[-1].street.electrodes[1].ohm == 20


def test_people_are_tried_as_plain_as_can_be() -> None:
    """All meters perfect, then each; loads that stay, all and each; the usual known load; a plain caller."""
    street = plain_street()
    worst = by_hand(street, "service-pen-high@12=0.8374", "12", known_load_kw=2.7)
    worst = replace(
        worst,
        meters={"a": 0.02, "b": 0.03},
        later_kw={"12": (0.1,), "14": (0.1,)},
        caller={"c": 1.234, "d": 56.78},
    )
    usual = f"service-pen-high@12={KINDS['service-pen-high'].ohm:g}"
    stays = {f"later_kw.{home}.0": 1.0 for home in ("12", "14")}
    expected: list[dict[str, Any]] = [
        *({"fault": fault} for fault in (usual, "service-pen-high@12=0.8", "service-pen-high@12=0.84")),
        {"meters.a": 0.0, "meters.b": 0.0},
        {"meters.a": 0.0},
        {"meters.b": 0.0},
        stays,
        *({path: load} for path, load in stays.items()),
        {"known_load_kw": 2.4},
        {"caller.c": 1.0, "caller.d": 60.0},
        {"caller.c": 1.2, "caller.d": 57.0},
    ]
    found = changes(worst)
    first = found.index(expected[0])
    assert found[first:] == expected


def test_a_home_goes_with_all_that_names_it() -> None:
    """What it fed is fed from where it was; a pipe that ends there is shorter, one that passes it stays as
    whole and as well known as it was on both sides; one in it alone goes too. The visited home stays, and so
    does the one with the fault."""
    names = ("2", "4", "6", "8", "10")
    at = {"2": "J1", "4": "2", "6": "4", "8": "J1", "10": "J1"}
    premises = {
        name: streets.home(at[name], kw=1.0, service=Service(10, "service-25-cu-cne")) for name in names
    }
    gas = Metalwork("gas", "lead", names, 10, gaps=(("2", "4"),), unrecorded=(("6", "8"), ("8", "10")))
    well = Metalwork("well", "lead", ("4",), 10)
    other = Metalwork("water", "lead", ("2", "6"), 10)
    street = plain_street(premises=premises, metalwork=(gas, well, other))
    worst = by_hand(street, "service-pen-open@10", "2")
    without = {
        next(name for name in names if name not in one.street.premises): one
        for one in tried(worst)
        if len(one.street.premises) < len(names)
    }
    assert list(without) == ["4", "6", "8"]
    for home, one in without.items():
        assert list(one.street.premises) == list(one.later_kw) == [name for name in names if name != home]
        assert {name: each.at for name, each in one.street.premises.items()} == {
            name: at[home] if at[name] == home else at[name] for name in names if name != home
        }
        (left, *others), joins = one.street.metalwork, tuple(one.street.premises)
        gaps, unrecorded, besides = {
            "4": ((("2", "6"),), (("6", "8"), ("8", "10")), [other]),
            "6": ((("2", "4"),), (("4", "8"), ("8", "10")), [well, replace(other, joins=("2",))]),
            "8": ((("2", "4"),), (("6", "10"),), [well, other]),
        }[home]
        assert left == replace(gas, joins=joins, gaps=gaps, unrecorded=unrecorded)
        assert others == besides


def test_a_joint_of_the_main_goes_into_the_one_before_it() -> None:
    """With all that was fed there, and with the fault where it lay on; electrodes there go. The first joint
    goes only where it feeds no home and has one span after it."""
    premises = {name: streets.home(at) for name, at in (("12", "J2"), ("14", "J3"), ("16", "J3"))}
    spans = [Span(ends, 50, "mains-185-al-cne") for ends in
             (("substation", "J1"), ("J1", "J2"), ("J2", "J3"), ("J2", "J4"))]  # fmt: skip
    street = plain_street(
        mains=tuple(spans), premises=premises, electrodes=(Electrode("J2", 20), Electrode("J3", 20))
    )

    def mains(of: Counterexample) -> list[Counterexample]:
        return [one for one in tried(of) if len(one.street.mains) < len(of.street.mains)]

    def told(one: Counterexample) -> tuple[list[str], list[str], list[str], str]:
        homes = [each.at for each in one.street.premises.values()]
        electrodes = [each.at for each in one.street.electrodes]
        return [span.name for span in one.street.mains], homes, electrodes, one.fault

    after_first = ["substation-J2", "J2-J3", "J2-J4"], ["J2", "J3", "J3"], ["J2", "J3"]
    no_second = ["substation-J1", "J1-J3", "J1-J4"], ["J1", "J3", "J3"], ["J3"]
    no_third = ["substation-J1", "J1-J2", "J2-J4"], ["J2"] * 3, ["J2"]
    no_fourth = ["substation-J1", "J1-J2", "J2-J3"], ["J2", "J3", "J3"], ["J2", "J3"]
    for fault, there in (
        (
            "mains-pen-open@J2-J3",
            ["mains-pen-open@J2-J3", "mains-pen-open@J1-J3", None, "mains-pen-open@J2-J3"],
        ),
        ("service-pen-open@12", ["service-pen-open@12"] * 4),
    ):
        worst = by_hand(street, fault, "12")
        expected = [
            (*shape, at)
            for shape, at in zip((after_first, no_second, no_third, no_fourth), there, strict=True)
            if at
        ]
        assert [told(one) for one in mains(worst)] == expected
    fed = replace(street, premises={**premises, "18": streets.home("J1")})
    assert len(mains(by_hand(fed, "service-pen-open@12", "12"))) == 3
    forked = replace(street, mains=(*spans, Span(("J1", "J5"), 50, "mains-185-al-cne")))
    assert all("substation-J1" in told(one)[0] for one in mains(by_hand(forked, "service-pen-open@12", "12")))
