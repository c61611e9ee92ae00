"""Services that feed the next home too, metal that no record shows, and layouts of any homes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import spice
import streets

from build_tools.proof.street_batch import batches, numbers_of
from calc.danger import endangered_homes
from calc.drawn_streets import draw, layout_of
from calc.faults import parse
from calc.sampling import Layout, Sampling, UnnamedHome
from calc.street import Network, Street, network
from calc.symptoms import fact


def looped() -> Street:
    """Home 2 feeds home 4, and that home 6; a pipe joins 2 and 4, and a forgotten one 4 and 6."""
    street = streets.pair()
    premises = {
        "2": streets.home(kw=1.0),
        "4": streets.home("2", kw=2.0),
        "6": streets.home("4", kw=0.5),
        "8": streets.home(phase="L2", kw=1.5),
    }
    pipe = replace(
        street.metalwork[0], joins=("2", "4", "6", "8"), gaps=(("6", "8"),), unrecorded=(("4", "6"),)
    )
    return replace(street, premises=premises, metalwork=(pipe,))


def without_pipe(street: Street) -> Street:
    return replace(street, metalwork=())


def test_a_looped_service_carries_what_the_homes_beyond_take() -> None:
    """Kirchhoff's current law at the cut-out."""
    found = network(without_pipe(looped())).solution
    first, second, tail = (found.current(name) for name in ("2/service.L1", "4/service.L1", "2/tail.L1"))
    assert abs(first - second - tail) == pytest.approx(0, abs=1e-9)
    assert abs(second) > abs(found.current("6/service.L1")) > 1


def test_a_pen_open_in_a_looped_service_takes_all_beyond_it(tmp_path: Path) -> None:
    """Every potential by ngspice; all three homes lose their neutral, and 8 keeps its own."""
    street = without_pipe(looped())
    fault = parse("service-pen-open@2")
    faulty = fault.applied_to(network(street))
    solved = spice.simulate(faulty.branches.values(), tmp_path)
    for point in ("2.N", "4.MET", "6.N", "8.N", "2.L1"):
        assert faulty.solution.potential(point) == pytest.approx(solved.volts[point], abs=1e-6), point
    assert fault.homes(street) == ("2", "4", "6")
    assert parse("service-pen-open@4").homes(street) == ("4", "6")
    assert parse("loose-neutral-tail@2").homes(street) == ("2",)
    for home, is_live in (("2", True), ("4", True), ("6", True), ("8", False)):
        assert (abs(faulty.solution.potential(f"{home}.MET")) > 50) == is_live, home


def test_where_homes_are_fed_from() -> None:
    street = looped()
    assert [street.junction_of(home) for home in street.premises] == ["J1"] * 4
    assert street.fed_through("2") == ("4", "6")
    assert street.fed_through("6") == ()
    assert street.beyond("substation-J1") == ("2", "4", "6", "8")


def test_a_record_does_not_show_forgotten_metal() -> None:
    """A crew goes by the record; a danger goes by the metal."""
    street = looped()
    bare = Network(street, {})
    assert street.sharing_metalwork("2") == ("4", "6")
    assert street.sharing_metalwork("2", recorded=True) == ("4",)
    assert fact("shares-metalwork", bare, "6") == "no"
    assert endangered_homes(street, ("6",)) == {"2", "4", "6"}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda s: {"4": streets.home("9")}, "at: '9' is not known"),
        (lambda s: {"4": streets.home("6")}, "at: '6' is not known"),
        (lambda s: {"4": streets.home("2", "L3")}, "the cut-out of 2, which feeds it, has no L3"),
        (
            lambda s: {
                "2": streets.home(earthing="tt", electrode_ohm=40),
                "4": streets.home("2", earthing="tn-s", service=streets.SNE),
            },
            "a TN-S home needs an earth from 2, which is TT",
        ),
    ],
)
def test_a_loop_that_cannot_be_is_refused(change: Callable[[Street], dict[str, object]], says: str) -> None:
    street = looped()
    with pytest.raises(ValueError, match=says):
        replace(street, premises={**street.premises, **change(street)})


@pytest.mark.parametrize(("pair", "says"), [(("2", "6"), "neighbours"), (("6", "8"), "a gap")])
def test_metal_is_forgotten_only_where_there_is_some(pair: tuple[str, str], says: str) -> None:
    (pipe,) = looped().metalwork
    with pytest.raises(ValueError, match=says):
        replace(pipe, unrecorded=(pair,))


@pytest.mark.parametrize(
    "text", ["", "L4", "L1+L1", "L1 tn-c", "L1 tn-s tt", "L1 looped looped", "looped", "tn-s L1"]
)
def test_a_home_of_a_layout_that_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        UnnamedHome.parse(text)


@pytest.mark.parametrize(
    ("homes", "says"),
    [
        ((("L1 looped",),), "none before it"),
        ((("L1 tn-s",),), "main: separate"),
        (((),), "at least one home"),
    ],
)
def test_a_layout_that_cannot_be_is_refused(homes: tuple[tuple[str, ...], ...], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Layout("a", homes)


def test_streets_of_every_layout_are_drawn_as_it_says(sampling: Sampling) -> None:
    seen: Counter[str] = Counter()
    for number in range(300):
        drawn, shape = draw(sampling, number), layout_of(sampling, number)
        seen[shape.id] += 1
        assert drawn.layout == shape.id
        homes = [home for at_joint in shape.premises for home in at_joint]
        for home, (name, premises) in zip(homes, drawn.street.premises.items(), strict=True):
            assert (premises.phases, premises.earthing) == (home.phases, home.earthing)
            assert (premises.at in drawn.street.premises) == home.looped, name
        assert drawn.visited in drawn.street.premises
        (pipe,) = drawn.street.metalwork
        assert bool(pipe.gaps) <= (shape.pipes != "iron")
        assert 0.02 <= drawn.joint_ohm <= 10
    assert seen.keys() == {layout.id for layout in sampling.layouts}


def test_of_a_long_street_each_fifth_home_is_visited(sampling: Sampling) -> None:
    (terrace,) = (layout for layout in sampling.layouts if layout.id == "terrace-of-24")
    only = replace(sampling, layouts=(terrace,))
    visited = {draw(only, number).visited for number in range(200)}
    assert visited == {"1", "6", "11", "16", "21"}


@pytest.mark.parametrize("of", [1, 2, 3, 7])
def test_parts_take_every_street_once_and_few_layouts(sampling: Sampling, of: int) -> None:
    few = replace(sampling, streets=400)
    parts = [numbers_of(few, number, of) for number in range(1, of + 1)]
    assert sorted(street for part in parts for street in part) == list(range(400))
    layouts = [{layout_of(few, street).id for street in part} for part in parts]
    assert sum(map(len, layouts)) <= len(few.layouts) + of - 1


@pytest.mark.parametrize("kind", ["mains-pen-high", "loose-line-tail", "sheath-high"])
def test_a_bad_joint_has_the_ohms_that_were_drawn(sampling: Sampling, kind: str) -> None:
    for whole in batches(sampling, range(40)):
        for batch in whole.with_fault(kind):
            for number, drawn in enumerate(batch.drawn):
                fault = batch.fault(number)
                assert fault.ohm == drawn.joint_ohm
                home = drawn.visited
                alone = fault.applied_to(network(drawn.street)).solution.volts(f"{home}.N", f"{home}.MET")
                among = batch.base.solution.volts(f"{home}.N", f"{home}.MET")
                among = among[number] if getattr(among, "shape", ()) else among
                assert abs(among) == pytest.approx(abs(alone), rel=1e-6, abs=1e-6)
