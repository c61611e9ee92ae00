"""What happens on a worst street, told step by step: the walk of a site tree, or the call of a caller."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from build_tools.guide.models import Outcome, Promise, Question
from build_tools.guide.trees import Guide, Tree
from build_tools.proof.caller_model import Caller, answers, lot, matter, mistakes
from build_tools.proof.counterexample import Counterexample, batch_of, fails
from build_tools.proof.counting import visited_streets
from build_tools.proof.drawn_oracle import DrawnOracle
from build_tools.proof.street_batch import Many, StreetBatch
from build_tools.proof.wrong_answers import harmful_mistakes
from build_tools.walks.walk_report import ReportStage, WalkReport, Way, told_by
from calc import faults
from calc.danger import standing_harms

__all__ = ["retell_counterexample"]


def retell_counterexample(guide: Guide, worst: Counterexample, name: str) -> WalkReport:
    """The walks on a worst street, called `name`. Raises ValueError where the guide has no such promise or
    tree (any more)."""
    promise = next((each for each in guide.promises if each.id == worst.promise), None)
    if promise is None:
        raise ValueError(f"{name} breaks the promise {worst.promise!r}, which this guide does not make")
    if worst.tree not in promise.trees or worst.tree not in guide.trees:
        raise ValueError(f"{name}: {worst.promise} speaks of no tree {worst.tree!r} in this guide")
    tree, batch = guide.trees[worst.tree], batch_of(worst)
    oracle = DrawnOracle(batch, faults.parse_one(worst.fault))
    notes = tuple(_notes(guide, promise, worst, tree, batch))
    if promise.audience == "site":
        return replace(told_by(tree, name, oracle, worst.home), notes=notes)
    return WalkReport(
        tree.id,
        tree.title,
        name,
        worst.fault,
        oracle.fault.title,
        worst.home,
        tuple(home for home in worst.street.premises if home in oracle.endangered),
        tuple(map(str, standing_harms(batch.worked(frozenset(), False)))),
        (_call(guide, tree, batch),),
        (),
        notes,
    )


def _notes(
    guide: Guide, promise: Promise, worst: Counterexample, tree: Tree, batch: StreetBatch
) -> Iterator[str]:
    yield f"from drawn street {worst.number} of seed {worst.seed}"
    if not fails(guide, worst):
        yield f"the promise {promise.id} ({promise.title}) is kept here"
        return
    yield f"the promise {promise.id} ({promise.title}) is broken here"
    if any(worst.meters.values()) and not fails(guide, worst.with_perfect_meters):
        yield "only because the meters err; the figures told are what they show"
    if promise.kind == "robust":
        mistakes = harmful_mistakes(tree, batch, visited_streets(batch))
        for mistake in sorted(mistakes):
            yield f"one wrong answer that leads to harm: {mistake.node}: {mistake.answer}"


def _call(guide: Guide, tree: Tree, batch: StreetBatch) -> Way:
    """The one way that the caller takes, wrong answers and all."""
    assert guide.sampling is not None
    caller = Caller(batch, visited_streets(batch))
    err, lots = mistakes(guide.sampling), dict[str, Many]()
    (home,) = (home for home, here in caller.visited.items() if here[0])
    stages: list[ReportStage] = []
    node = tree.nodes[tree.start]
    while node.kind != "outcome" and len(stages) <= len(tree.nodes):
        (exit_, *_), shown = node.exits, ""
        if isinstance(node.spec, Question):
            said = caller.words(node.spec.caller or "other")
            drawn = lot(tree.id, node, batch, guide.sampling.seed, err.again, lots)
            lots[matter(node)] = drawn
            exit_ = node.exits[int(answers(node, said, drawn, err.errs)[0])]
            by_mistake = " (answered wrongly)" if exit_.is_ != said[0] else ""
            shown = f"what is so: {said[0]}{by_mistake}"
        label = exit_.label if node.kind == "question" else ""
        stages.append(ReportStage(node.id, home, node.words, shown, label, (), str(exit_.place)))
        node = tree.nodes[exit_.go]
    spec = node.spec
    if not isinstance(spec, Outcome):
        raise ValueError(f"{tree.id}: this call does not end")
    return Way(node.id, spec.outcome, spec.priority, spec.closes, True, tuple(stages), ())
