"""Every fault, at every home, walks every site tree to a right end.

Each tree of the `site` audience is walked with every fault of the catalogue on every street of the
guide, from every home. A walk may not reach a step that hurts in the state it is in, may not close the
job beside a fault that endangers the home or one that shares metalwork with it, nor end there without
handing over, may not be asked for a reading on a line that the home does not have, and may not meet a
display or a fact that no answer fits.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from build_tools.guide.findings import Demand, Finding
from build_tools.guide.trees import Guide, Tree
from build_tools.setup.result_cache import keep, key_of, recall, source_key
from build_tools.walks.many_faults import ManyFaults
from build_tools.walks.oracle import kept_oracles
from build_tools.walks.walkable import can_be_walked
from build_tools.walks.ways import Trouble, Ways
from calc.faults import catalogue
from calc.street import Street

__all__ = ["check"]

HARM = Demand(
    "harm",
    "nobody to be led to a step that raises a danger",
    "put a test before this step that shows the danger, and lead away from here when it does",
)
CLOSED_BESIDE_DANGER = Demand(
    "closed-beside-danger",
    "a job to be closed only where no dangerous fault can be present",
    "test for this fault on the way, or end with an outcome that does not close",
)
KEPT_BESIDE_DANGER = Demand(
    "kept-beside-danger",
    "an end that a danger can lead to to tell somebody who is named",
    "add `hand_over:` with who has the job from here on",
)
NO_SUCH_LINE = Demand(
    "no-such-line",
    "a reading that can be taken at every home that is led to it",
    "ask first how many line tails the home has (`fact: phases`), and lead past this reading",
)
NO_ANSWER = Demand(
    "no-answer",
    "an answer for whatever is found",
    "add the range or the answer that fits, or correct the `is` of one that should",
)

_TROUBLES = {
    demand.id: demand for demand in (HARM, CLOSED_BESIDE_DANGER, KEPT_BESIDE_DANGER, NO_SUCH_LINE, NO_ANSWER)
}
"""Kind of trouble that a walk meets -> what is demanded."""


@dataclass(frozen=True, slots=True)
class _Met:
    """One trouble, and where it was met."""

    trouble: Trouble
    street: str
    fault: str
    home: str

    def __str__(self) -> str:
        detail = f" ({self.trouble.detail})" if self.trouble.detail else ""
        return f"{self.fault} on {self.street}, visiting {self.home}{detail}"


def check(guide: Guide, trees: Iterable[Tree]) -> Iterator[Finding]:
    """Findings of the walks of every site tree on every street."""
    site = [tree for tree in trees if tree.audience == "site" and can_be_walked(tree)]
    met: dict[str, list[_Met]] = {tree.id: [] for tree in site}
    of_trees = {tree.id: key_of("walks", source_key("calc", "build_tools"), tree) for tree in site}
    for name, street in sorted(guide.streets.items()):
        for tree, found in _walked(name, street, site, of_trees):
            met[tree.id].extend(found)
    for tree in site:
        yield from _told(tree, met[tree.id])


def _walked(
    name: str, street: Street, trees: list[Tree], of_trees: dict[str, str]
) -> Iterator[tuple[Tree, list[_Met]]]:
    """What each tree meets on one street, from what was kept where nothing changed."""
    of_street = key_of(street, name)
    keys = {tree.id: key_of(of_trees[tree.id], of_street) for tree in trees}
    known = {tree.id: recall(keys[tree.id]) for tree in trees}
    anew = [tree for tree in trees if known[tree.id] is None]
    if anew:
        found = _walk_street(name, street, anew)
        for tree in anew:
            known[tree.id] = found[tree.id]
            keep(keys[tree.id], found[tree.id])
    for tree in trees:
        yield tree, known[tree.id]


def _walk_street(name: str, street: Street, trees: list[Tree]) -> dict[str, list[_Met]]:
    met: dict[str, list[_Met]] = {tree.id: [] for tree in trees}
    with kept_oracles(street, catalogue(street)) as oracles:
        faults = ManyFaults(oracles)
        for tree in trees:
            for home in street.premises:
                for oracle in faults.troubled(tree, home):
                    found = Ways(tree, oracle, home).troubles()
                    met[tree.id].extend(_Met(trouble, name, str(oracle.fault), home) for trouble in found)
    return met


def _told(tree: Tree, met: list[_Met]) -> Iterator[Finding]:
    """One finding for all that is alike: the shortest way first, and who else comes here."""
    alike: dict[tuple[str, str, str], list[_Met]] = {}
    for one in met:
        alike.setdefault((one.trouble.node, one.trouble.kind, one.trouble.what), []).append(one)
    for (node, kind, what), group in alike.items():
        first = min(group, key=lambda one: (len(one.trouble.hops), str(one)))
        kinds = Counter(one.fault.partition("@")[0] for one in group)
        more = ", ".join(f"{kind} {times}" for kind, times in sorted(kinds.items()))
        yield _TROUBLES[kind].found(
            tree.nodes[node].place,
            f"{what}: {first} (walks that do this, by fault: {more})",
            ("nodes", node),
            hops=first.trouble.hops,
        )
