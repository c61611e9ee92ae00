"""What the guide promises is borne out by evidence, and the evidence is no older than its grounds.

A guide with `promises.yaml` and `sampling.yaml` keeps `evidence.json`, which `python3 -m build_tools prove`
measures. Every tree that a promise names must be a tree of the guide, of the audience that it speaks of;
a call tree says besides what a simulated caller answers its questions by. This check stands apart from
CHECKS: it speaks of the evidence and not of the guide's own soundness, so that what refuses a damaged tree
is never merely that its evidence is old.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from build_tools.checks.callers import CALLER_UNHEARD
from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, nearest
from build_tools.guide.source import Source
from build_tools.guide.trees import Guide
from build_tools.guide.unknown_names import UNKNOWN_TREE
from build_tools.proof import evidence
from calc.conductor import CABLES, PIPES
from calc.drawn_streets import draw
from calc.faults import KINDS
from calc.sampling import SPREADS, Spread
from calc.settling import LAWS
from calc.street import network
from calc.symptoms import CALLERS

__all__ = ["as_written", "check", "unsolvable"]

_CAN_BE_BELOW_ZERO = ("clamp-error", "voltmeter-error", "loop-error", "loop-offset-ohm")
_CAN_BE_ZERO = (
    *("load-kw", "third-harmonic", "generation-kw", "pipe-joint-ohm", "clamp-stray-a"),
    *_CAN_BE_BELOW_ZERO,
)
_COMBINED = tuple(name for name, cable in CABLES.items() if cable.kind == "cne")
_SEPARATE = tuple(name for name, cable in CABLES.items() if cable.kind == "sne")
_NAMES: dict[str, Iterable[str]] = {
    "main-cable": _COMBINED,
    "overhead-cable": _COMBINED,
    "service-cable": _COMBINED,
    "main-cable-separate": _SEPARATE,
    "service-cable-separate": _SEPARATE,
    "pipe": PIPES,
    "load-law": LAWS,
}


def check(guide: Guide) -> Iterator[Finding]:
    """Findings of the guide's promises."""
    wrong = list(as_written(guide))
    yield from wrong
    if not wrong and guide.is_whole:
        yield from evidence.findings_of(guide)


def as_written(guide: Guide) -> Iterator[Finding]:
    """What stands in the way of measuring: the evidence apart."""
    yield from _unknown_trees(guide)
    yield from _unknown_faults(guide)
    yield from _questions_no_caller_answers(guide)
    if guide.sampling is not None:
        for name, spread in guide.sampling.spreads.items():
            yield from _no_such_figures(guide.files["sampling.yaml"], name, spread)


UNSOLVABLE_DRAW = Demand(
    "unsolvable-draw",
    "streets that could be there, whatever is drawn",
    "look for a figure that no street has: a slip of the unit, or an end of a spread",
)


def unsolvable(guide: Guide) -> Iterator[Finding]:
    """The first drawn street that is no street or has no answer, if there is one."""
    assert guide.sampling is not None
    for number in range(guide.sampling.streets):
        try:
            _ = network(draw(guide.sampling, number).street).solution
        except (ValueError, ArithmeticError) as error:
            yield UNSOLVABLE_DRAW.found(
                guide.files["sampling.yaml"].place(("spreads",), key=True),
                f"drawn street {number} of seed {guide.sampling.seed} cannot be solved: {error}",
                ("spreads",),
            )
            return


IMPOSSIBLE_SPREAD = Demand(
    "impossible-spread", "figures that the parameter can have", "correct the lower end"
)
UNKNOWN_CHOICE = Demand("unknown-choice", "names of cables, and of pipes, that there are", "correct the name")


def _no_such_figures(file: Source, name: str, spread: Spread) -> Iterator[Finding]:
    """Ends of a spread that the parameter cannot have, and choices that nothing is called."""
    ends = {kind: getattr(spread, kind) for kind in ("uniform", "log_uniform") if getattr(spread, kind)}
    for kind, (low, _) in ends.items():
        if (low < 0 and name not in _CAN_BE_BELOW_ZERO) or (low == 0 and name not in _CAN_BE_ZERO):
            yield IMPOSSIBLE_SPREAD.found(
                file.place(("spreads", name, kind, 0)),
                f"{name} can be drawn as {low:g}",
                ("spreads", name, kind, "1"),
                f"{'0 or more' if name in _CAN_BE_ZERO else 'above 0'}: {SPREADS[name]}",
            )
    for choice in spread.choice or ():
        if name in _NAMES and choice not in _NAMES[name]:
            yield UNKNOWN_CHOICE.found(
                file.place(("spreads", name, "choice", choice), key=True),
                f"no {name.rpartition('-')[2]} is called {choice!r}{nearest(choice, _NAMES[name])}",
                ("spreads", name, "choice", choice),
                f"one of: {', '.join(_NAMES[name])}",
            )


def _unknown_trees(guide: Guide) -> Iterator[Finding]:
    refused = guide.written("trees") - guide.tree_files.keys()
    for index, promise in enumerate(guide.promises):
        known = [id_ for id_, file in guide.tree_files.items() if file.spec.audience == promise.audience]
        for place, tree in enumerate(promise.trees):
            if tree not in known and tree not in refused:
                yield UNKNOWN_TREE.found(
                    guide.files["promises.yaml"].place((index, "trees", place)),
                    f"no {promise.audience} tree is called {tree!r}{nearest(tree, known)}",
                    (str(index + 1), "trees", str(place + 1)),
                    f"a tree that a promise of kind `{promise.kind}` can be measured on",
                    f"write one of: {', '.join(known)}",
                )


UNKNOWN_FAULT = Demand("unknown-fault", "names of kinds of fault that there are", "correct the name")


def _unknown_faults(guide: Guide) -> Iterator[Finding]:
    for index, promise in enumerate(guide.promises):
        for place, kind in enumerate(promise.faults):
            if kind not in KINDS:
                yield UNKNOWN_FAULT.found(
                    guide.files["promises.yaml"].place((index, "faults", place)),
                    f"no kind of fault is called {kind!r}{nearest(kind, KINDS)}",
                    (str(index + 1), "faults", str(place + 1)),
                    f"one of: {', '.join(KINDS)}",
                )


def _questions_no_caller_answers(guide: Guide) -> Iterator[Finding]:
    """A call tree that a promise names says at every question what a simulated caller answers it by."""
    for id_ in dict.fromkeys(t for p in guide.promises if p.audience == "call" for t in p.trees):
        file = guide.tree_files.get(id_)
        for name, node in file.spec.nodes.items() if file else ():
            if isinstance(node, models.Question) and node.caller is None:
                assert file is not None
                yield CALLER_UNHEARD.found(
                    file.place("nodes", name, "question"),
                    "no simulated caller can answer this question, and a promise speaks of this tree",
                    ("nodes", name),
                    f"`caller`, one of: {', '.join(CALLERS)}",
                    "write `caller: other`, and `is: usual` on the answer when nothing of it happened",
                )
