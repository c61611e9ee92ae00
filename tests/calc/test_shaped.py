"""Records come back from plain data as they were, and other shapes are refused by their names."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

import pytest

from calc.shaped import plain, shaped


@dataclass(frozen=True)
class Leaf:
    metres: float
    cable: str = "copper"


@dataclass(frozen=True)
class Stake:
    near: str
    far: str
    metres: float = 1


@dataclass(frozen=True)
class Tree:
    name: str
    count: int = 1
    kind: Literal["oak", "elm"] = "oak"
    first: Leaf | None = None
    ends: tuple[str, str] = ("near", "far")
    leaves: tuple[Leaf, ...] = ()
    by_name: dict[str, Leaf] = field(default_factory=dict)
    figures: tuple[tuple[float, ...], ...] = ()


FULL = Tree(
    "whole",
    2,
    "elm",
    Leaf(3, "steel"),
    ("here", "there"),
    (Leaf(1), Leaf(2, "lead")),
    {"a": Leaf(4), "b": Leaf(5, "iron")},
    ((1.5, 2.5), (3.5,)),
)


@pytest.mark.parametrize("tree", [FULL, Tree("bare"), Tree("", first=Leaf(0.5), leaves=(Leaf(7),))])
def test_a_record_comes_back_as_it_was(tree: Tree) -> None:
    assert shaped(Tree, json.loads(json.dumps(plain(tree)))) == tree
    assert shaped(Tree, plain(tree)) == tree
    assert shaped(Tree, asdict(tree)) == tree  # with tuples in it


def test_what_has_its_default_does_not_travel() -> None:
    assert plain(Tree("bare")) == {"name": "bare"}
    assert plain(Tree("", leaves=(Leaf(7), Leaf(8, "lead")), by_name={"a": Leaf(1)}, ends=("a", "b"))) == {
        "name": "",
        "ends": ["a", "b"],
        "leaves": [{"metres": 7}, {"metres": 8, "cable": "lead"}],
        "by_name": {"a": {"metres": 1}},
    }


def test_none_is_taken_only_where_it_may_stand() -> None:
    assert shaped(Tree, {"name": "x", "first": None}) == Tree("x")
    with pytest.raises(ValueError, match="leaves must be a list, not 'None'"):
        shaped(Tree, {"name": "x", "leaves": None})


@pytest.mark.parametrize("metres", [0, 3, -2.5, 1e9, -1e9])
def test_a_number_is_one_of_a_size_that_can_be(metres: float) -> None:
    made = shaped(Leaf, {"metres": metres})
    assert made == Leaf(metres) and isinstance(made.metres, float)


OTHER_SHAPES: list[tuple[dict[str, Any], str]] = [
    ({"name": "x", "leaves": [{"metres": 1.01e9}]}, "metres must be a number, not '1010000000.0'"),
    ({"name": "x", "leaves": [{"metres": -1.01e9}]}, "metres must be a number"),
    ({"name": "x", "leaves": [{"metres": math.nan}]}, "metres must be a number, not 'nan'"),
    ({"name": "x", "leaves": [{"metres": True}]}, "metres must be a number, not 'True'"),
    ({"name": "x", "leaves": [{"metres": "1"}]}, "metres must be a number, not '1'"),
    ({"name": "x", "count": 1.0}, "count must be a whole number, not '1.0'"),
    ({"name": "x", "count": True}, "count must be a whole number, not 'True'"),
    ({"name": 3}, "name must be text, not '3'"),
    ({"name": "x", "kind": "ash"}, "kind must be one of oak, elm, not 'ash'"),
    ({"name": "x", "ends": ["one"]}, r"ends must be a list of 2, not .\['one'\]"),
    ({"name": "x", "ends": ["one", "two", "three"]}, "ends must be a list of 2"),
    ({"name": "x", "ends": "ab"}, "ends must be a list, not 'ab'"),
    ({"name": "x", "by_name": []}, "by_name must be names with values"),
    ({"name": "x", "by_name": {"a": 1}}, "by_name a must be names with values, not '1'"),
    ({"name": "x", "first": {"cable": "lead"}}, "first must also have metres"),
    ({"count": 2}, "the tree must also have name$"),
    ({"name": "x", "zeta": 1, "alpha": 2}, "the tree: nothing is called 'alpha' there"),
    ({"n" * 40: 1}, f"nothing is called '{'n' * 24}' there"),
    ({"name": ["long"] * 20}, r"not \"\['long', 'long', 'long',\"$"),
]


@pytest.mark.parametrize(("data", "says"), OTHER_SHAPES)
def test_another_shape_is_refused_by_the_name_of_its_part(data: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        shaped(Tree, data, "the tree")


def test_all_that_is_wanting_is_named() -> None:
    with pytest.raises(ValueError, match=r"^a stake must also have far, near$"):
        shaped(Stake, {"metres": 2}, "a stake")
    with pytest.raises(ValueError, match=r"^a stake must also have far$"):
        shaped(Stake, {"near": "here"}, "a stake")
