"""Locating a fault on a street: by what follows from the wiring, on a street of three joints."""

from __future__ import annotations

from dataclasses import replace

from calc.calculators.locate import CALCULATOR
from calc.faults import HEALTHY, Fault
from calc.form import default_raw, parse
from calc.locate import SETTLED, located, main_or_service, next_home, span_of
from calc.street import Conductor, Electrode, Metalwork, Premises, Service, Span, Street, Supply


def street() -> Street:
    """Six homes, two on each of three joints, no metalwork shared."""
    homes = {
        str(number): Premises(
            at=f"J{(number + 1) // 2}",
            service=Service(12, "service-25-al-cne"),
            phases=("L1" if number % 2 else "L2",),
            load_kw=(1.5 if number % 2 else 0.5,),
            main_earth=Conductor(3, 16),
        )
        for number in range(1, 7)
    }
    spans = (("substation", "J1"), ("J1", "J2"), ("J2", "J3"))
    return Street(
        "three joints",
        Supply(315, 4.5, 5.0),
        tuple(Span(between, 60, "mains-95-al-cne") for between in spans),
        homes,
        (Metalwork("water", "copper-22", tuple(homes), 8, tuple(zip("12345", "23456", strict=True))),),
        (Electrode("J3", 20),),
    )


def test_one_home_with_normal_neighbours_is_its_own_service() -> None:
    ranked = located(street(), {"3": "tingle", "4": "normal", "5": "normal", "1": "normal"})
    assert ranked[0].fault.kind.startswith("service-pen") and ranked[0].fault.at == "3"


def test_homes_beyond_one_joint_are_the_main() -> None:
    """Beyond a broken main PEN two lines are in series across 400 V: the lightly loaded one is bright, the
    other dim. Common practice, no source."""
    ranked = located(street(), {"5": "dim", "6": "bright", "3": "normal", "4": "normal"})
    assert ranked[0].fault.kind.startswith("mains-pen") and ranked[0].fault.at == "J2-J3"
    assert span_of(street(), ranked[0].fault) == "J3"


def test_a_line_lost_in_the_main_takes_its_homes_beyond() -> None:
    ranked = located(street(), {"3": "off", "5": "off", "1": "normal", "4": "normal"})
    assert str(ranked[0].fault) == "mains-line-open@J1-J2.L1"


def test_probabilities_are_of_all_that_can_be() -> None:
    ranked = located(street(), {"1": 262.0})
    assert abs(sum(one.probability for one in ranked) - 1) < 1e-9
    assert ranked[0].probability >= ranked[-1].probability >= 0


def test_a_home_that_was_asked_is_not_proposed_again() -> None:
    seen: dict[str, str | float] = {"5": "dim", "6": "bright"}
    ranked = located(street(), seen)
    assert next_home(ranked, seen) in {"1", "2", "3", "4"}
    assert next_home(ranked, dict.fromkeys(street().premises, "normal")) == ""


def test_a_service_names_the_joint_it_taps() -> None:
    assert span_of(street(), Fault("service-pen-open", "4")) == "J2"


def test_a_main_is_told_from_a_service_only_where_the_homes_asked_can_tell() -> None:
    several = located(street(), {"5": "dim", "6": "bright", "3": "dim", "4": "bright"})
    assert main_or_service(several)[0] >= SETTLED
    alone = located(street(), {"3": "off", "4": 241.0, "5": 241.0, "1": 241.0})
    assert main_or_service(alone)[1] >= SETTLED
    one_call = located(street(), {"5": "dim"})
    assert max(main_or_service(one_call)) < SETTLED
    assert abs(sum(main_or_service(one_call)) - 1) < 1e-9


def test_a_home_that_was_not_asked_is_shown_as_its_own_fault_would_leave_it() -> None:
    ranked = located(street(), {"1": "normal", "2": "normal"})
    lost = next(one for one in ranked if str(one.fault) == "line-open@3.L1")
    assert lost.homes["3"][1] == "off"
    without_pipe = replace(street(), metalwork=())
    first = located(without_pipe, {"1": "normal"})[:12]
    for one in first:
        if one.fault.kind == "service-pen-open" and one.fault.at != "1":
            assert one.homes[one.fault.at][0] < 200


def test_the_page_never_says_to_look_first_at_nothing() -> None:
    """Where every home is as ever, nothing wrong is the most probable of all, and still no place to look."""
    asked = {f"home_{n}": str(n) for n in range(1, 5)} | {f"seen_{n}": "normal" for n in range(1, 5)}
    data = {"streets": {"three": street().to_data()}}
    values, problems = parse(CALCULATOR, default_raw(CALCULATOR, data) | {"street": "three"} | asked, data)
    assert problems == {}
    seen = {str(n): "normal" for n in range(1, 5)}
    assert located(street(), seen)[0].fault == HEALTHY
    said = CALCULATOR.run(values, data).summary
    assert said[0].startswith("Look first: ") and "Healthy" not in said[0] + said[1]
    assert (
        said[2].startswith("Faults that can kill or burn, all places together") and "nothing wrong" in said[2]
    )
    assert not any(each.startswith("It is in") for each in said)
