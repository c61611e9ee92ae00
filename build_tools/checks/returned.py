"""What a called tree found is not lost when its end comes back as another end.

Where a call leads `back` straight to an outcome, that one is shown in place of the called tree's own. So it
stands for one outcome alone, since of several nobody would see which it was and what each says to do; it
holds every fault that the other held; and it presses no less.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, few, shown
from build_tools.guide.trees import Guide, Tree, TreeFile

__all__ = ["check"]


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every call whose tree is there."""
    for file in guide.tree_files.values():
        yield from few(_of_file(file, guide), file.place())


def _of_file(file: TreeFile, guide: Guide) -> Iterator[Finding]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Call) and node.call in guide.tree_files:
            called = guide.tree_files[node.call]
            for back, go in node.back.items():
                end = file.spec.nodes.get(go)
                if isinstance(end, models.Outcome):
                    yield from _in_place_of(file, (name, back, go), end, called)


END_NEVER_SHOWN = Demand(
    "end-never-shown",
    "an end of its own for each outcome that returns",
    "take `returns` from all but one of them, or let each return another name",
)
FAULT_NOT_HELD = Demand(
    "fault-not-held",
    "an end that takes the same faults to be there",
    "add the fault to `holds` of the end that is shown and say what it means, or let the other not return",
)
END_MADE_CALMER = Demand(
    "end-made-calmer",
    "an end that presses as much as the one that it stands for, or more",
    "raise its priority, or let the other not return",
)


def _in_place_of(
    file: TreeFile, at: tuple[str, str, str], end: models.Outcome, called: TreeFile
) -> Iterator[Finding]:
    """`at`: the node that calls, the name that is returned, the outcome that it leads to."""
    node, back, go = at
    path = ("nodes", node, "back", back)
    place = file.place(*path)
    stood_for = {
        name: one
        for name, one in called.spec.nodes.items()
        if isinstance(one, models.Outcome) and one.returns == back
    }
    if len(stood_for) > 1:
        yield END_NEVER_SHOWN.found(
            place,
            f"{shown(go)} is shown in place of {len(stood_for)} ends, whatever was found",
            path,
            f"an end of its own for each: {', '.join(stood_for)}",
            f"take `returns` from all but one in {called.source.file}, or let each return another name",
        )
    for name, one in stood_for.items():
        what = f"{shown(name)} of {called.id}"
        if lost := [kind for kind in one.holds if kind not in end.holds]:
            yield FAULT_NOT_HELD.found(
                place,
                f"{what} holds {lost[0]}, and {shown(go)} in its place does not",
                path,
                mend=f"add {lost[0]} to `holds` of `{go}` and say what it means, or let `{name}` not return",
            )
        if models.PRIORITIES.index(one.priority) < models.PRIORITIES.index(end.priority):
            yield END_MADE_CALMER.found(
                place,
                f"{what} is {one.priority}, and {shown(go)} in its place is {end.priority}",
                path,
                f"{one.priority} or more",
                f"raise the priority of `{go}`, or let `{name}` not return",
            )
