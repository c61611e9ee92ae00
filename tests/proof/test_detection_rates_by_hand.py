"""Where each test is made on hand-made streets, what it shows there, and how often that is counted."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import streets
from batches import as_drawn, batch_of, parted

from build_tools.proof.detection_rates import display, places, see_batch
from build_tools.proof.detection_table import THRESHOLDS, Seen, Sight
from build_tools.proof.procedures import HOME_KINDS, PLAIN, HomeKind, How, Limits, Procedure
from build_tools.proof.street_batch import Mask, StreetBatch
from calc.drawn_streets import Drawn, may_be_visited
from calc.street import Street


def row(shares: tuple[float, float], street: Street | None = None) -> Drawn:
    """A row of homes, or another street, with these shares."""
    return as_drawn(street or streets.terrace(), "2", shares=shares)


def named(batch: StreetBatch) -> dict[str, list[str]]:
    """The home where the test is made in each street; empty for none."""
    homes = [*batch.street.premises, ""]
    return {where: [homes[n] for n in at.tolist()] for where, at in places(batch).items()}


def test_a_fault_in_the_main_is_tested_beyond_it_and_next_door_at_a_home_that_it_is_not_in() -> None:
    """The first of the two shares picks one of the homes beyond; what is left of it, one of those next door,
    the nearest first."""
    shares = (0.0, 0.17, 0.5, 0.9)
    batch = batch_of(*(row((each, 0.9)) for each in shares), kind="mains-pen-open")
    assert batch.fault(0).homes(batch.street) == ("8", "10", "12")
    at = named(batch)
    assert at["sharing"] == ["8", "8", "10", "12"] and at["alone"] == [""] * 4
    assert at["next-door"] == ["6", "4", "4", "2"]


def test_who_shares_no_pipe_on_record_is_alone() -> None:
    whole = streets.terrace()
    (pipe,) = whole.metalwork
    forgotten = replace(whole, metalwork=(replace(pipe, unrecorded=tuple(pipe.pairs)),))
    some = [row((0.0, 0.0), each) for each in (parted(whole), whole, forgotten)]
    at = named(batch_of(*some, kind="service-pen-open"))
    assert at == {"alone": ["2", "", "2"], "sharing": ["", "2", ""], "next-door": ["", "4", ""]}


def test_on_a_healthy_street_any_home_is_tested_and_none_is_next_door() -> None:
    shares = (0.0, 0.2, 0.5, 0.99)
    at = named(batch_of(*(row((each, 0.5)) for each in shares)))
    assert at == {"alone": [""] * 4, "sharing": ["2", "4", "8", "12"], "next-door": [""] * 4}


def test_of_a_long_street_only_homes_that_may_be_visited_are_tested() -> None:
    long = streets.terrace(30)
    tested = may_be_visited(list(long.premises))
    assert len(tested) < 30
    shares = [(share / 40, place / 40) for share in range(40) for place in (3, 21, 38)]
    for kind in ("service-pen-open", "mains-pen-open", "healthy"):
        batch = batch_of(*(row(each, long) for each in shares), kind=kind)
        at = named(batch)
        assert set(at["sharing"]) - {""} <= set(tested) and set(at["next-door"]) - {""} <= set(tested)
        for n in range(batch.size):
            homes = batch.fault(n).homes(long) if kind != "healthy" else tuple(long.premises)
            assert (at["sharing"][n] in homes) == bool(set(homes) & set(tested))
            assert at["next-door"][n] == "" or at["next-door"][n] not in homes
        assert any(at["sharing"]) and ("" in at["sharing"]) == (kind != "healthy")


VOLTS = Procedure(
    How("voltmeter", ("line", "neutral")), dict.fromkeys(HOME_KINDS, Limits(((0.0, 100.0), (200.0, 260.0))))
)
LOOK = Procedure(
    How("eyes", ("main_earth",)), {PLAIN: Limits(words=frozenset({"yes"}))}, "main-earth-looks-whole"
)
CLAMP = Procedure(How("clamp", ("neutral_tail",), ("known-load-on",)), {PLAIN: Limits(((12.0, math.inf),))})


def test_a_display_is_an_alarm_where_it_is_not_usual_its_lower_end_being_so() -> None:
    batch = batch_of(*(row((0.0, 0.0), streets.terrace(kw=kw)) for kw in ((1, 1, 1), (4, 2, 1), (9, 0, 0))))
    shown, alarm = display(VOLTS, batch, "2")
    assert alarm.tolist() == [False] * 3 and len(set(shown.tolist())) == 3
    lowest, middle, highest = sorted(shown.tolist())
    for usual, expected in (
        (((middle, math.inf),), {lowest}),
        (((0.0, middle),), {middle, highest}),
        (((0.0, middle), (highest, math.inf)), {middle}),
        ((), {lowest, middle, highest}),
    ):
        some = replace(VOLTS, limits=dict.fromkeys(HOME_KINDS, Limits(usual)))
        _, alarm = display(some, batch, "2")
        assert set(shown[alarm].tolist()) == expected
    lost = batch_of(*(row((0.0, place)) for place in (0.0, 0.9)), kind="main-earth-lost")
    shown, alarm = display(LOOK, lost, "2")
    assert shown.tolist() == [0, 0] and alarm.tolist() == [True, False]
    loaded, _ = display(CLAMP, batch, "2")
    bare, _ = display(replace(CLAMP, how=How("clamp", ("neutral_tail",))), batch, "2")
    assert (loaded > bare + 5).all()


class Taken:
    """Keeps each cell that is handed on."""

    def __init__(self) -> None:
        self.cells: dict[Seen, tuple[list[bool], list[bool]]] = {}

    def add(self, key: Seen, asked: Mask, happened: Mask) -> None:
        self.cells[key] = (asked.tolist(), happened.tolist())


def test_each_cell_counts_who_was_asked_and_on_whom_it_shows() -> None:
    """The main earth lost at a home that shares a pipe, at one that does not, and at another that does."""
    tests = {each.id: each for each in (LOOK, VOLTS, CLAMP)}
    some = [row((0.0, 0.0)), row((0.0, 0.9), parted(streets.terrace())), row((0.0, 0.4))]
    batch = batch_of(*some, kind="main-earth-lost")
    counts: Sight = Counter()
    taken = Taken()
    see_batch(tests, batch, counts, taken)
    kind = "main-earth-lost"
    cells = {where: Seen(LOOK.id, kind, where) for where in ("alone", "sharing", "next-door")}
    assert taken.cells[cells["alone"]] == ([False, True, False], [False, True, False])
    assert taken.cells[cells["sharing"]] == ([True, False, True], [True, False, True])
    assert taken.cells[cells["next-door"]] == ([True, False, True], [False, False, False])
    assert set(taken.cells) == {Seen(test, kind, where) for test in tests for where in cells}
    for cell, (asked, shows) in taken.cells.items():
        assert (counts[cell, "asked"], counts[cell, "shows"]) == (sum(asked), sum(shows))
    assert not any(what.startswith("from") for _, what in counts), "no curve is kept of it"


@pytest.mark.parametrize("kind", ["healthy", "service-pen-open"])
def test_a_clamp_is_counted_by_its_amperes_too(kind: str) -> None:
    tests = {each.id: each for each in (VOLTS, CLAMP)}
    batch = batch_of(*(row((0.0, 0.0), streets.terrace(kw=kw)) for kw in ((0.4, 1, 1), (4, 2, 1), (9, 0, 0))),
        kind=kind)  # fmt: skip
    counts: Sight = Counter()
    see_batch(tests, batch, counts)
    shown, _ = display(CLAMP, batch, "2")
    cell = Seen(CLAMP.id, kind, "sharing")
    for low, high in zip(THRESHOLDS, (*THRESHOLDS[1:], math.inf), strict=True):
        assert counts[cell, f"from {low:g}"] == int(((shown >= low) & (shown < high)).sum()), low
    assert sum(counts[cell, f"from {low:g}"] for low in THRESHOLDS) == 3 == counts[cell, "asked"]
    assert not any(what.startswith("from") for key, what in counts if key.test == VOLTS.id)


def test_a_test_is_made_only_at_homes_of_a_kind_that_has_limits() -> None:
    mixed = streets.mixed()
    batch = batch_of(*(as_drawn(mixed, "7", shares=(share, 0.0)) for share in np.arange(0.05, 1, 0.15)))
    counts: Sight = Counter()
    see_batch({LOOK.id: LOOK, VOLTS.id: VOLTS}, batch, counts)
    plain = [
        home
        for where in places(batch).values()
        for home in where.tolist()
        if home >= 0 and HomeKind.of(list(mixed.premises.values())[home]) == PLAIN
    ]
    asked = {test.id: sum(n for (key, what), n in counts.items() if key.test == test.id and what == "asked")
             for test in (LOOK, VOLTS)}  # fmt: skip
    assert 0 < asked[LOOK.id] == len(plain) < asked[VOLTS.id] == batch.size
