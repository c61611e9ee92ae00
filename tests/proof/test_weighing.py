"""Streets weighed at each end of each spread: sums that can be reckoned for a street by itself."""

from __future__ import annotations

import numpy as np
import streets
from batches import as_drawn, batch_of

from build_tools.proof.cases import Case
from build_tools.proof.doubts import AS_DRAWN, OHMS, End, size, weight
from build_tools.proof.weighing import Weighing
from calc.sampling import Sampling

ONE, OTHER = Case("one", "tree", "healthy"), Case("other", "tree", "healthy")


DRAWN = (
    as_drawn(streets.pair(), joint_ohm=0.03, taken={"supply-volts": (0.1,)}),
    as_drawn(streets.pair(), joint_ohm=0.3, taken={"supply-volts": (0.9,)}),
    as_drawn(streets.pair(), joint_ohm=7.0, taken={"supply-volts": (0.5,), "load-kw": (0.1, 0.1)}),
    as_drawn(streets.pair(), joint_ohm=7.0),
)


def test_each_end_has_the_weights_of_those_asked_and_of_those_where_it_happened(sampling: Sampling) -> None:
    """And the squares of the first; a case that was added twice counts twice, and a batch is counted once."""
    weighing = Weighing(sampling)
    batch = batch_of(*DRAWN)
    asked, happened = np.array([True, True, True, False]), np.array([True, False, True, True])
    weighing.count(batch)
    assert not weighing.sums, "nothing was added"
    for _ in range(2):
        weighing.add(ONE, asked, happened)
    weighing.add(OTHER, ~asked, happened)
    for _ in range(2):
        weighing.count(batch)
    assert set(weighing.sums) == {ONE, OTHER}
    for place, end in enumerate(weighing.ends):
        weights = [0 if end.is_walked_anew else weight(sampling, end, drawn) for drawn in batch.drawn]
        expected = {
            ONE: [sum(weights[:3]), weights[0] + weights[2], sum(each**2 for each in weights[:3])],
            OTHER: [weights[3], weights[3], weights[3] ** 2],
        }
        assert weighing.sums[ONE][:, place].tolist() == [2 * each for each in expected[ONE]], end
        assert weighing.sums[OTHER][:, place].tolist() == expected[OTHER], end
    low = weighing.ends.index(End("supply-volts", "low"))
    assert weighing.sums[OTHER][:, low].tolist() == [AS_DRAWN, AS_DRAWN, AS_DRAWN**2]
    assert weighing.sums[ONE][:2, low].tolist() == [6 * AS_DRAWN, 6 * AS_DRAWN], "three times as likely there"


def test_after_the_ends_streets_are_counted_by_the_size_of_their_joint(sampling: Sampling) -> None:
    weighing = Weighing(sampling)
    batch = batch_of(*DRAWN)
    weighing.add(ONE, np.array([True, True, True, False]), np.array([True, False, True, True]))
    weighing.count(batch)
    sums = weighing.sums[ONE][:, len(weighing.ends) :]
    assert sums.shape == (3, len(OHMS) - 1) and sums.dtype == np.int64
    parts = [size(drawn) for drawn in batch.drawn]
    for part in range(len(OHMS) - 1):
        those = [part == each for each in parts]
        assert sums[:, part].tolist() == [sum(those[:3]), those[0] + those[2], sum(those[:3])]
    assert sums[0].sum() == 3


def test_what_is_walked_anew_counts_each_street_as_one(sampling: Sampling) -> None:
    weighing = Weighing(sampling)
    end = next(end for end in weighing.ends if end.is_walked_anew)
    asked, happened = np.array([True, True, True, False]), np.array([True, False, False, True])
    for _ in range(2):
        weighing.anew(ONE, end, asked, happened)
    place = weighing.ends.index(end)
    assert weighing.sums[ONE][:, place].tolist() == [6, 2, 6]
    assert weighing.sums[ONE].sum() == 14, "and at no other end"
