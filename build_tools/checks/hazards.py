"""What can hurt is called what it is: an action carries its hazard, and a named danger is not put off.

The rules, the signs on the page and the crew go by the tags of a step. So a step whose `does` lifts a main
earth, puts a load on the neutral or switches a home on is tagged so. And an outcome that `holds` a fault
which endangers people is for today at the latest. The other way round a step that loads the
neutral or switches a home on does something that the simulation performs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from build_tools import shapes
from build_tools.conform import told
from build_tools.findings import Finding, few, shown
from build_tools.guide import Guide, Tree, TreeFile
from calc.faults import KINDS

__all__ = ["CARRIES", "check"]

CARRIES: Mapping[str, shapes.Hazard] = {
    "lift-main-earth": "opens-earth-path",
    "switch-on-known-load": "loads-the-neutral",
    "close-main-switch": "re-energises",
    "replace-cut-out-fuse": "re-energises",
}
"""The hazard of each action that has one, whatever the street is like."""

_NOT_PUT_OFF: tuple[shapes.Priority, ...] = ("emergency", "urgent")


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every step and outcome in every tree file."""
    for file in guide.tree_files.values():
        yield from few(_of_file(file), file.place())


def _of_file(file: TreeFile) -> Iterator[Finding]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, shapes.Step):
            yield from _untagged(file, name, node)
            yield from _undone(file, name, node)
        elif isinstance(node, shapes.Outcome):
            yield from _put_off(file, name, node)


def _untagged(file: TreeFile, name: str, step: shapes.Step) -> Iterator[Finding]:
    for i, action in enumerate(step.does):
        hazard = CARRIES.get(action)
        if hazard and hazard not in step.hazards:
            path = ("nodes", name, "does", i)
            yield Finding(
                "untagged-action",
                file.place(*path),
                f"{shown(action)} is done without its hazard",
                told(path),
                f"the tag {hazard} on this step: rules and signs go by the tags",
                f"write `hazards: [{', '.join([*step.hazards, hazard])}]`",
            )


_WITH: Mapping[shapes.Hazard, shapes.Hazard] = {
    "touches-metalwork": "works-live",
    "opens-cover": "works-live",
}
"""A hazard that never comes without another."""

_PERFORMED = ("loads-the-neutral", "re-energises")


def _undone(file: TreeFile, name: str, step: shapes.Step) -> Iterator[Finding]:
    for i, hazard in enumerate(step.hazards):
        brings = _WITH.get(hazard)
        if brings and brings not in step.hazards:
            path = ("nodes", name, "hazards", i)
            yield Finding(
                "untagged-hazard",
                file.place(*path),
                f"{shown(hazard)} stands without {brings}",
                told(path),
                f"{brings} beside it: the covers and the metal of a supply are live until proved otherwise",
                f"write `hazards: [{', '.join([*step.hazards, brings])}]`",
            )
    for i, hazard in enumerate(step.hazards):
        if hazard in _PERFORMED and hazard not in map(CARRIES.get, step.does):
            actions = [action for action, carried in CARRIES.items() if carried == hazard]
            path = ("nodes", name, "hazards", i)
            yield Finding(
                "tag-without-action",
                file.place(*path),
                f"{shown(hazard)} is tagged, and nothing is done that has it",
                told(path),
                f"`does` with {' or '.join(actions)}: otherwise the walks go on as if it had not been done",
                f"write `does: [{actions[0]}]`, or take the tag away",
            )


def _put_off(file: TreeFile, name: str, outcome: shapes.Outcome) -> Iterator[Finding]:
    dangers = [kind for kind in outcome.holds if KINDS[kind].endangers]
    if dangers and outcome.priority not in _NOT_PUT_OFF:
        path = ("nodes", name, "priority")
        yield Finding(
            "danger-put-off",
            file.place(*path),
            f"{shown(dangers[0])} is named here, with priority {outcome.priority}",
            path,
            f"{' or '.join(_NOT_PUT_OFF)}: that fault can hurt people while it waits",
            "raise the priority, or take the fault out of `holds`",
        )
