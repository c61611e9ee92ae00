"""Each end of a spread: which there are, what is drawn there, and what a street as drawn weighs there."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from build_tools.guide.loading import load
from build_tools.proof.doubts import CORNER_STREETS, OHMS, End, ends_of, put, size, weight
from calc.drawn_streets import Drawn, draw
from calc.sampling import Sampling, Spread


@pytest.fixture(scope="module")
def sampling() -> Sampling:
    shipped = load(Path(__file__).parents[2] / "guide_src").sampling
    assert shipped is not None
    two = (replace(shipped.layouts[0], weight=1), replace(shipped.layouts[1], weight=3))
    spreads = {
        "supply-volts": Spread("a range", uniform=(0, 90)),
        "joint-ohm": Spread("factors", log_uniform=(1, 1000)),
        "star-point-ohm": Spread("one figure", uniform=(2, 2)),
        "pipe": Spread("a choice", choice={"lead": 3, "copper-22": 1}),
        "main-cable": Spread("no choice", choice={"mains-185-al-cne": 1}),
        "generates": Spread("doubted", chance=0.25, doubt=(0.1, 0.5)),
        "has-big-load": Spread("known", chance=0.25),
        "pipe-is-in-soil": Spread("always, it seems", chance=1, doubt=(0.5, 1)),
        "pipe-is-unrecorded": Spread("never, it seems", chance=0, doubt=(0, 0.5)),
    }
    return replace(shipped, layouts=two, spreads={**shipped.spreads, **spreads})


@pytest.fixture(scope="module")
def drawn(sampling: Sampling) -> Drawn:
    return draw(sampling, 1)


def test_an_end_is_told_where_something_else_could_be(sampling: Sampling) -> None:
    def ends(spread: str) -> list[str]:
        return [end.at for end in ends_of(sampling) if end.spread == spread]

    assert ends("supply-volts") == ends("joint-ohm") == ends("generates") == ["low", "high"]
    assert ends("pipe") == ["lead", "copper-22"]
    assert ends("star-point-ohm") == ends("main-cable") == ends("has-big-load") == []
    assert ends("layout") == [layout.id for layout in sampling.layouts]
    alone = replace(sampling, layouts=sampling.layouts[:1])
    assert ends_of(alone) == tuple(end for end in ends_of(sampling) if end.spread != "layout")


def test_what_is_drawn_at_an_end(sampling: Sampling) -> None:
    """A third of a range, by figures or by factors; the other chance; one choice; one shape of street."""

    def there(spread: str, at: str) -> Spread:
        return put(sampling, [End(spread, at)]).spreads[spread]

    for at, third in (("low", (0, 30)), ("high", (60, 90))):
        assert there("supply-volts", at).uniform == pytest.approx(third)
    for at, third in (("low", (1, 10)), ("high", (100, 1000))):
        assert there("joint-ohm", at).log_uniform == pytest.approx(third)
    assert [there("generates", at).chance for at in ("low", "high")] == [0.1, 0.5]
    assert {there("pipe", "copper-22").at(share) for share in (0, 0.5, 0.99)} == {"copper-22"}
    second = sampling.layouts[1]
    both = put(sampling, [End("layout", second.id), End("generates", "low")])
    assert both.layouts == (second,) and both.spreads["generates"].chance == 0.1
    assert put(sampling, []) == sampling


WEIGHTS = [  # a spread, an end, the shares drawn, how much likelier a street with these is there
    ("supply-volts", "low", (0.3,), 3),
    ("supply-volts", "low", (0.35,), 0),
    ("supply-volts", "high", (0.65,), 0),
    ("supply-volts", "high", (0.7,), 3),
    ("pipe", "lead", (0.7,), 4 / 3),  # drawn below 3/4
    ("pipe", "copper-22", (0.7,), 0),
    ("pipe", "copper-22", (0.8, 0.1, 0.9, 0.2), 4 / 2),
    ("generates", "low", (0.2,), 0.1 / 0.25),
    ("generates", "high", (0.2,), 0.5 / 0.25),
    ("generates", "high", (0.25,), 0.5 / 0.75),
    ("generates", "low", (0.2, 0.9, 0.8), 0.4 * 1.2 * 1.2),
    ("pipe-is-in-soil", "low", (0.2,), 0),  # nothing drawn tells of another chance
    ("pipe-is-unrecorded", "high", (0.2,), 0),
    ("generates", "low", (), 1),
    ("load-kw", "low", (0.31, 0.51), 3),  # a third of all means of two lie below 0.4121, by a normal law
    ("load-kw", "low", (0.316, 0.51), 0),
    ("load-kw", "high", (0.69, 0.49), 3),
    ("load-kw", "high", (0.684, 0.49), 0),
]


@pytest.mark.parametrize(("spread", "at", "shares", "ratio"), WEIGHTS)
def test_a_street_weighs_what_it_is_likelier_at_an_end(
    sampling: Sampling, drawn: Drawn, spread: str, at: str, shares: tuple[float, ...], ratio: float
) -> None:
    there = replace(drawn, taken={spread: shares})
    assert weight(sampling, End(spread, at), there) == round(1000 * ratio)


def test_a_shape_of_street_weighs_as_seldom_as_it_is(sampling: Sampling, drawn: Drawn) -> None:
    seldom, often = (End("layout", layout.id) for layout in sampling.layouts)
    for layout, weights in ((seldom.at, (4000, 0)), (often.at, (0, 1333))):
        there = replace(drawn, layout=layout)
        assert (weight(sampling, seldom, there), weight(sampling, often, there)) == weights


def test_no_street_weighs_more_than_a_thousand(sampling: Sampling, drawn: Drawn) -> None:
    there = replace(drawn, taken={"generates": (0.1,) * 12})
    assert weight(sampling, End("generates", "high"), there) == 1_000_000


@pytest.mark.parametrize("many", [2, 7])
def test_of_several_figures_a_third_of_the_streets_is_an_end(
    sampling: Sampling, drawn: Drawn, many: int
) -> None:
    """By the mean of what is drawn, near enough to a normal law."""
    lot = random.Random(many)
    streets = [
        replace(drawn, taken={"load-kw": tuple(lot.random() for _ in range(many))}) for _ in range(2000)
    ]
    low, high = ([weight(sampling, End("load-kw", at), each) for each in streets] for at in ("low", "high"))
    assert set(low) == set(high) == {0, 3000}
    assert not any(one and other for one, other in zip(low, high, strict=True))
    for weights in (low, high):
        assert sum(weights) / len(weights) == pytest.approx(1000, abs=100)


def test_a_bad_joint_has_the_part_between_two_ohms(drawn: Drawn) -> None:
    def part(ohm: float) -> int:
        return size(replace(drawn, joint_ohm=ohm))

    assert [part(ohm) for ohm in (0.019, 10.1)] == [-1, -1]
    middles = [(low * high) ** 0.5 for low, high in pairwise(OHMS)]
    assert [part(ohm) for ohm in middles] == list(range(len(OHMS) - 1))
    assert (part(OHMS[0]), part(OHMS[-1])) == (0, len(OHMS) - 2)


def test_at_which_ohms_a_curve_has_its_points() -> None:
    """From a poor joint to one that is next to open; and how many streets a corner is tried on."""
    assert OHMS == (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10)
    assert CORNER_STREETS == 300


def test_only_the_answers_of_a_call_are_walked_anew(sampling: Sampling) -> None:
    anew = {end for end in ends_of(sampling) if end.is_walked_anew}
    assert {end.spread for end in anew} == {"caller-errs", "caller-errs-again"} and len(anew) == 4
