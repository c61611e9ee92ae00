"""The checks: each file holds one, and says in its docstring what it demands of a guide."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from build_tools.checks import callers, content, first, hazards, pages, physics, ranges, rules, structure
from build_tools.findings import Finding, in_order
from build_tools.guide import Guide, Tree

__all__ = ["CHECKS", "check_guide"]

Check = Callable[[Guide, Sequence[Tree]], Iterator[Finding]]

CHECKS: tuple[Check, ...] = (
    structure.check,
    ranges.check,
    rules.check,
    hazards.check,
    content.check,
    first.check,
    callers.check,
    pages.check,
    physics.check,
)


def check_guide(guide: Guide, trees: Iterable[str] | None = None) -> list[Finding]:
    """Everything found wrong with the guide, its reading included, in order of place.

    `trees` names the trees whose paths are followed (all, when not given); what can be seen without
    following a path is checked in every file.
    """
    wanted = guide.trees.keys() if trees is None else guide.trees.keys() & set(trees)
    followed = [tree for id_, tree in guide.trees.items() if id_ in wanted]
    found = [finding for check in CHECKS for finding in check(guide, followed)]
    return in_order([*guide.findings, *found])
