"""What the guide promises is borne out by evidence, and the evidence is no older than its grounds.

A guide with `promises.yaml` and `sampling.yaml` keeps `evidence.json`, which `python3 -m build_tools prove`
measures. Every tree that a promise names must be a tree of the guide, of the audience that it speaks of;
a call tree says besides what a simulated caller answers its questions by. This check stands apart from
CHECKS: it speaks of the evidence and not of the guide's own soundness, so that what refuses a damaged tree
is never merely that its evidence is old.
"""

from __future__ import annotations

from collections.abc import Iterator

from build_tools import evidence, shapes
from build_tools.findings import Finding, nearest
from build_tools.guide import Guide
from calc.symptoms import CALLERS

__all__ = ["check"]


def check(guide: Guide) -> Iterator[Finding]:
    """Findings of the guide's promises."""
    unknown = [*_unknown_trees(guide), *_questions_no_caller_answers(guide)]
    yield from unknown
    if not unknown and all(tree.id in guide.trees for tree in guide.tree_files.values()):
        yield from evidence.findings_of(guide)


def _unknown_trees(guide: Guide) -> Iterator[Finding]:
    for index, promise in enumerate(guide.promises):
        known = [id_ for id_, file in guide.tree_files.items() if file.spec.audience == promise.audience]
        for place, tree in enumerate(promise.trees):
            if tree not in known:
                yield Finding(
                    "unknown-tree",
                    guide.files["promises.yaml"].place((index, "trees", place)),
                    f"no {promise.audience} tree is called {tree!r}{nearest(tree, known)}",
                    (str(index + 1), "trees", str(place + 1)),
                    f"a tree that a promise of kind `{promise.kind}` can be measured on",
                    f"write one of: {', '.join(known)}",
                )


def _questions_no_caller_answers(guide: Guide) -> Iterator[Finding]:
    """A call tree that a promise names says at every question what a simulated caller answers it by."""
    for id_ in dict.fromkeys(t for p in guide.promises if p.audience == "call" for t in p.trees):
        file = guide.tree_files.get(id_)
        for name, node in file.spec.nodes.items() if file else ():
            if isinstance(node, shapes.Question) and node.caller is None:
                assert file is not None
                yield Finding(
                    "caller-unheard",
                    file.place("nodes", name, "question"),
                    "no simulated caller can answer this question, and a promise speaks of this tree",
                    ("nodes", name),
                    f"`caller`, one of: {', '.join(CALLERS)}",
                    "write `caller: other`, and `is: usual` on the answer when nothing of it happened",
                )
