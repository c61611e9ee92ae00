"""Streets as bits, as arrays, and parted into work: whatever is put together comes apart as it was."""

from __future__ import annotations

import numpy as np
import pytest
import streets

from build_tools.proof.street_batch import (
    batches,
    bits_of,
    faulty_batches,
    mask_of,
    of_one_shape,
    stacked,
    taken,
)
from calc.circuit import OPENED_OHM
from calc.drawn_streets import layout_of
from calc.faults import parse
from calc.sampling import Sampling
from calc.street import network


@pytest.mark.parametrize("size", [1, 7, 8, 9, 200])
def test_a_mask_is_the_bits_of_a_number(size: int) -> None:
    mask = np.array([place % 3 == 1 or place == size - 1 for place in range(size)])
    bits = bits_of(mask)
    assert bits == sum(1 << place for place in range(size) if mask[place])
    back = mask_of(bits, size)
    assert back.dtype == bool and back.tolist() == mask.tolist()
    assert not mask_of(0, size).any() and bits_of(np.zeros(size, bool)) == 0


def test_networks_put_together_come_apart_as_they_were() -> None:
    """What is alike stays one figure; what is open in some and whole in others has a finite one."""
    whole = network(streets.pair())
    networks = [network(streets.pair(kw=(1.4, kw))) for kw in (2.0, 3.0)]
    networks.append(parse("service-pen-open@12").changed(whole))
    together = stacked(networks)
    assert together.street == networks[0].street
    for place, alone in enumerate(networks):
        one = taken(together, np.arange(3) == place)
        for name, branch in alone.branches.items():
            impedance, emf = np.ravel(one.branches[name].impedance), np.ravel(one.branches[name].emf)
            expected = OPENED_OHM if branch.is_open else branch.impedance
            assert (impedance.tolist(), emf.tolist()) == ([expected], [branch.emf]), name
    assert np.ndim(together.branches["14/main_earth"].impedance) == 0


def test_a_branch_that_some_lack_is_open_there() -> None:
    """An added branch and a moved end: solved together, each network has the volts that it has alone."""
    whole = network(streets.pair())
    faults = ("healthy", "reversed-polarity@12", "borrowed-neutral@12.14", "main-earth-lost@14")
    networks = [parse(fault).changed(whole) for fault in faults]
    shaped = of_one_shape(networks)
    assert len({tuple(each.branches) for each in shaped}) == 1
    together = stacked(shaped)
    for point in ("12.MET", "12.N", "14.N"):
        volts = np.broadcast_to(abs(together.solution.volts(point, "earth")), len(networks))
        alone = [abs(each.solution.volts(point, "earth")) for each in networks]
        assert volts.tolist() == pytest.approx(alone, rel=1e-6, abs=1e-6)
    alike = [whole, parse("service-pen-open@12").changed(whole)]
    assert of_one_shape(alike) == alike


def test_streets_come_by_layout_and_with_each_kind_of_fault_in_turn(sampling: Sampling) -> None:
    found = batches(sampling, range(12))
    layouts = [{drawn.layout for drawn in batch.drawn} for batch in found]
    assert all(len(each) == 1 for each in layouts)
    assert [min(each) for each in layouts] == sorted({layout_of(sampling, number).id for number in range(12)})
    assert sorted(drawn.number for batch in found for drawn in batch.drawn) == list(range(12))
    assert all(
        [drawn.number for drawn in b.drawn] == sorted(drawn.number for drawn in b.drawn) for b in found
    )
    kinds = [batch.kind for batch in faulty_batches(sampling, range(4), ("main-earth-lost", "healthy"))]
    assert set(kinds) == {"main-earth-lost", "healthy"} and kinds == sorted(kinds, reverse=True)
