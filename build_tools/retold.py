"""The walks of one tree with one fault from one home, told step by step, for the `walk` command."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from build_tools.checks.ranges import can_be_walked
from build_tools.findings import nearest
from build_tools.guide import Exit, Guide, Node, Tree
from build_tools.pages import words
from build_tools.shapes import Outcome, Question, Reading
from build_tools.walk import Ending, Passage, endings, troubles, wrong_at
from build_tools.witness import Witness
from calc import faults
from calc.danger import standing_harms
from calc.instruments import INSTRUMENTS
from calc.street import network

__all__ = ["Retold", "Stage", "Way", "as_json", "as_text", "retell", "told_by"]


@dataclass(frozen=True, slots=True)
class Stage:
    """One node passed: at which home, what it asks or tells, what was shown or done, which answer that is,
    and what is wrong there (a harm that the step raises)."""

    node: str
    home: str
    words: str
    shown: str
    answer: str
    wrong: tuple[str, ...]
    place: str


@dataclass(frozen=True, slots=True)
class Way:
    """One outcome and the nearest way there. `willing`: what is found leads there; otherwise only where a
    reading could not be taken or did not hold still, or something is not known."""

    outcome: str
    words: str
    priority: str
    closes: bool
    willing: bool
    stages: tuple[Stage, ...]
    wrong: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Retold:
    """Every walk of one tree from one home of a street with a fault. `standing`: what hurts there before
    anybody does anything; `endangered`: homes that the fault puts in danger, now or later; `elsewhere`: what
    is wrong on longer ways than those told; `notes`: sentences on the street and what it breaks."""

    tree: str
    title: str
    street: str
    fault: str
    fault_title: str
    home: str
    endangered: tuple[str, ...]
    standing: tuple[str, ...]
    ways: tuple[Way, ...]
    elsewhere: tuple[str, ...]
    notes: tuple[str, ...] = ()


def retell(guide: Guide, tree_id: str, street_id: str, fault_name: str, home: str) -> Retold:
    """The walks, nearest outcomes first. Raises ValueError for a wrong name, with what is near."""
    tree = _tree(guide, tree_id)
    street = guide.streets[_known("street", street_id, guide.streets)]
    _known("home", home, street.premises)
    return told_by(tree, street_id, Witness(street, faults.parse(fault_name)), home)


def told_by(tree: Tree, street_name: str, witness: Witness, home: str) -> Retold:
    """The walks of a tree as a witness answers them."""
    fault = witness.fault
    faulty = fault.applied_to(network(witness.street))
    ways = tuple(_way(tree, witness, home, ending) for ending in endings(tree, witness, home))
    told = {stage.node for way in ways for stage in way.stages if stage.wrong}
    told |= {way.outcome for way in ways if way.wrong}
    elsewhere = (t for t in troubles(tree, witness, home) if t.node not in told)
    return Retold(
        tree.id,
        tree.title,
        street_name,
        str(fault),
        fault.title,
        home,
        tuple(name for name in witness.street.premises if name in witness.endangered),
        tuple(map(str, standing_harms(faulty))),
        ways,
        tuple(
            dict.fromkeys(f"{t.node}: {t.what}" + (f": {t.detail}" if t.detail else "") for t in elsewhere)
        ),
    )


def as_text(told: Retold) -> str:
    """The walks as paragraphs for a terminal; `!` marks what is wrong."""
    return "\n".join(_lines(told))


def as_json(told: Retold) -> str:
    """The same as one object with the names of `Retold`, `Way` and `Stage`."""
    return json.dumps(asdict(told), indent=2, ensure_ascii=False)


def _tree(guide: Guide, tree_id: str) -> Tree:
    site = {id_: tree for id_, tree in guide.trees.items() if tree.audience == "site"}
    if tree_id in guide.trees and tree_id not in site:
        raise ValueError(
            f"{tree_id} is for the telephone: no circuit answers it; site trees: {', '.join(site)}"
        )
    tree = site[_known("tree", tree_id, site)]
    if not can_be_walked(tree):
        raise ValueError(f"{tree_id} asks for a reading that cannot be taken anywhere; `check` says which")
    return tree


def _known(what: str, name: str, known: Any) -> str:
    if name not in known:
        raise ValueError(f"no {what} is called {name}{nearest(name, known)}; there are: {', '.join(known)}")
    return name


def _way(tree: Tree, witness: Witness, home: str, ending: Ending) -> Way:
    spec = tree.nodes[ending.node].spec
    assert isinstance(spec, Outcome)
    return Way(
        ending.node,
        spec.outcome,
        spec.priority,
        spec.closes,
        ending.willing,
        tuple(_stage(tree, witness, home, passage) for passage in ending.way),
        tuple(wrong_at(tree, witness, home, ending.at)),
    )


def _stage(tree: Tree, witness: Witness, home: str, passage: Passage) -> Stage:
    node = tree.nodes[passage.visit.node]
    return Stage(
        node.id,
        passage.visit.home,
        node.words,
        shown_words(passage.display, node),
        answer_words(passage.exit, node),
        tuple(wrong_at(tree, witness, home, passage.visit)),
        str(passage.exit.place),
    )


def shown_words(display: str, node: Node) -> str:
    """What the model says at a node: the instrument, where it goes and its display, if one was read."""
    match node.spec:
        case Question(fact=None):
            return "the model leaves this open"
        case Reading() as spec if display:
            where = words.conductors(spec.instrument, spec.on)
            return f"{INSTRUMENTS[spec.instrument].title} {where}: {display}"
    return ""


def answer_words(exit_: Exit, node: Node) -> str:
    """The answer in words; a range with its figures. Nothing for a step, which has one way on."""
    if isinstance(node.spec, Reading) and exit_.kind == "range":
        return f"{exit_.label} ({words.range_words(exit_.low, exit_.high, node.spec.unit)})"
    return "" if exit_.kind == "go" else exit_.label


def _lines(told: Retold) -> Iterator[str]:
    yield f"{told.title} ({told.tree})"
    yield f"{told.fault_title} ({told.fault}) on {told.street}, visiting {told.home}"
    yield f"endangered: {', '.join(told.endangered) or 'nobody'}"
    yield f"hurts before anything is done: {'; '.join(told.standing) or 'nothing'}"
    yield from told.notes
    for number, way in enumerate(told.ways, 1):
        yield ""
        yield from _way_lines(number, way)
    if told.elsewhere:
        yield ""
        yield "wrong on longer ways:"
        yield from (f"  ! {wrong}" for wrong in told.elsewhere)


def _way_lines(number: int, way: Way) -> Iterator[str]:
    led = "what is found leads here" if way.willing else "only where something was not taken or not known"
    job = "the job may be closed" if way.closes else "the job stays open"
    yield f"{number}. {way.words} ({way.outcome}; {way.priority}; {job})"
    yield f"   {led}; steps: {len(way.stages)}"
    home = ""
    for place, stage in enumerate(way.stages, 1):
        if stage.home != home:
            home = stage.home
            yield f"   at {home}"
        yield f"   {place:>3}  {stage.words}"
        found = [part for part in (stage.shown, stage.answer) if part]
        if found:
            yield f"        {' -> '.join(found)}"
        yield from (f"      ! {wrong}" for wrong in stage.wrong)
    yield from (f"      ! {wrong}" for wrong in way.wrong)
