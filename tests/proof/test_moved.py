"""How a share moves, from sums of weights that are reckoned by hand."""

from __future__ import annotations

import pytest

from build_tools.proof.doubts import OHMS
from build_tools.proof.moved import UNMOVED, Corner, Moved, judged

PARTS = len(OHMS) - 1


def by_weights(share: float, *ends: tuple[int, int, int]) -> Moved:
    """Of ends with the weights of those asked, of those where it happened, and the squares of the first."""
    return Moved.by_weights(share, list(zip(*ends, strict=True)))


def test_the_greatest_move_comes_first_and_of_two_alike_the_first_end() -> None:
    """A hundred streets at an end, half of them as drawn, nine in ten, fifty with one in ten, all, and a
    hundred that weigh two each; a share has four places."""
    moved = by_weights(
        0.5, (100, 50, 100), (100, 90, 100), (50, 5, 50), (100, 100, 100), (200, 180, 400), (3000, 1000, 3000)
    )
    assert moved == Moved(((3, 1.0), (1, 0.9), (2, 0.1), (4, 0.9), (5, 0.3333)))


def test_of_fewer_than_fifty_streets_nothing_is_known() -> None:
    """Those that weigh more than others speak for fewer: a hundred of weight 1 and one of 100 for four."""
    none, few, heavy, uneven, enough = (
        (0, 0, 0),
        (49, 49, 49),
        (98, 98, 196),
        (200, 200, 10_100),
        (50, 50, 50),
    )
    assert by_weights(0.5, none, few, heavy, uneven, enough) == Moved(((4, 1.0),), (0, 1, 2, 3))


def test_what_moves_is_beyond_what_chance_does_once_in_two_thousand() -> None:
    """Of a hundred streets, each as likely as not, 67 or more come up with a chance of 0.0004, 66 or more
    with one of 0.0009; and as few as 33 or 34."""
    columns = [(100, happened, 100) for happened in (66, 67, 33, 34)]
    assert by_weights(0.5, *columns) == Moved(((1, 0.67), (2, 0.33)))


def test_between_which_shares_it_moves() -> None:
    """The share as drawn is one of them."""
    assert Moved(((3, 0.9), (1, 0.7)), (2,)).between(0.5) == (0.5, 0.9)
    assert Moved(((3, 0.1), (1, 0.7))).between(0.5) == (0.1, 0.7)
    assert UNMOVED.between(0.5) == (0.5, 0.5)


def test_it_comes_back_as_it_was_kept() -> None:
    assert Moved.of([[[3, 1], [1, 0.25]], [2, 4]]) == Moved(((3, 1.0), (1, 0.25)), (2, 4))
    with pytest.raises((ValueError, TypeError)):
        Moved.of([[], [], []])


def test_a_corner_has_its_share_and_bounds_with_six_places() -> None:
    """One-sided: none of ten leaves up to 1 - 0.05^(1/10) open."""
    assert Corner.of(10, 0) == Corner(10, 0, 0.0, 0.258866)
    assert Corner.of(10, 10) == Corner(10, 10, 0.741134, 1.0)


def test_after_the_ends_come_the_parts_of_joints_gone_bad() -> None:
    """Told of such faults alone; where nothing was weighed nothing is known to move."""
    asked, happened, squares = (
        [100, 100, *range(10, 10 + PARTS)],
        [90, 50, *range(PARTS)],
        [100, 100, *[1] * PARTS],
    )
    joints = tuple((10 + part, part) for part in range(PARTS))
    moved = Moved(((0, 0.9),))
    assert judged("service-pen-high", 0.5, [asked, happened, squares]) == (moved, joints)
    for fault in ("service-pen-open", "healthy", "any"):
        assert judged(fault, 0.5, [asked, happened, squares]) == (moved, ())
    assert judged("service-pen-high", 0.5, ()) == (UNMOVED, ())
