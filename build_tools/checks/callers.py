"""Callers are never asked to touch, open or measure, and hear words that are easy to take in.

A tree of the `call` audience has no reading, no step with a hazard and none that the street feels. What it
says tells nobody to touch, open, measure, unscrew, remove or lift anything, unless it says not to, or that
the crew will. The words said to callers reach the reading ease that `guide.yaml` asks for. Where a question
says what a simulated `caller` answers it by, each of its words has an answer; only call trees say so.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from build_tools import shapes
from build_tools.conform import told
from build_tools.findings import Finding, Place, few
from build_tools.guide import Guide, Tree, TreeFile
from build_tools.reading_ease import flesch
from calc.symptoms import CALLERS

__all__ = ["check", "words_said"]

Keys = tuple[str | int, ...]

_ACTS = "touch|open|measure|unscrew|undo|remove|lift|disconnect|loosen|dismantle|probe"
_GOING_ON = "touching|opening|measuring|unscrewing|undoing|removing|lifting|disconnecting|loosening"
_ACT = re.compile(
    rf"\b(?:{_ACTS}|(?:take|pull|prise)\s+(?:\w+\s+){{0,4}}?(?:off|out)|(?:try|start|by)\s+(?:{_GOING_ON}))\b",
    re.IGNORECASE,
)
_NO_ACT_OF_THE_CALLER = re.compile(
    r"\bin touch\b"
    r"|\b(?:is|are|was|were|be|leave|keep|left|stay|stays)\s+"  # leave the doors open
    r"(?:(?!to\b|and\b|you\b|please\b)\w+\s+){0,3}?open\b"
    r"|\bopen\b(?=\s+(?:\w+\s+)?(?:windows?|doors?|curtains?)\b)"
    r"|\b(?:we|they|crews?|engineers?|operatives?|team|staff)(?:['’]ll|\s+(?:will|may|must|can|need|has|have))\b"
    r".*?(?=\byou\b|\bplease\b|\bbut\b|$)",  # the crew will open and measure it
    re.IGNORECASE | re.DOTALL,
)
_FORBIDDEN = re.compile(
    r"\b(?:not|never|cannot|nobody|no one|nothing|without|avoid|nor)\b|n['’]t\b", re.IGNORECASE
)
_SENTENCE = re.compile(r"[^.!?;:]+")
_CLAUSE_END = re.compile(r",|\bbut\b|\bthen\b|\band\b", re.IGNORECASE)


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every tree file of the call audience, and of what is said at once in danger."""
    if guide.settings:
        yield from _told_in_danger(guide, guide.settings)
    for file in guide.tree_files.values():
        yield from few(_what_callers_know(file), file.place())
        if file.spec.audience == "call":
            yield from few(_what_callers_do(file), file.place())
            yield from few(_what_callers_are_told(file), file.place())
            if guide.settings:
                yield from _reading_ease(file, guide.settings.reading_ease.at_least)


def _told_in_danger(guide: Guide, settings: shapes.Settings) -> Iterator[Finding]:
    for i, text in enumerate(settings.danger_now.get("call", ())):
        keys = ("danger_now", "call", i)
        for act in acts_asked(text):
            yield _at_risk(guide.files["guide.yaml"].place(keys), keys, act)


def _what_callers_do(file: TreeFile) -> Iterator[Finding]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, shapes.Reading):
            yield _asks_too_much(file, ("nodes", name, "reading"), "a reading is asked for on the telephone")
        elif isinstance(node, shapes.Step):
            for key in ("hazards", "does"):
                if getattr(node, key):
                    what = f"a step on the telephone has `{key}`"
                    yield _asks_too_much(file, ("nodes", name, key), what)


def _asks_too_much(file: TreeFile, keys: Keys, what: str) -> Finding:
    return Finding(
        "caller-at-risk",
        file.place(*keys, key=True),
        what,
        told(keys),
        "nothing that a caller would have to touch, open or measure: that is for the crew",
        "ask what the caller can see, hear, smell or remember, or send a crew",
    )


