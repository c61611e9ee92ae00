"""What one wrong answer can lead to: every exit that is not the right one, taken once and then none more.

A meter that is misread, a jaw round the wrong conductor, a word heard wrongly: whatever the cause, the
person leaves one node by another exit than what is there calls for. What follows is walked with every
answer right again.
"""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass
from functools import reduce
from operator import or_

from build_tools.guide import Tree
from build_tools.proof.flock import Flock, Mask, bits_of, mask_of
from build_tools.proof.walks import Walk
from build_tools.shapes import Outcome, Step
from build_tools.walk import Visit

__all__ = ["Mistake", "harmful_mistakes"]


@dataclass(frozen=True, slots=True, order=True)
class Mistake:
    """One wrong answer: the node, and the label of the exit that was taken."""

    node: str
    answer: str


def harmful_mistakes(
    tree: Tree, flock: Flock, start: dict[str, Mask], endangered: Mask
) -> dict[Mistake, Mask]:
    """The streets in which each single mistake leads to a step that hurts, or to a job closed in the streets
    where the home is `endangered`."""
    found: dict[Mistake, int] = defaultdict(int)
    in_danger = bits_of(endangered)
    for home, mask in start.items():
        walk = Walk(tree, flock, willing=True)
        walk.from_home(home, bits_of(mask))
        wrong = [
            (Mistake(visit.node, label), visit._replace(node=go), streets)
            for visit, here in walk.seen.items()
            for (label, go), streets in _wrong_exits(walk, visit, here)
        ]
        hurts = _hurts(walk, [(visit, streets) for _, visit, streets in wrong], in_danger)
        for mistake, visit, streets in wrong:
            if streets & hurts[visit]:
                found[mistake] |= streets & hurts[visit]
    return {mistake: mask_of(streets, flock.size) for mistake, streets in found.items()}


def _wrong_exits(walk: Walk, visit: Visit, here: int) -> list[tuple[tuple[str, str], int]]:
    """The exits of a question or a reading, each with the streets in which it is wrong."""
    node = walk.tree.nodes[visit.node]
    if node.kind not in ("question", "reading"):
        return []
    wrong = {(exit_.label, exit_.go): here for exit_ in node.exits}
    for exit_, right in walk.certain(visit, here):
        wrong[exit_.label, exit_.go] &= ~right
    return [(exit_, streets) for exit_, streets in wrong.items() if streets]


def _hurts(walk: Walk, begins: list[tuple[Visit, int]], endangered: int) -> dict[Visit, int]:
    """For each visit the streets, of those that come there, in which the walk comes to harm there or later.

    The walk is laid out once from all the beginnings; then harm is carried back along it until nothing
    changes (once is enough where no way comes back on itself).
    """
    hurts: dict[Visit, int] = defaultdict(int)
    come: dict[Visit, int] = defaultdict(int)
    ways: list[tuple[Visit, Visit, int]] = []
    waiting = deque(begins)
    while waiting:
        visit, here = waiting.popleft()
        fresh = here & ~come[visit]
        if not fresh:
            continue
        come[visit] |= fresh
        hurts[visit] |= _hurts_here(walk, visit, fresh, endangered)
        onward = walk.onward(visit, walk.certain(visit, fresh), fresh)
        ways += ((visit, after, streets) for after, streets in onward)
        waiting.extend(onward)
    changed = True
    while changed:
        changed = False
        for visit, after, streets in reversed(ways):
            more = streets & hurts[after] & ~hurts[visit]
            if more:
                hurts[visit] |= more
                changed = True
    return hurts


def _hurts_here(walk: Walk, visit: Visit, here: int, endangered: int) -> int:
    spec = walk.tree.nodes[visit.node].spec
    if isinstance(spec, Step):
        return reduce(or_, (streets for _, streets in walk.harms(visit, here)), 0)
    return here & endangered if isinstance(spec, Outcome) and spec.closes else 0
