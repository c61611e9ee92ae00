"""What a batch keeps while it stands: the cost of a state, where its joints are, and what callers said."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import streets
from batches import as_drawn, batch_of, parted

from build_tools.guide.loading import load
from build_tools.proof.lasting import Lasting, joint_of
from build_tools.proof.street_batch import StreetBatch
from calc.exposure import EXPOSURES, street_exposure
from calc.faults import KINDS
from calc.joint_law import JointLaw
from calc.minutes import Minutes
from calc.street import network
from calc.work import as_worked, done

NONE: frozenset[str] = frozenset()


@pytest.fixture(scope="module")
def minutes() -> Minutes:
    shipped = load(Path(__file__).parents[2] / "guide_src").minutes
    assert shipped is not None
    laws = {
        "comes-and-goes": JointLaw("by hand", "at-times", bad_share=0.5, bad_minutes=40),
        "shaken": JointLaw("by hand", "after-disturbance", bad_share=0.5, opens=0.5, closes=0.5),
    }
    return replace(shipped, laws={**shipped.laws, **laws})


def on(*shares: float, kind: str, row: bool = True) -> StreetBatch:
    """Streets of six homes and no pipe, or of mixed ones, with the fault at these shares of its places."""
    street, home = (parted(streets.terrace()), "2") if row else (streets.mixed(), "7")
    return batch_of(
        *(as_drawn(street, home, shares=(0.0, share), joint_ohm=3.0) for share in shares), kind=kind
    )


@pytest.mark.parametrize("kind", ["service-pen-open", "mains-pen-open", "service-pen-high"])
@pytest.mark.parametrize("action", ["", "open-main-switch"])
def test_a_state_costs_what_it_costs_in_each_street_alone(minutes: Minutes, kind: str, action: str) -> None:
    batch = on(0.0, 0.99, kind=kind)
    lasting = Lasting(batch, minutes)
    conditions = done(frozenset(), action, "2") if action else frozenset()
    for bad in (True, False, True):
        costs = lasting.costs(conditions, bad)
        assert costs.shape == (len(EXPOSURES), 2)
        for n, drawn in enumerate(batch.drawn):
            sound = network(drawn.street)
            state = as_worked(batch.fault(n).applied_to(sound) if bad else sound, conditions)
            alone = street_exposure(state, minutes.people, sound)
            assert costs[:, n].tolist() == pytest.approx(
                [alone[each] for each in EXPOSURES], rel=1e-5, abs=1e-9
            )
    assert lasting.costs(conditions).any()


@pytest.mark.parametrize(
    ("kind", "joints"),
    [
        ("service-pen-open", [f"{home}/service.PEN" for home in ("2", "4", "6", "8", "10", "12")]),
        ("loose-neutral-tail", [f"{home}/tail.N" for home in ("2", "4", "6", "8", "10", "12")]),
        ("healthy", None),
        ("high-volts", None),
        ("borrowed-neutral", None),
        ("earth-leak", None),
        ("reversed-polarity", None),
    ],
)
def test_a_joint_is_one_conductor_that_was_there_before(kind: str, joints: list[str] | None) -> None:
    found = joint_of(on(0.0, kind=kind))
    assert (list(found) if found else found) == joints
    assert Lasting(on(0.0, kind=kind), None).joints == found  # type: ignore[arg-type]


def test_a_joint_carries_what_it_carries_when_it_is_sound(minutes: Minutes) -> None:
    batch = on(0.0, 0.4, 0.99, kind="service-pen-open")
    lasting = Lasting(batch, minutes)
    for conditions in (frozenset(), done(frozenset(), "open-main-switch", "6")):
        sound = as_worked(network(parted(streets.terrace())), conditions)
        expected = [abs(sound.solution.current(f"{home}/service.PEN")) for home in ("2", "6", "12")]
        assert lasting.amperes(conditions).tolist() == pytest.approx(expected, rel=1e-6, abs=1e-9)
        assert lasting.amperes(conditions) is lasting.amperes(conditions)


@pytest.mark.parametrize("law", ["comes-and-goes", "shaken"])
def test_turns_of_each_street_come_of_its_own_stream(minutes: Minutes, law: str) -> None:
    """The law's own turns, whatever other streets are there; none after the last."""
    batch = on(*[0.0] * 5, kind="service-pen-open")
    turns = Lasting(batch, minutes).turns(law, 200.0, 7)
    for n in range(5):
        own = minutes.laws[law].turns(random.Random(f"7/{n}/joint/{law}"), 200.0)
        assert [float(each[n]) for each in turns] == [*own, *[math.inf] * (len(turns) - len(own))]
    assert len({tuple(each[n] for each in turns) for n in range(5)}) == 5


def test_each_word_that_callers_say_has_its_streets(minutes: Minutes) -> None:
    senses = ({"caller-sees-volts": 0.0}, {}, {"caller-sees-dip": 0.0})
    lasting = Lasting(batch_of(*(as_drawn(streets.pair(), caller=each) for each in senses)), minutes)
    for _ in range(2):
        assert lasting.told("lights") == {"bright": 0b001, "steady": 0b010, "dim": 0b100}
        assert lasting.told("danger") == {"yes": 0b001, "no": 0b110}


@pytest.mark.parametrize("of", [2, 3, 5])
def test_lots_part_the_streets_evenly(minutes: Minutes, of: int) -> None:
    many = 600
    lasting = Lasting(batch_of(*[as_drawn(streets.pair())] * many), minutes)
    lots = lasting.lots("tree", "node", 1, of)
    assert len(lots) == of and sum(lots) == (1 << many) - 1
    assert all(lot.bit_count() == pytest.approx(many / of, abs=5 * (many / of) ** 0.5) for lot in lots)
    assert all(one & other == 0 for place, one in enumerate(lots) for other in lots[:place])
    assert lasting.lots("tree", "node", 1, of) == lots != lasting.lots("tree", "other", 1, of)


@pytest.mark.parametrize(
    "kind", ["service-pen-open", "loose-line-tail", "mains-pen-open", "mains-sheath-open"]
)
def test_near_a_joint_are_the_homes_whose_own_conductor_it_is_in(minutes: Minutes, kind: str) -> None:
    batch = on(0.0, 0.3, 0.99, kind=kind, row=kind != "mains-sheath-open")
    near = Lasting(batch, minutes).near
    assert near.keys() == batch.street.premises.keys()
    for home, bits in near.items():
        assert [bool(bits >> n & 1) for n in range(3)] == [
            home in batch.fault(n).homes(batch.street) for n in range(3)
        ]
    assert KINDS[kind].is_joint == (kind == "loose-line-tail")
    assert np.any([bits != near["2" if "2" in near else "7"] for bits in near.values()])