def _what_callers_know(file: TreeFile) -> Iterator[Finding]:
    for name, node in file.spec.nodes.items():
        if not isinstance(node, shapes.Question) or node.caller is None:
            continue
        keys = ("nodes", name, "caller")
        missing = [word for word in CALLERS[node.caller] if word not in {one.is_ for one in node.answers}]
        if file.spec.audience != "call":
            what, expected = "a question of a site tree is put to a caller", "`caller` in call trees only"
            mend = "take it out; a site tree's question has a `fact`"
        elif missing:
            what = f"no answer stands for {' and '.join(missing)}, which a caller can say"
            expected = f"an answer with `is` for each of {', '.join(CALLERS[node.caller])}"
            mend = "write `is:` on the answer that stands for it"
        else:
            continue
        yield Finding("caller-unheard", file.place(*keys), what, told(keys), expected, mend)


def _what_callers_are_told(file: TreeFile) -> Iterator[Finding]:
    for keys, text in _instructions(file.spec):
        for act in acts_asked(text):
            yield _at_risk(file.place(*keys), keys, act)


def _at_risk(place: Place, keys: Keys, act: str) -> Finding:
    return Finding(
        "caller-at-risk",
        place,
        f"a caller could take this as being told to {act}",
        told(keys),
        "nothing to touch, open or measure: callers have no training and no instruments",
        f"say what not to do (`do not {act} ...`), or leave it to the crew",
    )


def _instructions(tree: shapes.Tree) -> Iterator[tuple[Keys, str]]:
    """What is said, and what may be passed on."""
    yield from words_said(tree)
    for name, node in tree.nodes.items():
        if isinstance(node, shapes.Step):
            yield ("nodes", name, "step"), node.step
        elif isinstance(node, shapes.Outcome):
            yield from ((("nodes", name, "advice", i), text) for i, text in enumerate(node.advice))


def words_said(tree: shapes.Tree) -> Iterator[tuple[Keys, str]]:
    """The words said to callers: questions, and what an outcome has to say."""
    for name, node in tree.nodes.items():
        if isinstance(node, shapes.Question):
            yield ("nodes", name, "question"), node.question
        elif isinstance(node, shapes.Outcome):
            yield from ((("nodes", name, "say", i), text) for i, text in enumerate(node.say))


def acts_asked(text: str) -> Iterator[str]:
    """The acts that a text may ask for: plain forms of the verbs, unless forbidden earlier in their clause.

    What forbids (`do not`, `never`) reaches to the end of its clause, and over a comma only in a list of
    acts: `do not touch, open or lift it`.
    """
    for sentence in _SENTENCE.findall(_NO_ACT_OF_THE_CALLER.sub(lambda match: "-" * len(match[0]), text)):
        in_list = False
        for clause in _CLAUSE_END.split(sentence):
            forbidden, rest = False, clause
            for act in _ACT.finditer(clause):
                before, rest = clause[: act.start()], clause[act.end() :]
                starts_there = in_list and not before.strip()
                forbidden = forbidden or starts_there or _FORBIDDEN.search(before) is not None
                if not forbidden:
                    yield act[0].casefold()
            in_list = forbidden and not rest.strip()


def _reading_ease(file: TreeFile, at_least: float) -> Iterator[Finding]:
    said = list(words_said(file.spec))
    ease = flesch(text for _, text in said)
    if ease < at_least:
        keys, hardest = min(said, key=lambda entry: flesch([entry[1]]))
        yield Finding(
            "hard-to-take-in",
            file.place(*keys),
            f"the words said in this tree have a reading ease of {ease:.0f}; these are the hardest",
            told(keys),
            f"{at_least:g} or more over the whole tree (Flesch): a frightened caller hears it once",
            f"use shorter words and sentences; this one alone has {flesch([hardest]):.0f}",
        )
