"""Loads take what their law says; generation gives its power or trips."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import streets
from hypothesis import given
from hypothesis import strategies as st

from build_tools.proof.street_batch import stacked
from calc.circuit import OPEN, CircuitError
from calc.danger import measured
from calc.faults import Fault, catalogue, parse
from calc.instruments import clamped
from calc.loads import band, settled, tripped
from calc.readings import readings
from calc.settling import GENERATION_WINDOW, LAWS, LOAD_WINDOW, NOMINAL_VOLTS
from calc.street import Network, Street, network
from calc.whole_street import WholeStreet
from calc.work import Condition, as_worked

STREETS = {
    **streets.SHIPPED,
    "mixed": streets.mixed(),
    "overhead": streets.overhead(),
    "pair": streets.pair(),
    "terrace without a pipe": streets.terrace(12, pipe=None),
}
MOST_SEEN = 60
"""Rounds within which every fault of these streets settles; 29 is the most seen."""


def with_each(street: Street, **parts: Any) -> Street:
    """The street with these parts in every home."""
    homes = {name: replace(home, **parts) for name, home in street.premises.items()}
    return replace(street, premises=homes)


def generating(street: Street, kilowatts: float = 3.6) -> Street:
    homes = {
        name: replace(home, generation_kw=(kilowatts,) * len(home.phases))
        for name, home in street.premises.items()
    }
    return replace(street, premises=homes)


def volts_of(one: Network, home: str) -> list[float]:
    phases = one.street.premises[home].phases
    return [abs(one.solution.volts(f"{home}.{phase}", f"{home}.N")) for phase in phases]


def faulty(street: Street, fault: Fault, law: Any) -> Network:
    return fault.applied_to(settled(network(street), law))


EVERY_FAULT = [
    pytest.param(street, law, id=f"{name}, {law}") for name, street in STREETS.items() for law in LAWS
]


@pytest.mark.parametrize(("street", "law"), EVERY_FAULT)
def test_every_load_takes_what_its_law_says_under_every_fault(street: Street, law: str) -> None:
    for fault in catalogue(street):
        now = faulty(street, fault, law)
        assert now.settled.rounds <= MOST_SEEN
        for name, load in now.branches.items():
            if "/load." not in name or load.impedance == OPEN:
                continue
            home, _, part = name.partition("/")
            volts = abs(now.solution.volts(f"{home}.{part[5:]}", f"{home}.N"))
            per_unit = volts / NOMINAL_VOLTS
            takes = now.solution.power(name)
            rated = NOMINAL_VOLTS**2 / load.impedance.conjugate()
            if LOAD_WINDOW[0] < per_unit < LOAD_WINDOW[1]:
                assert takes == pytest.approx(rated * per_unit ** LAWS[law], rel=1e-8), (str(fault), name)
            elif per_unit < 0.5:
                assert takes == pytest.approx(rated * per_unit**2, rel=1e-8, abs=1e-12), (str(fault), name)


def test_loads_of_ohms_leave_the_street_as_it_was() -> None:
    street = network(streets.mixed())
    same = settled(street, "ohms")
    assert same == street
    assert same.settled.branches is street.branches
    assert same.settled.rounds == 0


def test_an_unknown_law_is_refused() -> None:
    with pytest.raises(ValueError, match="no law of loads is called 'joules'"):
        settled(network(streets.pair()), "joules")


@pytest.mark.parametrize("edge", LOAD_WINDOW)
@pytest.mark.parametrize("law", LAWS)
def test_a_load_knows_no_jump_at_the_edge_of_its_window(law: str, edge: float) -> None:
    def amperes(volts: float) -> float:
        stiff = with_each(streets.pair(volts=volts), load_kw=(1e-3,))
        now = settled(network(stiff), law)
        return abs(now.solution.current("12/load.L1"))

    below, above = amperes(NOMINAL_VOLTS * edge * 0.99999), amperes(NOMINAL_VOLTS * edge * 1.00001)
    assert above == pytest.approx(below, rel=1e-4)


@pytest.mark.parametrize("law", LAWS)
def test_settling_what_is_settled_changes_nothing(law: str) -> None:
    once = settled(network(streets.terrace()), law)
    assert once.solution.potential("6.N") == settled(once, law).solution.potential("6.N")
    before = as_worked(once, frozenset({Condition("main-earth-lifted", "6")}))
    after = settled(
        as_worked(network(streets.terrace()), frozenset({Condition("main-earth-lifted", "6")})), law
    )
    assert before.solution.potential("6.MET") == after.solution.potential("6.MET")


@given(
    kw=st.tuples(*[st.floats(0.05, 7)] * 3),
    fault=st.sampled_from(
        ["healthy", "service-pen-open@6", "mains-pen-high@substation-J1", "line-open@6.L3"]
    ),
)
def test_a_band_contains_what_each_law_gives(kw: tuple[float, ...], fault: str) -> None:
    street = parse(fault).applied_to(network(streets.terrace(kw=kw, pipe=None)))
    low, high = band(street, lambda one: clamped(one, "4", ("neutral_tail",)))
    for law in LAWS:
        assert low <= clamped(settled(street, law), "4", ("neutral_tail",)) <= high


def test_the_settled_street_is_an_ordinary_circuit() -> None:
    """Its settled impedances, taken as loads of ohms, give the same figures everywhere."""
    street = parse("mains-pen-open@substation-J1").applied_to(
        settled(network(streets.terrace(pipe=None)), "watts")
    )
    plain = Network(street.street, street.settled.branches)
    for home, figures in measured(plain).items():
        assert figures == pytest.approx(measured(street)[home], rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("law", LAWS)
def test_the_whole_street_reads_as_home_by_home(law: str) -> None:
    street = settled(network(generating(with_each(streets.pair(), third_harmonic=0.3))), law)
    whole = WholeStreet(street)
    assert {home: dict(whole.everywhere[home]) for home in ("12", "14")} == {
        home: readings(street, home) for home in ("12", "14")
    }


# generation


@pytest.mark.parametrize("street", [generating(street) for street in STREETS.values()], ids=list(STREETS))
@pytest.mark.parametrize("law", ["ohms", "watts"])
def test_generation_gives_its_power_or_has_tripped(street: Street, law: str) -> None:
    low, high = (share * NOMINAL_VOLTS for share in GENERATION_WINDOW)
    for fault in catalogue(street):
        now = faulty(street, fault, law)
        off = tripped(now)
        for home, premises in street.premises.items():
            for phase, volts in zip(premises.phases, volts_of(now, home), strict=True):
                name = f"{home}/generation.{phase}"
                if name in off:
                    assert now.solution.current(name) == 0
                    continue
                assert low <= volts <= high, (str(fault), name)
                assert now.solution.power(name) == pytest.approx(-3600, rel=1e-7), (str(fault), name)


@pytest.mark.parametrize("kilowatts", [0.5, 1.4, 3.6, 10.0])
def test_no_island_lives_on(kilowatts: float) -> None:
    """1.4 kW into a load of 1.4 kW would hold 230 V for ever."""
    street = generating(streets.pair(), kilowatts)
    for fault in ("line-open@12.L1", "mains-line-open@substation-J1.L1"):
        now = faulty(street, parse(fault), "ohms")
        assert "12/generation.L1" in tripped(now)
        assert volts_of(now, "12")[0] < 1


def test_an_opened_main_switch_takes_generation_off() -> None:
    street = settled(network(generating(streets.pair())), "ohms")
    opened = as_worked(street, frozenset({Condition("main-switch-open", "12")}))
    assert opened.solution.current("12/generation.L1") == 0
    assert tripped(opened) == {}  # it was switched off
    fuseless = as_worked(street, frozenset({Condition("fuse-withdrawn", "12")}))
    assert list(tripped(fuseless)) == ["12/generation.L1"]


def test_generation_that_is_not_there_is_no_branch_that_carries() -> None:
    plain, none = network(streets.pair()), network(generating(streets.pair(), 0.0))
    assert none.solution.potential("12.N") == plain.solution.potential("12.N")
    assert tripped(none) == {}


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        ({"generation_kw": (1.0, 2.0)}, "one figure for each of 1 phases"),
        ({"generation_kw": (-1.0,)}, "generation_kw must be 0 or more"),
        ({"third_harmonic": 1.5}, "third_harmonic must be from 0 to 1"),
    ],
)
def test_what_cannot_be_is_refused(parts: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        streets.home(**parts)


# third harmonic


def test_third_harmonics_of_balanced_lines_add_in_the_neutral() -> None:
    """BSRIA AG 2/2000 (read): 70 % of third harmonic in three equal lines give 172 % in the neutral, of a
    line's r.m.s. current."""
    homes = {"7": streets.home(phases=("L1", "L2", "L3"), load_kw=(3.0, 3.0, 3.0), third_harmonic=0.7)}
    street = settled(network(replace(streets.pair(), premises=homes, metalwork=())), "amperes")
    line, neutral = (clamped(street, "7", (part,)) for part in ("line_tail", "neutral_tail"))
    assert neutral / line == pytest.approx(1.72, abs=0.005)


