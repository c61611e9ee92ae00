"""The checks: each file holds one, and says in its docstring what it demands of a guide."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from importlib import import_module
from itertools import chain

from build_tools.checks import (
    begun,
    callers,
    calm,
    colours,
    content,
    edges,
    first,
    hazards,
    healthy,
    known,
    pages,
    physics,
    ranges,
    rules,
    streets,
    structure,
)
from build_tools.findings import Finding, in_order
from build_tools.guide import Guide, Tree

__all__ = ["CHECKS", "check_guide", "demand", "found_by_check"]

Check = Callable[[Guide, Sequence[Tree]], Iterator[Finding]]

CHECKS: tuple[Check, ...] = (
    structure.check,
    ranges.check,
    edges.check,
    known.check,
    rules.check,
    hazards.check,
    begun.check,
    calm.check,
    content.check,
    first.check,
    callers.check,
    colours.check,
    streets.check,
    pages.check,
    healthy.check,
    physics.check,
)


def check_guide(guide: Guide, trees: Iterable[str] | None = None) -> list[Finding]:
    """Everything found wrong with the guide, its reading included, in order of place.

    `trees` names the trees whose paths are followed (all, when not given); what can be seen without
    following a path is checked in every file.
    """
    return in_order(chain.from_iterable(found_by_check(guide, trees).values()))


def found_by_check(guide: Guide, trees: Iterable[str] | None = None) -> dict[str, list[Finding]]:
    """What `check_guide` finds, by the name of the check that found it; `guide` is the reading itself."""
    wanted = guide.trees.keys() if trees is None else guide.trees.keys() & set(trees)
    followed = [tree for id_, tree in guide.trees.items() if id_ in wanted]
    if len(followed) <= _FEW:
        found = [list(check(guide, followed)) for check in CHECKS]
    else:
        with ProcessPoolExecutor(1, initializer=_take, initargs=(guide, followed)) as aside:
            asked = {place: aside.submit(_found_aside, place) for place in map(CHECKS.index, _ASIDE)}
            here = {i: list(check(guide, followed)) for i, check in enumerate(CHECKS) if i not in asked}
            found = [here[i] if i in here else asked[i].result() for i in range(len(CHECKS))]
    names = [check.__module__.rpartition(".")[2] for check in CHECKS]
    return {"guide": list(guide.findings), **dict(zip(names, found, strict=True))}


_ASIDE = (rules.check, healthy.check)
"""Of many trees these take as long as all the others together."""
_FEW = 20
"""So many trees are checked before a second process has begun."""
_taken: list[tuple[Guide, Sequence[Tree]]] = []


def _take(guide: Guide, trees: Sequence[Tree]) -> None:
    _taken.append((guide, trees))


def _found_aside(place: int) -> list[Finding]:
    """What one of CHECKS finds in what this process was given."""
    return list(CHECKS[place](*_taken[-1]))


def demand(name: str) -> str:
    """What the check of that name demands, in the words of its file."""
    module = import_module("build_tools.guide" if name == "guide" else f"build_tools.checks.{name}")
    return inspect.getdoc(module) or ""
