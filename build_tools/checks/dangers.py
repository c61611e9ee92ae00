"""Somebody in danger is heard and answered.

What people say of each danger (`heard_as`) is made of words that can be heard, and of kinds of words that
`synonyms.yaml` has. When the guide has dangers, the first question of every call tree leads by one of its
answers to an outcome that tells what to do in each (`dangers: true`), with at most one question between:
which of them it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from build_tools.checks.content import is_broken
from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, nearest, shown
from build_tools.guide.phrases import odd_words, unknown_kinds
from build_tools.guide.trees import Guide, Tree
from build_tools.guide.validation import told

__all__ = ["check"]


DANGER_UNASKED = Demand(
    "danger-unasked",
    "a first question that asks for danger, and an outcome with `dangers: true` after it, or after one more "
    "that asks which it is",
    "ask it first, and write `dangers: true` in the outcome that its yes leads to",
)


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of the dangers in guide.yaml, and of the trees that have to ask for them."""
    if not guide.settings or not guide.settings.dangers:
        return
    for id_, danger in guide.settings.dangers.items():
        for position, phrase in enumerate(danger.heard_as):
            yield from _unheard(guide, ("dangers", id_, "heard_as", position), phrase)
    for tree in trees:
        if tree.audience == "call" and not _tells_dangers(tree):
            yield DANGER_UNASKED.found(
                tree.nodes[tree.start].place,
                "no answer to the first question leads to what to do at once in danger",
                ("nodes", tree.start),
            )


UNHEARD = Demand(
    "unheard",
    "words with spaces between; `/` between those of which one is enough, `*` after a beginning, "
    "`_` between words that follow each other, `<kind>` for a kind of synonyms.yaml",
    "write the words that people say",
)
UNKNOWN_KIND = Demand(
    "unknown-kind", "a kind of synonyms.yaml", "correct the name, or add the kind to synonyms.yaml"
)


def _unheard(guide: Guide, keys: tuple[str | int, ...], phrase: str) -> Iterator[Finding]:
    place, kinds = guide.files["guide.yaml"].place(keys), guide.synonyms.kinds
    for word in odd_words(phrase):
        yield UNHEARD.found(place, f"nobody can say {shown(word)}", told(keys))
    for kind in () if is_broken(guide, "synonyms.yaml") else unknown_kinds(phrase, kinds):
        yield UNKNOWN_KIND.found(
            place, f"no kind of words is called {shown(kind)}{nearest(kind, kinds)}", told(keys)
        )


def _tells_dangers(tree: Tree) -> bool:
    first = [tree.nodes[exit_.go] for exit_ in tree.nodes[tree.start].exits]
    which = [tree.nodes[exit_.go] for node in first if node.kind == "question" for exit_ in node.exits]
    ends = (node.spec for node in (*first, *which))
    return any(isinstance(end, models.Outcome) and end.dangers for end in ends)