def test_a_street_without_harmonics_is_solved_once() -> None:
    street = network(streets.pair())
    assert street.third is None
    assert clamped(street, "12", ("neutral_tail",)) == abs(street.solution.current("12/tail.N"))


def test_a_clamp_round_line_and_neutral_shows_no_harmonic() -> None:
    street = network(with_each(streets.pair(), third_harmonic=0.5))
    assert street.third is not None
    assert clamped(street, "12", ("neutral_tail",)) > 1.1 * abs(street.solution.current("12/tail.N"))
    assert clamped(street, "12", ("line_tail", "neutral_tail")) < 0.05


# many


def test_many_settle_as_one_by_one() -> None:
    drawn = [
        generating(with_each(streets.terrace(kw=kw, pipe=None), third_harmonic=share), kilowatts)
        for kw, share, kilowatts in [
            ((1.4, 0.6, 2.2), 0.1, 0.0),
            ((7.0, 0.1, 3.0), 0.4, 3.6),
            ((0.2, 0.2, 0.2), 0.3, 1.0),
            ((4.0, 4.0, 0.5), 0.2, 2.0),
        ]
    ]
    laws = np.array([0.0, 1.0, 2.0, 0.0])
    for fault in ("healthy", "mains-pen-open@J1-J2", "line-open@6.L3"):
        ones = [parse(fault).applied_to(network(street)) for street in drawn]
        together = settled(stacked(ones), laws)
        assert together.settled.found.all()

        for place, (one, law) in enumerate(zip(ones, laws, strict=True)):
            alone = settled(one, float(law))
            for home in alone.street.premises:
                [phase] = alone.street.premises[home].phases
                volts = together.solution.volts(f"{home}.{phase}", f"{home}.N")[place]
                assert volts == pytest.approx(alone.solution.volts(f"{home}.{phase}", f"{home}.N"), abs=1e-3)
                for part in ("neutral_tail", "main_earth"):
                    shown = clamped(together, home, (part,))[place]
                    assert shown == pytest.approx(clamped(alone, home, (part,)), abs=1e-4)
            off = {name for name, mask in tripped(together).items() if mask[place]}
            assert off == set(tripped(alone))


def test_what_does_not_settle_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("calc.settling.MOST_ROUNDS", 2)
    street = settled(network(streets.terrace(pipe=None)), "watts")
    with pytest.raises(CircuitError, match="do not settle within 2 rounds"):
        street.solution.potential("6.N")
    monkeypatch.setattr("calc.settling.WITHIN_OF_MANY", 1e-10)
    many = stacked([street, settled(street.with_added_ohm("6/main_earth", 1.0), "ohms")])
    assert many.settled.found.tolist() == [False, True]
