"""A batch of a few hand-made streets answers for each of them as calc does for that street alone."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import streets
from batches import as_drawn, batch_of

from build_tools.proof.street_batch import StreetBatch, batched, bits_of, of_part, with_kinds
from build_tools.walks.asked_exits import AskedExit, Asks
from calc import danger, instruments, symptoms
from calc.drawn_streets import Drawn
from calc.faults import KINDS
from calc.instruments import INSTRUMENTS
from calc.sampling import Layout
from calc.street import Network, Street, load_ohm, network
from calc.work import Condition, as_worked, done

HOMES = ("2", "4", "6", "8", "10", "12")
NONE = frozenset[Condition]()


def terrace(
    kw: tuple[float, ...] = (1.4, 0.6, 2.2), gaps: tuple[tuple[str, str], ...] = (), **more: Any
) -> Street:
    """Six homes on two joints, with other loads and parts of the pipe missing or off the record."""
    whole = streets.terrace(kw=kw)
    (pipe,) = whole.metalwork
    return replace(whole, metalwork=(replace(pipe, gaps=gaps, **more),))


DRAWN = (
    as_drawn(terrace(), "2", shares=(0.0, 0.0), joint_ohm=0.5),
    as_drawn(terrace((3, 0.2, 1), gaps=(("6", "8"),)), "8", shares=(0.0, 0.99), joint_ohm=2.0),
    as_drawn(terrace((0.5, 2, 2), unrecorded=(("6", "8"), ("2", "4"))), "6", shares=(0.9, 0.5), joint_ohm=9),
    as_drawn(terrace((2, 2, 0.1), gaps=(("2", "4"), ("4", "6"), ("6", "8"))), "4", shares=(0.5, 0.34)),
)  # fmt: skip


def alone(batch: StreetBatch, number: int) -> Network:
    """One of the streets with its fault, by itself."""
    return batch.fault(number).applied_to(network(batch.drawn[number].street))


def same(found: Any, expected: list[Any]) -> bool:
    return found.tolist() == pytest.approx(expected, rel=1e-5, abs=1e-6, nan_ok=True)


def test_a_fault_is_where_and_as_bad_as_was_drawn() -> None:
    batch = batch_of(*DRAWN, kind="service-pen-high")
    assert tuple(fault.at for fault in batch.faults) == HOMES and batch.size == 4
    assert [batch.fault(n).at for n in range(4)] == ["2", "12", "8", "6"]
    assert [batch.fault(n).ohm for n in range(4)] == [0.5, 2.0, 9.0, 1.0]
    assert batch_of(*DRAWN, kind="service-pen-open").fault(1).ohm is None
    (healthy,) = batched(DRAWN)
    assert list(healthy.with_fault("sheath-open")) == [], "no such cable there"
    (same_streets,) = healthy.with_fault("healthy")
    assert same_streets.sound is same_streets.before is healthy and healthy.sound is healthy


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_volts_and_amperes_are_those_of_each_street_with_its_fault(kind: str) -> None:
    (healthy,) = batched(DRAWN)
    for batch in healthy.with_fault(kind):
        for point in ("2.MET", "4.N", "12.MET", "8.N", "6.MET"):
            volts = np.broadcast_to(abs(batch.base.solution.volts(point, "earth")), (4,))
            expected = [abs(alone(batch, n).solution.volts(point, "earth")) for n in range(4)]
            assert volts.tolist() == pytest.approx(expected, rel=1e-4, abs=1e-3), point
        current = np.broadcast_to(abs(batch.base.solution.current("2/main_earth")), (4,))
        expected = [abs(alone(batch, n).solution.current("2/main_earth")) for n in range(4)]
        assert current.tolist() == pytest.approx(expected, rel=1e-4, abs=1e-3)


def test_kinds_together_are_what_each_is_alone() -> None:
    """All kinds in one batch: the same faults, volts, records and dangers, kind after kind."""
    (healthy,) = batched(DRAWN)
    (together,) = healthy.with_faults(KINDS)
    alone = [batch for kind in KINDS for batch in healthy.with_fault(kind)]
    assert together.kinds == tuple(batch.kind for batch in alone)
    assert "sheath-open" not in together.kinds, "no such cable there"
    assert together.size == 4 * len(alone)
    for place, batch in enumerate(alone):
        part = together.only(together.of_kind(batch.kind))
        assert part.drawn == batch.drawn and together.drawn[4 * place : 4 * place + 4] == batch.drawn
        assert [part.fault(n) for n in range(4)] == [batch.fault(n) for n in range(4)]
        assert part.sound.fault(0) == healthy.fault(0)
        for home in ("2", "8"):
            for point in (f"{home}.MET", f"{home}.N"):
                found, expected = (
                    np.broadcast_to(abs(each.base.solution.volts(point, "earth")), 4).tolist()
                    for each in (part, batch)
                )
                assert found == pytest.approx(expected, rel=1e-6, abs=1e-4), (batch.kind, point)
            assert part.endangered(home) == batch.endangered(home)
            assert part.records("pipe-passes-a-mains-joint", home).tolist() == [
                *batch.records("pipe-passes-a-mains-joint", home)
            ]


def test_streets_are_parted_by_the_home_that_is_visited() -> None:
    (healthy,) = batched(DRAWN)
    parts = list(healthy.by_visited())
    assert [[drawn.visited for drawn in part.drawn] for part in parts] == [["2"], ["4"], ["6"], ["8"]]
    for part in parts:
        (drawn,) = part.drawn
        found = np.ravel(abs(part.base.solution.volts("12.MET", "earth")))
        assert found.tolist() == pytest.approx(
            [abs(network(drawn.street).solution.volts("12.MET", "earth"))], rel=1e-6
        )


def test_as_many_kinds_as_are_solved_well_together(monkeypatch: pytest.MonkeyPatch) -> None:
    healthy = batched(DRAWN)
    kinds = ("healthy", "service-pen-open", "sheath-open", "mains-pen-open", "bond-lost")
    for entries, expected in (
        (4 * 6 * 2, [kinds[:2], kinds[3:4], kinds[4:]]),
        (1, [(kind,) for kind in kinds if kind != "sheath-open"]),
        (4 * 6 * 9, [tuple(kind for kind in kinds if kind != "sheath-open")]),
    ):
        monkeypatch.setattr("build_tools.proof.street_batch._ENTRIES", entries)
        assert [batch.kinds for batch in with_kinds(healthy, kinds)] == expected


ERRING = (
    {},
    {"clamp-error": 0.1, "clamp-stray-a": 0.25, "loop-error": 0.5, "loop-offset-ohm": 0.125},
    {"clamp-error": -0.2, "clamp-stray-a": -0.125, "loop-error": -0.25, "loop-offset-ohm": -0.0625},
    {"voltmeter-error": 0.02, "clamp-stray-a": -100.0, "loop-offset-ohm": -100.0},
)
READ: dict[str, tuple[tuple[str, ...], Callable[[float, dict[str, float]], float]]] = {
    "clamp": (
        ("neutral_tail", "main_earth"),
        lambda a, by: max(0, a * (1 + by.get("clamp-error", 0)) + by.get("clamp-stray-a", 0)),
    ),
    "loop": (
        ("line", "earth"),
        lambda ohm, by: max(0, ohm * (1 + by.get("loop-error", 0)) + by.get("loop-offset-ohm", 0)),
    ),
    "voltmeter": (("line", "earth"), lambda volts, by: volts * (1 + by.get("voltmeter-error", 0))),
}


@pytest.mark.parametrize("instrument", READ)
def test_each_instrument_errs_as_was_drawn(instrument: str) -> None:
    """A share of what is there, then so much more; no display is below 0."""
    on, erring = READ[instrument]
    batch = batch_of(*(replace(each, meters=as_drawn(each.street, meters=by).meters)
        for each, by in zip(DRAWN, ERRING, strict=True)), kind="mains-pen-high")  # fmt: skip
    for home in ("2", "8"):
        shown = batch.readings(home, NONE, instrument, on)
        true = [instruments.measured(alone(batch, n), home, instrument, on) for n in range(4)]
        expected = [
            INSTRUMENTS[instrument].figure(erring(value, by)) for value, by in zip(true, ERRING, strict=True)
        ]
        assert shown.tolist() == pytest.approx(expected, abs=1.01 * INSTRUMENTS[instrument].resolution)
        assert len(set(shown.tolist())) > 1


@pytest.mark.parametrize("instrument", ["two-pole", "contact", "non-contact"])
def test_what_lights_does_so_as_in_each_street_alone(instrument: str) -> None:
    batch = batch_of(*DRAWN, kind="mains-pen-open")
    on = ("line", "earth") if instrument == "two-pole" else ("earth",)
    for home in HOMES:
        shown = batch.readings(home, NONE, instrument, on)
        assert shown.shape == (4,)
        assert same(shown, [instruments.reading(alone(batch, n), home, instrument, on) for n in range(4)])


def test_a_reading_on_a_line_that_a_home_has_not_is_none() -> None:
    batch = batch_of(*DRAWN)
    assert np.isnan(batch.readings("2", NONE, "voltmeter", ("line2", "neutral"))).all()
    assert not np.isnan(batch.readings("2", NONE, "voltmeter", ("line", "neutral"))).any()


def test_once_the_known_load_is_on_loads_have_changed_and_it_is_as_was_drawn() -> None:
    """Each line of each home by itself; before that, and where only a main earth was lifted, as before."""
    mixed = streets.mixed()
    later = ({}, {"7": (1.0, 2.0, 4.0), "1": (0.3,)}, {"5": (3.0,)})
    drawn = tuple(
        replace(each, later_kw=each.later_kw | loads, known_load_kw=kw)
        for each, loads, kw in zip([as_drawn(mixed, "7")] * 3, later, (2.0, 2.5, 3.0), strict=True)
    )
    batch = batch_of(*drawn, kind="mains-sheath-open")
    on = done(NONE, "switch-on-known-load", "7")
    lifted = done(NONE, "lift-main-earth", "7")
    changed, unchanged, asked = batch.worked(on), batch.worked(lifted), batch.worked(lifted, later=True)
    for home, premises in mixed.premises.items():
        for line, phase in enumerate(premises.phases):
            name = f"{home}/load.{phase}"
            before = load_ohm(premises.load_kw[line], premises.power_factor)
            after = [load_ohm(each.later_kw[home][line], premises.power_factor) for each in drawn]
            for worked, expected in ((changed, after), (unchanged, [before] * 3), (asked, after)):
                assert np.broadcast_to(worked.branches[name].impedance, (3,)).tolist() == expected, name
    known = changed.branches["7/known_load"].impedance
    assert np.asarray(known).tolist() == [load_ohm(kw) for kw in (2.0, 2.5, 3.0)]
    switched_off = batch.worked(done(on, "open-main-switch", "7")).branches["7/known_load"]
    assert switched_off.is_open
    assert batch.worked(on) is batch.worked(on) is not batch.worked(on, later=False)


def test_records_and_doors_are_those_of_each_streets_pipe() -> None:
    """With a fault as without: nobody writes a fault down."""
    for batch in (batch_of(*DRAWN), batch_of(*DRAWN, kind="mains-pen-open")):
        for n, drawn in enumerate(batch.drawn):
            street = drawn.street
            for home in HOMES:
                for fact in symptoms.ON_RECORD:
                    expected = symptoms.fact(fact, network(street), home)
                    assert batch.words(fact, home, NONE)[n] == batch.records(fact, home)[n] == expected
                assert batch.sharing[n][home] == street.sharing_metalwork(home, recorded=True)
                assert batch.joined[n][home] == street.sharing_metalwork(home)
                beside = {other for other, here in batch.beside(home).items() if here[n]}
                assert beside == symptoms.beside(street, home) and home not in batch.beside(home)
                for gone_to in (frozenset[str](), frozenset({"4"}), frozenset({"4", "6"})):
                    left = [
                        one for one in street.sharing_metalwork(home, recorded=True) if one not in gone_to
                    ]
                    assert batch.next_door(home, gone_to)[n] == (left[0] if left else "")
                    doors = [to for to, here in batch.doors(home, gone_to) if here >> n & 1]
                    assert doors == left[:1]


def test_the_record_of_a_street_without_metalwork_joins_nobody() -> None:
    batch = batch_of(as_drawn(streets.terrace(pipe=None)))
    for home in HOMES:
        assert batch.sharing[0][home] == () and batch.next_door(home, frozenset())[0] == ""


@pytest.mark.parametrize("kind", ["service-pen-open", "mains-pen-open", "healthy", "loose-line-tail"])
def test_what_is_noticed_lives_or_is_raised_is_so_in_each_street_alone(kind: str) -> None:
    batch = batch_of(*DRAWN, kind=kind)
    networks = [alone(batch, n) for n in range(4)]
    for home in ("2", "8", "12"):
        off = done(NONE, "open-main-switch", home)
        for fact in ("lights", "supply-on", "tingle", "neighbour-off", "main-earth-looks-whole"):
            expected = []
            for each, drawn in zip(networks, batch.drawn, strict=True):
                own = replace(each, street=drawn.street)
                expected.append(symptoms.fact(fact, own, home))
            assert batch.words(fact, home, NONE).tolist() == expected, fact
        assert same(
            batch.metalwork_volts(home, NONE), [danger.metalwork_volts(each, home) for each in networks]
        )
        live = [
            bool(danger.HARMS[danger.METALWORK_LIVE](danger.metalwork_volts(each, home))) for each in networks
        ]
        assert [bool(batch.live(home, NONE) >> n & 1) for n in range(4)] == live
        raised: dict[tuple[str, str], set[int]] = {}
        for n, each in enumerate(networks):
            before, after = danger.measured(each), danger.measured(as_worked(each, off))
            for harm in danger.new_harms(before, after):
                raised.setdefault((harm.home, harm.what), set()).add(n)
        told = {
            (at, what): {n for n in range(4) if here >> n & 1} for at, what, here in batch.raised(NONE, off)
        }
        assert told == raised
        masks = batch.new_harms(NONE, off)
        assert {harm: set(np.flatnonzero(mask)) for harm, mask in masks.items() if mask.any()} == raised
        endangered = [
            KINDS[kind].keeps_open
            and home in danger.endangered_homes(drawn.street, batch.fault(n).not_to_close(drawn.street))
            for n, drawn in enumerate(batch.drawn)
        ]
        assert [bool(batch.endangered(home) >> n & 1) for n in range(4)] == endangered
    assert batch.endangered("nobody's") == 0


def test_what_a_known_load_raises_is_not_what_changed_of_itself() -> None:
    """Loads that rise when it goes on lift nothing by its doing: both states are measured with them."""
    drawn = as_drawn(streets.pair(), later_kw={"12": (1.4,), "14": (30.0,)})
    batch = batch_of(drawn, drawn, kind="mains-pen-open")
    on = done(NONE, "switch-on-known-load", "12")
    before, after = batch.before_and_after(NONE, on)
    later = replace(streets.pair(), premises={
        home: replace(one, load_kw=drawn.later_kw[home]) for home, one in streets.pair().premises.items()
    })  # fmt: skip
    changed = batch.fault(0).applied_to(network(later))
    for home in ("12", "14"):
        for what, volts in danger.measured(changed)[home].items():
            assert np.broadcast_to(before[home][what], (2,)).tolist() == pytest.approx([volts] * 2, abs=1e-4)
    loaded, unloaded = batch.before_and_after(on, NONE)
    for what in after["12"]:
        assert np.all(loaded["12"][what] == after["12"][what])
        assert np.all(unloaded["12"][what] == before["12"][what])


def test_streets_leave_by_what_is_found_there() -> None:
    batch = batch_of(*DRAWN, kind="main-earth-lost")
    look = tuple(AskedExit("answer", 0.0, math.inf, word) for word in ("yes", "no", None))
    parted = batch.leaving(Asks("main-earth-looks-whole", "", (), look), "2", NONE)
    assert parted == (0b1110, 0b0001, 0)
    volts = batch.readings("2", NONE, "voltmeter", ("line", "neutral"))
    edge = float(np.sort(volts)[2])
    ranges = (AskedExit("range", 0.0, edge, None), AskedExit("range", edge, math.inf, None))
    low, high = batch.leaving(Asks("", "voltmeter", ("line", "neutral"), ranges), "2", NONE)
    assert (low, high) == (bits_of(volts < edge), bits_of(volts >= edge)) and low and high


def layout(name: str, homes: int) -> Layout:
    """A shape of street with so many homes, all at one joint."""
    return Layout(name, (("L1",) * homes,))


@pytest.mark.parametrize("of", [1, 2, 3, 7])
def test_every_street_is_in_just_one_part_and_parts_are_of_whole_layouts(of: int) -> None:
    small, large = layout("small", 2), layout("large", 20)
    every = [(large if number % 4 == 0 else small, number) for number in range(200)]
    parts = [of_part(every, number, of) for number in range(1, of + 1)]
    assert sorted(number for part in parts for number in part) == list(range(200))
    both = [part for part in parts if len({number % 4 == 0 for number in part}) == 2]
    assert len(both) <= 1, "whole layouts, but for one that is cut"
    assert all(part == sorted(part, key=lambda n: (n % 4 != 0, n)) for part in parts), "the dearest first"


def shared_out(of: int, *layouts: tuple[int, int]) -> list[list[int]]:
    """How many streets of each of these layouts (homes, streets) each part has."""
    every = [
        (layout(f"layout {place}", homes), place)
        for place, (homes, many) in enumerate(layouts)
        for _ in range(many)
    ]
    parts = [of_part(every, number, of) for number in range(1, of + 1)]
    return [[part.count(place) for place in range(len(layouts))] for part in parts]


@pytest.mark.parametrize("of", [1, 3, 7])
def test_parts_of_one_layout_are_of_as_many_streets(of: int) -> None:
    counts = [count for (count,) in shared_out(of, (6, 300))]
    assert sum(counts) == 300 and max(counts) - min(counts) <= 2


def test_a_street_of_more_homes_is_more_work_and_so_is_a_layout_more() -> None:
    """A batch costs much however few its streets are; a street of twenty homes as much as fifty of two."""
    ((large, small), (few, many)) = shared_out(2, (20, 100), (2, 100))
    assert 45 < large < 55 and small == 0 and few == 100 - large and many == 100
    assert shared_out(2, (2, 100), (20, 100)) == [[0, large], [100, few]]
    ((common, none), (rest, rare)) = shared_out(2, (6, 1000), (6, 10))
    assert 520 < common < 600 and none == 0 and (rest, rare) == (1000 - common, 10)


def test_streets_are_put_together_by_their_layout() -> None:
    one, other = (
        as_drawn(streets.pair(), number=3),
        as_drawn(streets.terrace(), "2", number=1, layout="a row"),
    )
    more = replace(one, number=5)
    row, pair = batched([one, other, more])
    assert [each.number for each in pair.drawn] == [3, 5] and row.drawn == (other,)
    assert isinstance(pair.drawn[0], Drawn) and pair.street == one.street
