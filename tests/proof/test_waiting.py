"""To leave it live and wait, or to switch the home off and wait: on the shipped streets, and on drawn
ones."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
import streets

from build_tools.guide.trees import Guide
from build_tools.proof.street_batch import faulty_batches
from build_tools.proof.visit_table import TOUCH
from build_tools.proof.waiting import WAITS, WaitRow, count_waits, wait_rows
from calc.danger import SUPPLY_LOST, Harm, measured, new_harms, standing_harms
from calc.exposure import People, exposure, in_touch_danger, street_exposure
from calc.faults import Fault, catalogue
from calc.street import Street, network
from calc.work import as_worked, done

PEOPLE = People(at_home=1, touch_dry=0.5, touch_wet=0.5)


def switched_off(street: Street, fault: Fault, home: str) -> tuple[list[Harm], list[Harm]]:
    """The harms that stand, and those that are new, once the home's own main switch is open; that it has no
    supply then is meant."""
    live = fault.applied_to(network(street))
    off = as_worked(live, done(frozenset(), "open-main-switch", home))
    stand, new = standing_harms(off), new_harms(measured(live), measured(off))
    return tuple(
        [harm for harm in harms if (harm.home, harm.what) != (home, SUPPLY_LOST)] for harms in (stand, new)
    )  # type: ignore[return-value]


def faults(*kinds: str) -> list[tuple[Street, Fault]]:
    return [
        (street, fault)
        for street in streets.SHIPPED.values()
        for fault in catalogue(street)
        if fault.kind in kinds
    ]


def test_with_a_service_pen_broken_the_homes_own_switch_ends_every_harm_and_makes_none() -> None:
    """Each of the 46 of the shipped streets, open and going bad: nothing flows in that service any more, so
    nothing lifts its metalwork. Reckoned elsewhere by another solver, with the same result."""
    cases = faults("service-pen-open", "service-pen-high")
    assert len(cases) == 46
    for street, fault in cases:
        assert switched_off(street, fault, fault.at) == ([], []), fault
        off = as_worked(fault.applied_to(network(street)), done(frozenset(), "open-main-switch", fault.at))
        assert sum(in_touch_danger(home) for home in exposure(off, PEOPLE).values()) == 0


def test_with_the_main_broken_the_same_switch_harms_others() -> None:
    """It takes away a load that held the floating neutral down or up: in 20 of the 44 cases of a home beyond
    an open span of PEN main the volts of another home leave their band. At a home before it, in none of
    21."""
    harmed = {True: [], False: []}  # type: dict[bool, list[bool]]
    for street, fault in faults("mains-pen-open"):
        for home in street.premises:
            _, new = switched_off(street, fault, home)
            harmed[home in street.beyond(fault.at)].append(any(harm.home != home for harm in new))
    assert (sum(harmed[True]), len(harmed[True])) == (20, 44)
    assert (sum(harmed[False]), len(harmed[False])) == (0, 21)


@pytest.fixture(scope="module")
def rows(guide: Guide) -> dict[tuple[str, str], WaitRow]:
    counts = count_waits(guide, range(150), ("service-pen-open", "mains-pen-open"))
    return {(row.case.wait, row.case.fault): row for row in wait_rows(counts)}


def test_on_drawn_streets_too(rows: dict[tuple[str, str], WaitRow]) -> None:
    live, off = (rows[wait, "service-pen-open"] for wait in WAITS)
    assert live.streets == off.streets > 40
    assert live.means[TOUCH].mean > 0 and off.means[TOUCH].mean < live.means[TOUCH].mean / 3
    assert off.harms_others.happened == 0
    main_live, main_off = (rows[wait, "mains-pen-open"] for wait in WAITS)
    assert main_live.harms_others.happened == 0 < main_off.harms_others.happened
    assert main_off.means[TOUCH].mean == pytest.approx(main_live.means[TOUCH].mean, rel=0.25)


def test_counts_of_parts_add_up(guide: Guide) -> None:
    kinds = ("service-pen-high",)
    whole = count_waits(guide, range(30), kinds)
    parts = count_waits(guide, range(11), kinds) + count_waits(guide, range(11, 30), kinds)
    assert {key: n for key, n in whole.items() if n} == {key: n for key, n in parts.items() if n}


@pytest.mark.parametrize("kind", ["mains-pen-open", "service-pen-open"])
def test_a_wait_costs_what_its_state_costs_in_each_street_in_danger(guide: Guide, kind: str) -> None:
    """Street by street, alone; a harm at the visited home itself is none to others."""
    assert guide.sampling is not None and guide.minutes is not None
    small = tuple(each for each in guide.sampling.layouts if each.id in ("three-and-three", "looped-pairs"))
    few = replace(guide, sampling=replace(guide.sampling, layouts=small))
    counts = count_waits(few, range(24), [kind])
    expected: Counter[tuple[str, str]] = Counter()
    seconds = 60 * guide.minutes.made_safe["emergency"].value
    for batch in faulty_batches(few.sampling, range(24), [kind]):  # type: ignore[arg-type]
        for n, drawn in enumerate(batch.drawn):
            if not batch.endangered(drawn.visited) >> n & 1:
                continue
            sound = network(drawn.street)
            live = batch.fault(n).applied_to(sound)
            for wait, actions in WAITS.items():
                state = live
                for action in actions:
                    state = as_worked(live, done(frozenset(), action, drawn.visited))
                others = [h for h in new_harms(measured(live), measured(state)) if h.home != drawn.visited]
                exposed = street_exposure(state, guide.minutes.people, sound)
                expected[wait, "streets"] += 1
                expected[wait, "harms-others"] += bool(others)
                for what, persons in {**exposed, TOUCH: in_touch_danger(exposed)}.items():
                    expected[wait, what] += round(persons * seconds)
                    expected[wait, f"{what} squared"] += round(persons * seconds) ** 2
    assert {(case.wait, what) for case, what in counts} == set(expected)
    for (case, what), found in counts.items():
        assert case.fault == kind
        assert found == pytest.approx(expected[case.wait, what], rel=1e-3, abs=2), (case, what)
    assert 0 < expected["live", "streets"] < 24
    assert kind == "service-pen-open" or expected["live", TOUCH] > expected["live", "touch-wet"] > 0
