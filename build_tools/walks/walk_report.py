"""The walks of one tree with one fault from one home, told step by step, for the `walk` command."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from build_tools.guide import wording
from build_tools.guide.findings import nearest
from build_tools.guide.models import Outcome, Question, Reading
from build_tools.guide.trees import Exit, Guide, Node, Tree
from build_tools.walks.oracle import Oracle
from build_tools.walks.walkable import can_be_walked
from build_tools.walks.ways import Ending, Passage, Ways
from calc import faults
from calc.danger import standing_harms
from calc.instruments import INSTRUMENTS
from calc.street import network

__all__ = ["ReportStage", "WalkReport", "Way", "as_json", "as_text", "retell", "told_by"]


@dataclass(frozen=True, slots=True)
class ReportStage:
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
    reading could not be taken or did not hold still, or something is not known. `left_open`: nodes of the way
    whose answer the model does not know, and which another would have left elsewhere; `found`: the last
    answer that decided is not such a one."""

    outcome: str
    words: str
    priority: str
    closes: bool
    willing: bool
    stages: tuple[ReportStage, ...]
    wrong: tuple[str, ...]
    left_open: tuple[str, ...] = ()
    found: bool = True


@dataclass(frozen=True, slots=True)
class WalkReport:
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


def retell(guide: Guide, tree_id: str, street_id: str, fault_name: str, home: str) -> WalkReport:
    """The walks, nearest outcomes first. Raises ValueError for a wrong name, with what is near."""
    tree = _tree(guide, tree_id)
    street = guide.streets[_known("street", street_id, guide.streets)]
    _known("home", home, street.premises)
    return told_by(tree, street_id, Oracle(street, faults.parse(fault_name)), home)


def told_by(tree: Tree, street_name: str, oracle: Oracle, home: str) -> WalkReport:
    """The walks of a tree as an oracle answers them."""
    fault = oracle.fault
    faulty = fault.applied_to(network(oracle.street))
    walked = Ways(tree, oracle, home)
    ways = tuple(_way(walked, ending) for ending in walked.endings())
    told = {stage.node for way in ways for stage in way.stages if stage.wrong}
    told |= {way.outcome for way in ways if way.wrong}
    elsewhere = (t for t in walked.troubles() if t.node not in told)
    return WalkReport(
        tree.id,
        tree.title,
        street_name,
        str(fault),
        fault.title,
        home,
        tuple(name for name in oracle.street.premises if name in oracle.endangered),
        tuple(map(str, standing_harms(faulty))),
        ways,
        tuple(
            dict.fromkeys(f"{t.node}: {t.what}" + (f": {t.detail}" if t.detail else "") for t in elsewhere)
        ),
    )


def as_text(told: WalkReport) -> str:
    """The walks as paragraphs for a terminal; `!` marks what is wrong."""
    return "\n".join(_lines(told))


def as_json(told: WalkReport) -> str:
    """The same as one object with the names of `WalkReport`, `Way` and `Stage`."""
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


def _way(walked: Ways, ending: Ending) -> Way:
    tree = walked.tree
    spec = tree.nodes[ending.node].spec
    assert isinstance(spec, Outcome)
    passed = (tree.nodes[passage.visit.node] for passage in ending.way)
    deciding = [node for node in passed if len({exit_.go for exit_ in node.exits}) > 1]
    left_open = tuple(node.id for node in deciding if _is_open(node))
    return Way(
        ending.node,
        spec.outcome,
        spec.priority,
        spec.closes,
        ending.willing,
        tuple(_stage(walked, passage) for passage in ending.way),
        tuple(walked.wrong_at(ending.at)),
        left_open,
        not (deciding and _is_open(deciding[-1])),
    )


def _is_open(node: Node) -> bool:
    """Whether the model does not know the answer."""
    return isinstance(node.spec, Question) and node.spec.fact is None


def _stage(walked: Ways, passage: Passage) -> ReportStage:
    node = walked.tree.nodes[passage.visit.node]
    return ReportStage(
        node.id,
        passage.visit.home,
        node.words,
        shown_words(passage.display, node),
        answer_words(passage.exit, node),
        tuple(walked.wrong_at(passage.visit)),
        str(passage.exit.place),
    )


def shown_words(display: str, node: Node) -> str:
    """What the model says at a node: the instrument, where it goes and its display, if one was read."""
    match node.spec:
        case _ if _is_open(node):
            return "the model leaves this open"
        case Reading() as spec if display:
            where = wording.conductors(spec.instrument, spec.on)
            return f"{INSTRUMENTS[spec.instrument].title} {where}: {display}"
    return ""


def answer_words(exit_: Exit, node: Node) -> str:
    """The answer in words; a range with its figures. Nothing for a step, which has one way on."""
    if isinstance(node.spec, Reading) and exit_.kind == "range":
        change = node.spec.change_from is not None
        return f"{exit_.label} ({wording.range_words(exit_.low, exit_.high, node.spec.unit, change)})"
    return "" if exit_.kind == "go" else exit_.label


def _lines(told: WalkReport) -> Iterator[str]:
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
    job = "the job may be closed" if way.closes else "the job stays open"
    yield f"{number}. {way.words} ({way.outcome}; {way.priority}; {job})"
    yield f"   {_led(way)}; steps: {len(way.stages)}"
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


def _led(way: Way) -> str:
    """What brings the walk here."""
    if not way.willing:
        return "only where something was not taken or not known"
    if not way.left_open:
        return "what is found leads here"
    if not way.found:
        return f"the model leaves it open whether it comes to this: the answer at {way.left_open[-1]} decides"
    answers = "answer on the way is" if len(way.left_open) == 1 else "answers on the way are"
    return (
        f"what is found leads here, where {len(way.left_open)} {answers} as told: the model leaves them open"
    )
