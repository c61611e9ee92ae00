"""Streets and faults, each solved again by ngspice in this run: every potential and every current.

Source of what is expected: ngspice, an open circuit simulator. What it answers is not stored.
Tolerance: 1e-9 of the supply's volts at every point, a loose earth on its leakage included, and 1e-9 of the
largest current in every branch. The worst seen is 1e-11: both programs keep about 16 digits, and ngspice
loses some to the 20 megohm of insulation beside milliohms of cable.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import spice
import streets

from calc.circuit import EARTH, Branch, CircuitError
from calc.danger import END_LIVE, measured
from calc.faults import Fault, catalogue, parse
from calc.limits import LIMITS
from calc.street import Network, Street, network
from calc.work import as_worked, done

WITHIN = 1e-9

CASES: dict[str, tuple[Street, str, tuple[str, ...]]] = {
    "healthy terrace, copper pipe": (streets.terrace(12), "healthy", ()),
    "healthy terrace, no pipe": (streets.terrace(pipe=None), "healthy", ()),
    "service PEN open, different phases": (streets.pair(), "service-pen-open@14", ()),
    "the same, our main earth lifted": (streets.pair(), "service-pen-open@14", ("lift-main-earth@12",)),
    "service PEN open, same phase": (streets.pair(("L1", "L1")), "service-pen-open@14", ()),
    "the same phase, our main earth lifted": (
        streets.pair(("L1", "L1")),
        "service-pen-open@14",
        ("lift-main-earth@12",),
    ),
    "pipe earthed, our main earth lifted": (
        streets.pair(pipe_earth_ohm=40),
        "service-pen-open@14",
        ("lift-main-earth@12",),
    ),
    "known load on beside an open PEN": (
        streets.terrace(),
        "service-pen-open@6",
        ("switch-on-known-load@6",),
    ),
    "mains PEN open, pipe past the break": (streets.terrace(), "mains-pen-open@J1-J2", ()),
    "mains PEN open, nothing past the break": (
        streets.terrace(pipe=None),
        "mains-pen-open@substation-J1",
        (),
    ),
    "mains PEN with 1 ohm": (streets.terrace(pipe=None), "mains-pen-high@J1-J2=1", ()),
    "sheath open": (streets.mixed(), "sheath-open@3", ("lift-main-earth@1",)),
    "mains neutral open before a three-phase home": (streets.mixed(), "mains-neutral-open@J1-J2", ()),
    "mains PEN open on the mixed street": (streets.mixed(), "mains-pen-open@J2-J3", ("open-main-switch@11",)),
    "reversed polarity, earth live": (streets.pair(), "reversed-polarity-earth-live@12", ()),
    "reversed polarity, earth on the PEN": (streets.terrace(), "reversed-polarity@8", ()),
    "three-phase home loses its PEN": (streets.mixed(), "service-pen-open@7", ("lift-main-earth@9",)),
    "overhead PEN down": (streets.overhead(), "mains-pen-open@P1-P2", ()),
    "overhead, fuse withdrawn": (
        streets.overhead(),
        "mains-pen-high@substation-P1=3",
        ("withdraw-cut-out-fuse@Farm",),
    ),
    "lost bond and pipe that floats": (
        streets.pair(),
        "bond-lost@14.water",
        ("lift-main-earth@12", "withdraw-cut-out-fuse@12"),
    ),
}


def worked(street: Street, fault: str, actions: tuple[str, ...]) -> Network:
    conditions = frozenset()
    for action in actions:
        conditions = done(conditions, *action.split("@"))
    return as_worked(parse(fault).applied_to(network(street)), conditions)


def assert_agrees(faulty: Network, folder: Path) -> None:
    """Every potential, every current and every floating point as ngspice has them."""
    outside, ours = spice.simulate(faulty.branches.values(), folder), faulty.solution
    assert outside.floating == {point for island in ours.islands for point in island}
    supply = faulty.street.supply.volts
    volts_off = {point: abs(volts - ours.potential(point)) for point, volts in outside.volts.items()}
    worst = max(volts_off, key=volts_off.__getitem__)
    assert volts_off[worst] < WITHIN * supply, (worst, outside.volts[worst], ours.potential(worst))
    largest = max(map(abs, outside.amperes.values()))
    amperes_off = {name: abs(amperes - ours.current(name)) for name, amperes in outside.amperes.items()}
    worst = max(amperes_off, key=amperes_off.__getitem__)
    assert amperes_off[worst] < WITHIN * largest, (worst, outside.amperes[worst], ours.current(worst))


@pytest.mark.outside
@pytest.mark.parametrize("case", CASES)
def test_agrees_with_ngspice(case: str, tmp_path: Path) -> None:
    assert_agrees(worked(*CASES[case]), tmp_path)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("fault", "live"),
    [("healthy", False), ("service-pen-open@6", True), ("reversed-polarity-earth-live@6", True)],
)
def test_a_body_at_the_end_of_a_lifted_main_earth(fault: str, live: bool, tmp_path: Path) -> None:
    """The body is a resistor of the netlist: from where the main earth came from to true earth."""
    lifted = worked(streets.terrace(pipe=None), fault, ("lift-main-earth@6",))
    end = lifted.branches["6/main_earth"].start
    body = Branch("body", end, EARTH, complex(LIMITS["body-ohm"].value))
    outside = spice.simulate([*lifted.branches.values(), body], tmp_path)
    assert measured(lifted)["6"][END_LIVE] == pytest.approx(abs(outside.volts[end]), abs=0.01 if live else 50)
    assert (abs(outside.volts[end]) > LIMITS["touch-volts"].value) is live


ONE_OF_A_KIND = [
    pytest.param(street, fault, id=f"{name}: {fault}")
    for name, street in {"mixed": streets.mixed(), **streets.SHIPPED}.items()
    for fault in {fault.kind: fault for fault in catalogue(street)}.values()  # the last place of each kind
]


@pytest.mark.outside
@pytest.mark.parametrize(("street", "fault"), ONE_OF_A_KIND)
def test_every_kind_of_fault_agrees_with_ngspice(street: Street, fault: Fault, tmp_path: Path) -> None:
    assert_agrees(fault.applied_to(network(street)), tmp_path)


TOGETHER = [
    "service-pen-open@9+crossed-neutrals@9.11",
    "service-pen-high@7=0.4+borrowed-neutral@7.9",
    "mains-neutral-open@J1-J2+neutral-earth-joined@5",
    "reversed-polarity-earth-live@11+loose-neutral-tail@11",
    "earth-leak@5=200+sheath-open@1",
    "protective-conductor-lost@3=4000+mains-pen-open@J2-J3+high-volts",
    "earth-leak@9=0.2+bond-lost@9.water",
]


@pytest.mark.outside
@pytest.mark.parametrize("faults", TOGETHER)
def test_several_faults_at_once_agree_with_ngspice(faults: str, tmp_path: Path) -> None:
    """The last of them blows a fuse."""
    faulty = parse(faults).applied_to(network(streets.mixed()))
    blown = [name for name, b in faulty.branches.items() if "/tail.L" in name and b.is_open]
    assert blown == (["9/tail.L2"] if faults == TOGETHER[-1] else [])
    assert_agrees(faulty, tmp_path)


@pytest.mark.outside
def test_would_notice_a_milliohm(tmp_path: Path) -> None:
    sound = network(streets.pair())
    outside = spice.simulate(sound.branches.values(), tmp_path)
    ours = sound.with_added_ohm("12/main_earth", 1e-3).solution
    assert abs(ours.potential("12.MET") - outside.volts["12.MET"]) > 1000 * WITHIN * 240


@pytest.mark.outside
def test_ngspice_is_told_of_what_floats(tmp_path: Path) -> None:
    """A piece of pipe cut off on both sides, with no soil round it, floats: nobody may give it volts."""
    cut = network(streets.pair()).opened("12/bond.water", "12-14/water")
    assert spice.simulate(cut.branches.values(), tmp_path).floating == {"12.water"}
    with pytest.raises(CircuitError, match=r"12\.water floats"):
        cut.solution.potential("12.water")


def test_the_streets_of_the_demo_guide_are_among_them() -> None:
    assert len(streets.SHIPPED) >= 3
