"""What one wrong answer can lead to: every exit that is not the right one, taken once and then none more.

A meter that is misread, a jaw round the wrong conductor, a word heard wrongly: whatever the cause, the
person leaves one node by another exit than what is there calls for. What follows is walked with every
answer right again.
"""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass

from build_tools.guide.trees import Exit, Tree
from build_tools.proof.street_batch import Mask, StreetBatch, bits_of, mask_of
from build_tools.walks.walk import HURTS, Visit, Walk

__all__ = ["Mistake", "harmful_mistakes"]


@dataclass(frozen=True, slots=True, order=True)
class Mistake:
    """One wrong answer: the node, and the label of the exit that was taken."""

    node: str
    answer: str


def harmful_mistakes(tree: Tree, batch: StreetBatch, start: dict[str, Mask]) -> dict[Mistake, Mask]:
    """The streets in which each single mistake leads to a step that hurts, or to a job closed beside a fault
    that endangers the home."""
    found: dict[Mistake, int] = defaultdict(int)
    for home, mask in start.items():
        walk = Walk(tree, batch, willing=True)
        walk.from_home(home, bits_of(mask))
        wrong = [
            (Mistake(visit.node, exit_.label), walk.left(visit, exit_), streets)
            for visit, here in walk.seen.items()
            for exit_, streets in _wrong_exits(walk, visit, here)
        ]
        hurts = _hurts(walk, [(visit, streets) for _, visit, streets in wrong])
        for mistake, visit, streets in wrong:
            if streets & hurts[visit]:
                found[mistake] |= streets & hurts[visit]
    return {mistake: mask_of(streets, batch.size) for mistake, streets in found.items()}


def _wrong_exits(walk: Walk, visit: Visit, here: int) -> list[tuple[Exit, int]]:
    """The exits of a question or a reading, each with the streets in which it is wrong."""
    node = walk.tree.nodes[visit.node]
    if node.kind not in ("question", "reading"):
        return []
    wrong = {(exit_.label, exit_.go): (exit_, here) for exit_ in node.exits}
    for exit_, right in walk.certain(visit, here):
        same, streets = wrong[exit_.label, exit_.go]
        wrong[exit_.label, exit_.go] = same, streets & ~right
    return [(exit_, streets) for exit_, streets in wrong.values() if streets]


def _hurts(walk: Walk, begins: list[tuple[Visit, int]]) -> dict[Visit, int]:
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
        certain = walk.certain(visit, fresh)
        for wrong, streets in walk.wrong_at(visit, certain, fresh):
            if wrong.kind in HURTS:
                hurts[visit] |= streets
        for after, _, streets in walk.onward(visit, certain, fresh):
            ways.append((visit, after, streets))
            waiting.append((after, streets))
    changed = True
    while changed:
        changed = False
        for visit, after, streets in reversed(ways):
            more = streets & hurts[after] & ~hurts[visit]
            if more:
                hurts[visit] |= more
                changed = True
    return hurts
