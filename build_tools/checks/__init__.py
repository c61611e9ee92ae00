"""The checks: each file holds one, and says in its docstring what it demands of a guide."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, wait
from importlib import import_module
from itertools import chain

from build_tools.checks import (
    begun,
    callers,
    calm,
    changes,
    colours,
    content,
    dangers,
    edges,
    first,
    hazards,
    healthy,
    links,
    outcomes,
    pages,
    path_facts,
    physics,
    placeholders,
    ranges,
    returned,
    rules,
    signed,
    streets,
    structure,
    words,
)
from build_tools.guide.findings import Finding, in_order
from build_tools.guide.trees import Guide, Tree
from build_tools.setup import progress
from build_tools.setup.stopping import workers

__all__ = ["CHECKS", "check_guide", "demand", "found_by_check"]

Check = Callable[[Guide, Sequence[Tree]], Iterator[Finding]]

CHECKS: tuple[Check, ...] = (
    structure.check,
    ranges.check,
    edges.check,
    path_facts.check,
    changes.check,
    rules.check,
    hazards.check,
    begun.check,
    outcomes.check,
    returned.check,
    calm.check,
    words.check,
    signed.check,
    content.check,
    first.check,
    placeholders.check,
    callers.check,
    dangers.check,
    colours.check,
    streets.check,
    pages.check,
    links.check,
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
    with progress.work("checking", len(CHECKS)) as doing:
        if len(followed) <= _FEW:
            found = [_found(place, guide, followed, doing) for place in range(len(CHECKS))]
        else:
            with workers(1, _take, (guide, followed)) as aside:
                asked = {place: aside.submit(_found_aside, place) for place in map(CHECKS.index, _ASIDE)}
                rest = [i for i in range(len(CHECKS)) if i not in asked]
                here = {i: _found(i, guide, followed, doing) for i in rest}
                there = {i: _found_there(i, one, doing) for i, one in asked.items()}
                found = [(here | there)[i] for i in range(len(CHECKS))]
    return {"guide": list(guide.findings), **dict(zip(map(_name, range(len(CHECKS))), found, strict=True))}


def _name(place: int) -> str:
    return CHECKS[place].__module__.rpartition(".")[2]


def _found(place: int, guide: Guide, trees: Sequence[Tree], doing: progress.Work) -> list[Finding]:
    """What one of CHECKS finds."""
    doing.now(_name(place))
    found = list(CHECKS[place](guide, trees))
    doing.step()
    return found


def _found_there(place: int, asked: Future[list[Finding]], doing: progress.Work) -> list[Finding]:
    """The same, found by the other process."""
    doing.now(_name(place))
    while not wait([asked], timeout=0.5).done:
        doing.beat()
    doing.step()
    return asked.result()


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
    module = import_module(_ELSEWHERE.get(name, f"build_tools.checks.{name}"))
    return inspect.getdoc(module) or ""


_ELSEWHERE = {"guide": "build_tools.guide.loading", "promises": "build_tools.proof.promises"}
"""What finds something, and is none of the checks."""
