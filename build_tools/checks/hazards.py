"""What can hurt is called what it is: an action carries its hazards, and a named danger is not put off.

The rules, the signs on the page and the crew go by the tags of a step. So a step whose `does` lifts or joins
a main earth, opens a switch or a fuse, puts a load on the neutral or switches a home on is tagged so. The
other way round a step that loads the neutral or switches a home on does something that the simulation
performs.
No probe is held to a terminal (voltmeter, two-pole indicator, loop tester) before a step tagged `works-live`
made ready for it. And an outcome that `holds` a fault which endangers people is for today at the latest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import networkx as nx

from build_tools.checks.paths import told_way
from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, few, shown
from build_tools.guide.trees import Guide, Tree, TreeFile
from build_tools.guide.validation import told
from calc.faults import KINDS

__all__ = ["CARRIES", "check"]

CARRIES: Mapping[str, tuple[models.Hazard, ...]] = {
    "lift-main-earth": ("opens-earth-path", "touches-metalwork"),
    "restore-main-earth": ("touches-metalwork",),
    "open-main-switch": ("opens-cover",),
    "close-main-switch": ("re-energises",),
    "switch-on-known-load": ("loads-the-neutral",),
    "withdraw-cut-out-fuse": ("works-live",),
    "replace-cut-out-fuse": ("re-energises", "works-live"),
}
"""The hazards of each action that has some, whatever the street is like. Who switches off to work proves the
load side dead, under its cover (common practice, no source)."""

PROBES = ("voltmeter", "two-pole", "loop")
"""Testers that are held to bare terminals; a clamp goes round insulation."""

_NOT_PUT_OFF: tuple[models.Priority, ...] = ("emergency", "urgent")


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every step and outcome in every tree file, and of the readings of every tree."""
    for file in guide.tree_files.values():
        yield from few(_of_file(file), file.place())
    for tree in trees:
        yield from _unready(tree)


LIVE_WORK_UNSAID = Demand(
    "live-work-unsaid",
    "a step tagged works-live on every way to it: what is probed is live until it is proved dead",
    "tag the step that makes ready with `hazards: [works-live]`, or put one before this reading",
)


def _unready(tree: Tree) -> Iterator[Finding]:
    """The first reading with probes on a way without a step that is tagged as live work."""
    ready = [id_ for id_, node in tree.nodes.items() if "works-live" in getattr(node.spec, "hazards", ())]
    if tree.start in ready:
        return
    ways = nx.single_source_shortest_path(nx.restricted_view(tree.graph, ready, []), tree.start)
    for id_, way in ways.items():
        spec = tree.nodes[id_].spec
        if isinstance(spec, models.Reading) and spec.instrument in PROBES:
            node = tree.nodes[id_]
            yield LIVE_WORK_UNSAID.found(
                node.place,
                f"no step made ready for {shown(node.name)}, where a {spec.instrument} is held to terminals",
                ("nodes", node.name),
                hops=told_way(tree, [(one, None) for one in way]),
            )
            return


def _of_file(file: TreeFile) -> Iterator[Finding]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Step):
            yield from _untagged(file, name, node)
            yield from _undone(file, name, node)
        elif isinstance(node, models.Outcome):
            yield from _put_off(file, name, node)


UNTAGGED_ACTION = Demand(
    "untagged-action",
    "each hazard of what a step does among its tags: rules and signs go by the tags",
    "add the hazard to `hazards`",
)


def _untagged(file: TreeFile, name: str, step: models.Step) -> Iterator[Finding]:
    for i, action in enumerate(step.does):
        for hazard in CARRIES.get(action, ()):
            if hazard not in step.hazards:
                path = ("nodes", name, "does", i)
                yield UNTAGGED_ACTION.found(
                    file.place(*path),
                    f"{shown(action)} is done without its hazard",
                    told(path),
                    f"the tag {hazard} on this step: rules and signs go by the tags",
                    f"write `hazards: [{', '.join([*step.hazards, hazard])}]`",
                )


_WITH: Mapping[models.Hazard, models.Hazard] = {
    "touches-metalwork": "works-live",
    "opens-cover": "works-live",
}
"""A hazard that never comes without another."""

_PERFORMED = ("loads-the-neutral", "re-energises")


UNTAGGED_HAZARD = Demand(
    "untagged-hazard",
    "the tag that always comes with this one: the covers and the metal of a supply are live until "
    "proved otherwise",
    "add it to `hazards`",
)
TAG_WITHOUT_ACTION = Demand(
    "tag-without-action",
    "`does` with an action that has this hazard: otherwise the walks go on as if it had not been done",
    "write the action into `does`, or take the tag away",
)


def _undone(file: TreeFile, name: str, step: models.Step) -> Iterator[Finding]:
    for i, hazard in enumerate(step.hazards):
        brings = _WITH.get(hazard)
        if brings and brings not in step.hazards:
            path = ("nodes", name, "hazards", i)
            yield UNTAGGED_HAZARD.found(
                file.place(*path),
                f"{shown(hazard)} stands without {brings}",
                told(path),
                f"{brings} beside it: the covers and the metal of a supply are live until proved otherwise",
                f"write `hazards: [{', '.join([*step.hazards, brings])}]`",
            )
    for i, hazard in enumerate(step.hazards):
        if hazard in _PERFORMED and not any(hazard in CARRIES.get(action, ()) for action in step.does):
            actions = [action for action, carried in CARRIES.items() if hazard in carried]
            path = ("nodes", name, "hazards", i)
            yield TAG_WITHOUT_ACTION.found(
                file.place(*path),
                f"{shown(hazard)} is tagged, and nothing is done that has it",
                told(path),
                f"`does` with {' or '.join(actions)}: otherwise the walks go on as if it had not been done",
                f"write `does: [{actions[0]}]`, or take the tag away",
            )


DANGER_PUT_OFF = Demand(
    "danger-put-off",
    "priority emergency or urgent, where an outcome `holds` a fault that can hurt people while it waits",
    "raise the priority, or take the fault out of `holds`",
)


def _put_off(file: TreeFile, name: str, outcome: models.Outcome) -> Iterator[Finding]:
    dangers = [kind for kind in outcome.holds if KINDS[kind].endangers]
    if dangers and outcome.priority not in _NOT_PUT_OFF:
        path = ("nodes", name, "priority")
        yield DANGER_PUT_OFF.found(
            file.place(*path),
            f"{shown(dangers[0])} is named here, with priority {outcome.priority}",
            path,
            f"{' or '.join(_NOT_PUT_OFF)}: that fault can hurt people while it waits",
        )
