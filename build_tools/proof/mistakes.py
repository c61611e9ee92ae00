"""What one wrong answer can lead to: every exit that is not the right one, taken once and then none more.

A meter that is misread, a jaw round the wrong conductor, a word heard wrongly: whatever the cause, the
person leaves one node by another exit than what is there calls for. What follows is walked with every
answer right again.
"""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass, replace

import numpy as np

from build_tools.guide import Tree
from build_tools.proof.flock import Flock, Mask
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
    found: dict[Mistake, Mask] = defaultdict(lambda: np.zeros(flock.size, bool))
    for home, mask in start.items():
        walk = Walk(tree, flock, willing=True)
        walk.from_home(home, mask)
        wrong = [
            (Mistake(visit.node, label), replace(visit, node=go), streets)
            for visit, here in walk.seen.items()
            for (label, go), streets in _wrong_exits(walk, visit, here)
        ]
        hurts = _hurts(walk, [(visit, streets) for _, visit, streets in wrong], endangered)
        for mistake, visit, streets in wrong:
            if (streets & hurts[visit]).any():
                found[mistake] |= streets & hurts[visit]
    return dict(found)


def _wrong_exits(walk: Walk, visit: Visit, here: Mask) -> list[tuple[tuple[str, str], Mask]]:
    """The exits of a question or a reading, each with the streets in which it is wrong."""
    node = walk.tree.nodes[visit.node]
    if node.kind not in ("question", "reading"):
        return []
    wrong = {(exit_.label, exit_.go): here.copy() for exit_ in node.exits}
    for exit_, right in walk.certain(visit, here):
        wrong[exit_.label, exit_.go] &= ~right
    return [(exit_, streets) for exit_, streets in wrong.items() if streets.any()]


def _hurts(walk: Walk, begins: list[tuple[Visit, Mask]], endangered: Mask) -> dict[Visit, Mask]:
    """For each visit the streets, of those that come there, in which the walk comes to harm there or later.

    The walk is laid out once from all the beginnings; then harm is carried back along it until nothing
    changes (once is enough where no way comes back on itself).
    """
    hurts: dict[Visit, Mask] = {}
    come: dict[Visit, Mask] = {}
    ways: list[tuple[Visit, Visit, Mask]] = []
    waiting = deque(begins)
    while waiting:
        visit, here = waiting.popleft()
        fresh = here & ~come[visit] if visit in come else here
        if not fresh.any():
            continue
        come[visit] = fresh | come.get(visit, walk.nobody)
        hurts[visit] = _hurts_here(walk, visit, fresh, endangered) | hurts.get(visit, walk.nobody)
        onward = list(walk.onward(visit, fresh))
        ways += ((visit, after, mask) for after, mask in onward)
        waiting.extend(onward)
    changed = True
    while changed:
        changed = False
        for visit, after, mask in reversed(ways):
            more = mask & hurts[after] & ~hurts[visit]
            if more.any():
                hurts[visit], changed = hurts[visit] | more, True
    return hurts


def _hurts_here(walk: Walk, visit: Visit, here: Mask, endangered: Mask) -> Mask:
    node = walk.tree.nodes[visit.node]
    match node.spec:
        case Outcome(closes=True):
            return here & endangered
        case Step():
            hurt = walk.nobody
            for _, mask in walk.harms(visit, here):
                hurt = hurt | mask
            return hurt
    return walk.nobody
