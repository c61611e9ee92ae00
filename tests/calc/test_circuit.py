"""The laws that every circuit obeys, on circuits of any shape, and circuits whose answer a book prints."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.circuit import EARTH, OPEN, Branch, CircuitError, Solution, solve

POINTS = ["a", "b", "c", "d", "e", "f"]


def impedances() -> st.SearchStrategy[complex]:
    """Resistive to inductive, from milliohms to kilohms: no two of them resonate."""
    return st.builds(complex, st.floats(1e-3, 1e3), st.floats(0, 1e3))


def phasors() -> st.SearchStrategy[complex]:
    return st.builds(cmath.rect, st.floats(1, 400), st.floats(-math.pi, math.pi))


@st.composite
def circuits(draw: st.DrawFn, emf: bool = True) -> list[Branch]:
    """A connected circuit of up to six points and earth, some sources, some branches side by side."""
    points = [EARTH, *POINTS[: draw(st.integers(1, 6))]]
    ends = [(draw(st.sampled_from(points[:place])), points[place]) for place in range(1, len(points))]
    pairs = st.tuples(st.sampled_from(points), st.sampled_from(points)).filter(
        lambda pair: pair[0] != pair[1]
    )
    ends += draw(st.lists(pairs, max_size=8))
    emfs = st.one_of(st.just(0j), phasors()) if emf else st.just(0j)
    return [Branch(f"{n}", *pair, draw(impedances()), draw(emfs)) for n, pair in enumerate(ends)]


def points_of(branches: list[Branch]) -> list[str]:
    return sorted({point for branch in branches for point in (branch.start, branch.end)})


def close(got: Any, expected: Any, scale: float, within: float = 1e-9) -> bool:
    return bool(abs(got - expected) <= within * scale)


def volts_scale(branches: list[Branch]) -> float:
    """No potential of a passive circuit passes the sum of its sources."""
    return sum(abs(branch.emf) for branch in branches) + 1e-30


@given(circuits())
def test_currents_sum_to_zero_at_every_point(branches: list[Branch]) -> None:
    solution = solve(branches)
    for point in points_of(branches):
        flows = [solution.current(b.name) * ((b.start == point) - (b.end == point)) for b in branches]
        # What a potential is off by in its last digits, the smallest impedance at the point makes amperes of.
        scale = sum(volts_scale(branches) / abs(b.impedance) for b in branches)
        assert close(sum(flows), 0, scale, 1e-12)


@given(circuits())
def test_power_taken_is_power_given(branches: list[Branch]) -> None:
    solution = solve(branches)
    powers = [solution.power(branch.name) for branch in branches]
    assert close(sum(powers), 0, sum(map(abs, powers)) + volts_scale(branches) ** 2)


@given(circuits(), phasors())
def test_sources_times_k_are_answers_times_k(branches: list[Branch], k: complex) -> None:
    once = solve(branches)
    scaled = solve([replace(branch, emf=branch.emf * k) for branch in branches])
    for point in points_of(branches):
        assert close(scaled.potential(point), k * once.potential(point), abs(k) * volts_scale(branches))


@given(circuits())
def test_sources_add_up(branches: list[Branch]) -> None:
    together = solve(branches)
    alone = [
        solve([replace(b, emf=b.emf if b.name == driving.name else 0j) for b in branches])
        for driving in branches
    ]
    for point in points_of(branches):
        added = sum(solution.potential(point) for solution in alone)
        assert close(added, together.potential(point), volts_scale(branches))


@given(circuits(emf=False), phasors(), st.data())
def test_a_source_and_the_current_it_drives_may_change_places(
    branches: list[Branch], emf: complex, data: st.DataObject
) -> None:
    one, other = (data.draw(st.sampled_from(branches)).name for _ in range(2))

    def driven(source: str, meter: str) -> Any:
        return solve([replace(b, emf=emf if b.name == source else 0j) for b in branches]).current(meter)

    smallest = min(abs(branch.impedance) for branch in branches)
    assert close(driven(one, other), driven(other, one), abs(emf) / smallest)


@given(circuits(), st.data())
def test_which_point_is_called_earth_does_not_matter(branches: list[Branch], data: st.DataObject) -> None:
    points = points_of(branches)
    other = solve(branches, earth=data.draw(st.sampled_from(points)))
    usual = solve(branches)
    for one, two in pairwise(points):
        assert close(other.volts(one, two), usual.volts(one, two), volts_scale(branches))


@given(circuits(), st.permutations(range(14)))
def test_the_order_of_the_branches_does_not_matter(branches: list[Branch], order: list[int]) -> None:
    shuffled = solve([branches[place] for place in order if place < len(branches)])
    for point in points_of(branches):
        assert close(shuffled.potential(point), solve(branches).potential(point), volts_scale(branches))


@given(circuits(), impedances(), st.lists(st.floats(0.01, 100), min_size=3, max_size=3), st.data())
def test_a_star_is_its_delta(
    branches: list[Branch], arm: complex, sizes: list[float], data: st.DataObject
) -> None:
    star = [arm * size for size in sizes]  # of one angle, so that no side has a negative resistance
    ends = [data.draw(st.sampled_from(points_of(branches))) for _ in star]
    arms = [Branch(f"arm {n}", end, "middle", z) for n, (end, z) in enumerate(zip(ends, star, strict=True))]
    products = star[0] * star[1] + star[1] * star[2] + star[2] * star[0]
    sides = [Branch(f"side {n}", ends[n - 2], ends[n - 1], products / star[n]) for n in range(3)]
    with_star, with_delta = solve([*branches, *arms]), solve([*branches, *sides])
    for point in points_of(branches):
        assert close(with_star.potential(point), with_delta.potential(point), volts_scale(branches))


@given(circuits(), st.data())
def test_an_ideal_join_is_a_very_small_impedance(branches: list[Branch], data: st.DataObject) -> None:
    ends = [data.draw(st.sampled_from(points_of(branches))) for _ in range(2)]
    joined = solve([*branches, Branch("join", *ends)])
    nearly = solve([*branches, Branch("join", *ends, 1e-12)])
    assert joined.volts(*ends) == 0
    for point in points_of(branches):
        assert close(joined.potential(point), nearly.potential(point), volts_scale(branches), 1e-7)


@given(circuits(), st.data())
def test_an_open_branch_is_no_branch(branches: list[Branch], data: st.DataObject) -> None:
    ends = [data.draw(st.sampled_from(points_of(branches))) for _ in range(2)]
    with_open = solve([*branches, Branch("open", *ends, OPEN, 230)])
    assert with_open.current("open") == 0
    for point in points_of(branches):
        assert close(with_open.potential(point), solve(branches).potential(point), volts_scale(branches))


@given(circuits(), st.data())
def test_impedance_between_is_what_a_test_current_finds(branches: list[Branch], data: st.DataObject) -> None:
    """Thevenin: a load between two points takes the open-circuit volts over the sum of the impedances."""
    one, other = (data.draw(st.sampled_from(points_of(branches))) for _ in range(2))
    usual, load = solve(branches), data.draw(impedances())
    loaded = solve([*branches, Branch("load", one, other, load)])
    expected = usual.volts(one, other) / (usual.impedance_between(one, other) + load)
    assert close(loaded.current("load"), expected, volts_scale(branches) / abs(load))


@given(circuits(), st.lists(st.floats(0.1, 10), min_size=2, max_size=5))
def test_a_batch_is_its_circuits_one_by_one(branches: list[Branch], factors: list[float]) -> None:
    """Within rounding: these impedances span seven decades, and numpy divides complex numbers otherwise."""
    many = solve([replace(b, impedance=b.impedance * np.array(factors)) for b in branches])
    for place, factor in enumerate(factors):
        one = solve([replace(b, impedance=b.impedance * factor) for b in branches])
        for point in points_of(branches):
            batch = np.broadcast_to(many.potential(point), len(factors))[place]
            assert close(batch, one.potential(point), volts_scale(branches), 1e-11)
        for branch in branches:
            batch = np.broadcast_to(many.current(branch.name), len(factors))[place]
            assert close(batch, one.current(branch.name), volts_scale(branches) / 1e-4, 1e-11)


@given(circuits(emf=False), st.lists(st.floats(0.1, 10), min_size=2, max_size=4), st.data())
def test_impedances_between_pairs_of_a_batch_are_those_of_each_pair_and_circuit(
    branches: list[Branch], factors: list[float], data: st.DataObject
) -> None:
    """What a current between one pair's points puts across another: half the difference of three impedances
    between single pairs (superposition), in each circuit solved alone."""
    points = st.sampled_from(points_of(branches))
    pairs = data.draw(st.lists(st.tuples(points, points), min_size=2, max_size=4))
    many = solve([replace(b, impedance=b.impedance * np.array(factors)) for b in branches])
    found = many.impedances_between(pairs)
    for place, factor in enumerate(factors):
        alone = solve([replace(b, impedance=b.impedance * factor) for b in branches]).impedance_between
        scale = sum(abs(b.impedance) for b in branches if b.impedance != OPEN) * factor
        for (a, b), row in zip(pairs, found, strict=True):
            for (c, d), ohms in zip(pairs, row, strict=True):
                crossed = (alone(a, d) + alone(b, c) - alone(a, c) - alone(b, d)) / 2
                assert close(np.broadcast_to(ohms, len(factors))[place], crossed, scale)


@given(circuits(), st.data())
def test_other_emfs_are_the_circuit_solved_anew(branches: list[Branch], data: st.DataObject) -> None:
    """To the last digit, an open branch or not: what is kept is what would be worked out again."""
    chosen = data.draw(st.lists(st.sampled_from([branch.name for branch in branches]), unique=True))
    emfs = {name: data.draw(st.one_of(st.just(0j), phasors())) for name in chosen}
    gap = Branch("gap", EARTH, "loose", OPEN)
    kept = solve([*branches, gap]).with_emfs(emfs)
    anew = solve([*(replace(b, emf=emfs.get(b.name, b.emf)) for b in branches), gap])
    assert kept.branches == anew.branches
    assert [kept.potential(point) for point in points_of(branches)] == [
        anew.potential(point) for point in points_of(branches)
    ]
    assert [kept.current(b.name) for b in branches] == [anew.current(b.name) for b in branches]


@given(circuits(), st.lists(phasors(), min_size=2, max_size=5), st.data())
def test_many_emfs_at_once_are_the_cases_one_by_one(
    branches: list[Branch], emfs: list[complex], data: st.DataObject
) -> None:
    name = data.draw(st.sampled_from(branches)).name
    usual = solve(branches)
    many = usual.with_emfs({name: np.array(emfs)})
    for place, emf in enumerate(emfs):
        one = usual.with_emfs({name: emf})
        for point in points_of(branches):
            batch = np.broadcast_to(many.potential(point), len(emfs))[place]
            # rounded in another order, and admittances up to 1e6 apart make as much of it
            assert close(batch, one.potential(point), volts_scale(branches) + abs(emf), 1e-10)


def exact(branches: list[Branch]) -> dict[str, Fraction]:
    """Potentials of a resistive circuit in rational numbers: nodal equations, no rounding anywhere."""
    points = [point for point in points_of(branches) if point != EARTH]
    rows = [[Fraction(0)] * (len(points) + 1) for _ in points]
    for branch in branches:
        conductance, emf = 1 / Fraction(branch.impedance), Fraction(branch.emf.real)
        for near, far, sign in ((branch.start, branch.end, -1), (branch.end, branch.start, 1)):
            if near != EARTH:
                row = rows[points.index(near)]
                row[points.index(near)] += conductance
                row[-1] += sign * emf * conductance
                if far != EARTH:
                    row[points.index(far)] -= conductance
    for place, row in enumerate(rows):
        row[:] = [value / row[place] for value in row]
        for other in rows:
            if other is not row:
                other[:] = [o - other[place] * r for o, r in zip(other, row, strict=True)]
    return {point: row[-1] for point, row in zip(points, rows, strict=True)}


@given(circuits(emf=False), st.data())
def test_megohms_beside_microhms_keep_their_digits(branches: list[Branch], data: st.DataObject) -> None:
    """One source, admittances up to 1e15 apart: every potential right to twelve of its own digits."""
    powers = st.floats(-6, 9)
    resistive = [replace(branch, impedance=10 ** data.draw(powers)) for branch in branches]
    resistive[0] = replace(resistive[0], emf=230.0)
    solution = solve(resistive)
    for point, expected in exact(resistive).items():
        assert abs(solution.potential(point) - float(expected)) <= 1e-12 * abs(float(expected))


def test_a_nodal_matrix_would_have_lost_those_digits() -> None:
    """Why points are removed one by one: the same circuit by a matrix of differences has nothing left."""
    ladder = [
        Branch("source", EARTH, "a", 1e6, 230.0),
        Branch("busbar", "a", "b", 1e-7),
        Branch("leak", "b", EARTH, 1e9),
    ]
    matrix = np.array([[1e-6 + 1e7, -1e7], [-1e7, 1e7 + 1e-9]])
    dense = np.linalg.solve(matrix, [230e-6, 0])
    expected = float(exact(ladder)["b"])
    assert abs(solve(ladder).potential("b") - expected) < 1e-13 * expected
    assert abs(dense[1] - expected) > 1e-6 * expected


def three_floating() -> Solution:
    return solve(
        [
            Branch("source", EARTH, "line", 1, 230),
            Branch("load", "line", EARTH, 22),
            Branch("pipe", "here", "there", 0.1),
            Branch("further", "there", "end", 0.2, 5),
            Branch("bond", "here", "line", OPEN),
            Branch("loose", "nothing", EARTH, OPEN),
        ]
    )


def test_what_floats_is_named_and_never_zero_volts() -> None:
    floating = three_floating()
    assert set(floating.islands) == {frozenset({"here", "there", "end"}), frozenset({"nothing"})}
    for point in ("here", "there", "end", "nothing"):
        with pytest.raises(CircuitError, match=f"{point} floats: no path joins it to earth"):
            floating.potential(point)
        with pytest.raises(CircuitError, match=f"{point} floats: no path joins it to line"):
            floating.impedance_between(point, "line")


def test_inside_an_island_volts_are_known() -> None:
    floating = three_floating()
    assert floating.volts("end", "here") == pytest.approx(5)
    assert floating.impedance_between("here", "end") == pytest.approx(0.3)
    assert floating.current("pipe") == 0
    assert floating.potential("line") == pytest.approx(220)


@pytest.mark.parametrize("ohm", [2.0, np.array([2.0, 3.0])], ids=["one", "batch"])
def test_a_break_makes_an_island_and_mending_it_joins_it_again(ohm: Any) -> None:
    mains = [Branch("source", EARTH, "line", 1, 230), Branch("load", "line", EARTH, ohm)]
    pipe = [Branch("pipe", "here", "there", ohm), Branch("soil", "there", "far", ohm)]
    for bond, islands in ((OPEN, (frozenset({"here", "there", "far"}),)), (0.1, ())) * 2:
        solution = solve([*mains, *pipe, Branch("bond", "line", "here", bond)])
        assert solution.islands == islands


@given(circuits(), circuits())
def test_an_island_changes_nothing_elsewhere(branches: list[Branch], apart: list[Branch]) -> None:
    island = [Branch(f"i{b.name}", f"i{b.start}", f"i{b.end}", b.impedance, b.emf) for b in apart]
    both = solve([*branches, *island])
    assert both.islands == (frozenset(points_of(island)),)
    for point in points_of(branches):
        assert close(both.potential(point), solve(branches).potential(point), volts_scale(branches))
    for one in points_of(apart):
        expected = solve(apart).potential(one)
        assert close(both.volts(f"i{one}", f"i{EARTH}"), expected, volts_scale(apart))


REFUSED: dict[str, tuple[Callable[[], object], str]] = {
    "one name twice": (
        lambda: solve([Branch("12/bond", "a", EARTH, 1), Branch("12/bond", "b", EARTH, 1)]),
        "two branches are called '12/bond'",
    ),
    "a point that is not there": (
        lambda: solve([Branch("bond", "a", EARTH, 1)]).potential("12.METT"),
        "no point is called '12.METT'",
    ),
    "a branch that is not there": (
        lambda: solve([Branch("bond", "a", EARTH, 1)]).current("bnd"),
        "no branch is called 'bnd'",
    ),
    "the power of a branch that is not there": (
        lambda: solve([Branch("bond", "a", EARTH, 1)]).power("bnd"),
        "no branch is called 'bnd'",
    ),
    "negative resistance": (lambda: Branch("bond", "a", "b", -0.5), "bond: resistance is below zero"),
    "impedance not a number": (lambda: Branch("bond", "a", "b", math.nan), "bond: impedance is not a number"),
    "emf not a number": (
        lambda: Branch("source", "a", "b", 1, complex(0, math.nan)),
        "source: emf is not a number",
    ),
    "endless emf": (lambda: Branch("source", "a", "b", 1, math.inf), "source: emf must be finite"),
    "a source without impedance": (
        lambda: Branch("source", "a", "b", 0, 230),
        "source: a source needs an impedance above 0 ohm",
    ),
    "the current of a join": (
        lambda: solve([Branch("link", "a", EARTH)]).current("link"),
        "link is an ideal join, so its current is not determined",
    ),
    "another emf for a branch that is not there": (
        lambda: solve([Branch("bond", "a", EARTH, 1)]).with_emfs({"bnd": 230}),
        "no branch is called 'bnd'",
    ),
    "another emf for a join": (
        lambda: solve([Branch("link", "a", EARTH)]).with_emfs({"link": 230}),
        "link: a source needs an impedance above 0 ohm",
    ),
    "resonance": (
        lambda: solve([Branch("coil", "12.N", EARTH, 5j), Branch("filter", "12.N", EARTH, -5j)]),
        r"no finite answer at 12\.N: admittances sum to 0",
    ),
    "a batch with a negative resistance": (
        lambda: Branch("bond", "a", "b", np.array([0.1, -0.1])),
        "bond: resistance is below zero",
    ),
    "a batch with what is not a number": (
        lambda: Branch("bond", "a", "b", np.array([0.1, math.nan])),
        "bond: impedance is not a number",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_an_error_names_the_part(case: str) -> None:
    ask, message = REFUSED[case]
    with pytest.raises(CircuitError, match=message):
        ask()


STARS: dict[str, dict[str, Any]] = {
    "380 V, 55 and 110 ohm, neutral lost": {
        "source": "trade forum (seen): 126.5 and 253 V, printed from rounded powers",
        "emfs": {"1": (380 / math.sqrt(3), 0), "2": (380 / math.sqrt(3), -120)},
        "loads": {"1": 55, "2": 110},
        "volts": {"1": 126.5, "2": 253},
        "within": 0.5,
    },
    "120 V, coil, resistor and capacitor, no neutral": {
        "source": "textbook of electric circuits, example 12.10 (from memory)",
        "emfs": {"1": (120, 0), "2": (120, -120), "3": (120, 120)},
        "loads": {"1": 5j, "2": 10, "3": -10j},
        "amperes": {"1": 56.78, "2": 25.46, "3": 42.75},
        "within": 0.01,
    },
    "208 V, sequence CBA, three impedances, no neutral": {
        "source": "outline of electric circuits (from memory); slide-rule rounding",
        "emfs": {
            "1": (208 / math.sqrt(3), -90),
            "2": (208 / math.sqrt(3), 30),
            "3": (208 / math.sqrt(3), 150),
        },
        "loads": {"1": 6, "2": cmath.rect(6, math.radians(30)), "3": cmath.rect(5, math.radians(45))},
        "volts": {"1": 139.8, "2": 92.7, "3": 132.5},
        "amperes": {"1": 23.3, "2": 15.45, "3": 26.5},
        "within": 0.3,
    },
    "100 V, sequence ACB, with a neutral": {
        "source": "textbook of electric circuits, example 12.9 (from memory)",
        "emfs": {"1": (100, 0), "2": (100, 120), "3": (100, -120)},
        "loads": {"1": 15, "2": 10 + 5j, "3": 6 - 8j},
        "neutral": 10.06,
        "within": 0.01,
    },
    "240 V across 144 and 72 ohm, neutral lost": {
        "source": "public slides (data seen); two loads in series by hand",
        "emfs": {"1": (120, 0), "2": (120, 180)},
        "loads": {"1": 144, "2": 72},
        "volts": {"1": 160, "2": 80},
        "amperes": {"1": 240 / 216, "2": 240 / 216},
        "within": 1e-6,
    },
}


@pytest.mark.parametrize("case", STARS)
def test_agrees_with_the_book(case: str) -> None:
    star = STARS[case]
    emfs = {name: cmath.rect(volts, math.radians(angle)) for name, (volts, angle) in star["emfs"].items()}
    branches = [Branch(f"source {name}", EARTH, name, 1e-9, emf) for name, emf in emfs.items()]
    branches += [Branch(f"load {name}", name, "star", ohm) for name, ohm in star["loads"].items()]
    branches.append(Branch("neutral", "star", EARTH, 1e-9 if "neutral" in star else OPEN))
    solution = solve(branches)
    for name, volts in star.get("volts", {}).items():
        assert abs(solution.volts(name, "star")) == pytest.approx(volts, abs=star["within"]), star["source"]
    for name, amperes in star.get("amperes", {}).items():
        assert abs(solution.current(f"load {name}")) == pytest.approx(amperes, abs=star["within"])
    if "neutral" in star:
        assert abs(solution.current("neutral")) == pytest.approx(star["neutral"], abs=star["within"])
