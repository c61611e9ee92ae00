"""The words of a node say what the node does: whoever reads them does that, and the walks do it too.

A reading names its instrument's act and each conductor or point in `on`, and no other that such an instrument
is held to; the order is free, since no display goes by it. One that is the `same_as` another may leave them
out. A step names each action in `does` by a verb of its own, in `step` (in `help`, where it does several
things), and none by the verb that undoes it. An answer's words do not stand for another word than its `is`.
`guide/wording.py` lists the words that count.
A crew in danger (`danger_now`, `do` of a danger, the advice of an emergency) reads no bare order to touch,
disconnect, lift, join, tighten, reset or go near: only that nobody does.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache

from build_tools.checks.callers import acts_asked
from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, few, shown
from build_tools.guide.prose import Prose
from build_tools.guide.source import Source
from build_tools.guide.trees import Guide, Tree, TreeFile
from build_tools.guide.validation import told
from build_tools.guide.wording import ANSWERS, DEEDS, PLACES, TESTERS, joined, place
from calc.instruments import CLAMPED, TOUCHED
from calc.work import ACTIONS

__all__ = ["UNDONE_BY", "check"]

Keys = tuple[str | int, ...]

UNDONE_BY: Mapping[str, str] = {
    "go-next-door": "come-back",
    "come-back": "go-next-door",
    **{
        action: other
        for action, (condition, begins) in ACTIONS.items()
        for other, done in ACTIONS.items()
        if done == (condition, not begins)
    },
}
"""Each action with the one that does the opposite."""


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of what is told at once in danger, and of every node in every tree file."""
    if guide.settings:
        yield from _at_once(guide.files["guide.yaml"], _told_in_danger(guide.settings))
    for file in guide.tree_files.values():
        yield from few(_of_file(file), file.place())
        if file.spec.audience == "site":
            yield from _at_once(file.source, _told_in_emergency(file))


def _of_file(file: TreeFile) -> Iterator[Finding]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Reading):
            yield from _reading(file, name, node)
        elif isinstance(node, models.Step):
            yield from _step(file, name, node)
        elif isinstance(node, models.Question):
            yield from _answers(file, name, node)


READING_UNSAID = Demand(
    "reading-unsaid",
    "a sentence that names the tester's act and everything in `on`: crews go by the sentence",
    "name it in the sentence, or correct `instrument` or `on`",
)
READING_SAYS_ELSE = Demand(
    "reading-says-else",
    "nothing but this reading's own tester and what it is held to: crews go by the sentence",
    "take it out of the sentence, into `help` where it is wanted, or correct `instrument` or `on`",
)


def _reading(file: TreeFile, name: str, node: models.Reading) -> Iterator[Finding]:
    path = ("nodes", name, "reading")
    at, words = file.place(*path), Prose.plain(node.reading)
    testers, places = _named(TESTERS, words), _named(PLACES, words)
    held_to = CLAMPED if node.instrument == "clamp" else TOUCHED
    for tester in sorted(testers - {node.instrument}):
        what = f"{shown(name)} is read with the {node.instrument}, and its sentence tells of the {tester}"
        yield READING_SAYS_ELSE.found(at, f"{what} ({_or(TESTERS[tester])})", told(path))
    for other in sorted(places & set(held_to) - set(node.on)):
        what = f"{shown(other)} is not in `on`, and the sentence tells of {place(other)}"
        yield READING_SAYS_ELSE.found(at, f"{what} ({_or(PLACES[other])})", told(path))
    if node.same_as:
        return
    accepted = TESTERS[node.instrument]
    if node.instrument == "voltmeter" and not testers:
        accepted += _MEASURE
    if not _said(accepted, words):
        yield READING_UNSAID.found(
            at,
            f"{shown(node.instrument)} is not told in the sentence",
            told(path),
            f"{_or(accepted)} in it: crews go by the sentence",
        )
    for held in node.on:
        if held in PLACES and held not in places:
            yield READING_UNSAID.found(
                at,
                f"{shown(held)} in `on` is not told in the sentence",
                told(path),
                f"{_or(PLACES[held])} in it: crews go by the sentence",
            )
    if node.instrument == "clamp" and len(node.on) > 1 and not _said(_TOGETHER, words):
        yield READING_UNSAID.found(
            at,
            f"{len(node.on)} conductors are in one jaw, and the sentence does not tell so",
            told(path),
            f"{_or(_TOGETHER)} in it: one after the other shows something else",
        )


_MEASURE = ("measure",)
_TOGETHER = ("together", "one jaw", "same jaw")


ACTION_UNSAID = Demand(
    "action-unsaid",
    "a verb for each action in `does`: the walks do it, and crews do what the words say",
    "say it in `step` (in `help`, where the step does several things), or correct `does`",
)
OPPOSITE_SAID = Demand(
    "opposite-said",
    "no verb that undoes what the step does: crews do what the words say",
    "correct the verb, or `does`; what is not to be done now goes into `help`",
)


def _step(file: TreeFile, name: str, node: models.Step) -> Iterator[Finding]:
    path = ("nodes", name, "step")
    at, words = file.place(*path), Prose.plain(node.step)
    in_all = f"{words} {Prose.plain(node.help)}" if len(node.does) > 1 else words
    for action in node.does:
        if not _said(DEEDS[action], in_all):
            yield ACTION_UNSAID.found(
                at,
                f"{shown(action)} is done, and the words do not tell it",
                told(path),
                f"{_or(DEEDS[action])}: crews do what the words say",
            )
        opposite = UNDONE_BY[action]
        if opposite not in node.does and _said(DEEDS[opposite], words):
            yield OPPOSITE_SAID.found(
                at,
                f"{shown(action)} is done, and the words tell {opposite} ({_or(DEEDS[opposite])})",
                told(path),
            )


ANSWER_SAYS_ELSE = Demand(
    "answer-says-else",
    "words that stand for what `is` says: who picks them is led as if that were so",
    "correct the words or `is`, or ask so that the answer is what `is` says",
)


def _answers(file: TreeFile, name: str, node: models.Question) -> Iterator[Finding]:
    about = node.fact or node.caller
    own = {answer.is_ for answer in node.answers}
    known = {is_: words for is_, words in ANSWERS.get(about or "", {}).items() if is_ in own}
    for i, answer in enumerate(node.answers):
        if not about or answer.is_ is None:
            continue
        words = Prose.plain(answer.answer)
        says = _yes_or_no(words) if own & {"yes", "no"} else set()
        says = says or _named(known, words)
        if says and answer.is_ not in says:
            path = ("nodes", name, "answers", i, "answer")
            yield ANSWER_SAYS_ELSE.found(
                file.place(*path),
                f"{shown(answer.answer)} says {joined(sorted(says))}, and `is` says {answer.is_}",
                told(path),
            )


DONE_IN_DANGER = Demand(
    "done-in-danger",
    "that nobody does this: in danger a crew leaves everything as it is",
    "write `do not` or `nobody` before it (`nothing` after it), or tell what happens without an order",
)


def _told_in_danger(settings: models.Settings) -> Iterator[tuple[Keys, str]]:
    now = settings.danger_now.get("site", ())
    yield from ((("danger_now", "site", i), text) for i, text in enumerate(now))
    for id_, danger in settings.dangers.items():
        yield from ((("dangers", id_, "do", i), text) for i, text in enumerate(danger.do))


def _told_in_emergency(file: TreeFile) -> Iterator[tuple[Keys, str]]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Outcome) and node.priority == "emergency":
            yield from ((("nodes", name, "advice", i), text) for i, text in enumerate(node.advice))


def _at_once(source: Source, said: Iterable[tuple[Keys, str]]) -> Iterator[Finding]:
    for keys, text in said:
        for act in acts_asked(_NOTHING_DONE.sub("", Prose.plain(text)), _LEFT_ALONE):
            what = f"a crew in danger could take this as being told to {act}"
            yield DONE_IN_DANGER.found(source.place(keys), what, told(keys))


_ACTS = r"(?:touch|disconnect|lift|join|tighten|reset|(?<!anybody )go(?:es)? near)"
_LEFT_ALONE = re.compile(rf"\b{_ACTS}\b", re.IGNORECASE)
_NOTHING_DONE = re.compile(rf"\b{_ACTS}\b(?: \w+){{0,2}} (?:nothing|neither|no)\b", re.IGNORECASE)
"""`Touch nothing`, `disconnect and reset nothing`."""

_YES_NO = (
    ("yes", re.compile(r"(yes|(it|there|they) (is|are|does|do|did|was|were))", re.IGNORECASE)),
    (
        "no",
        re.compile(r"(no|(it|there|they) ((is|are|does|do|did|was|were) (not|none)|\w+n't))", re.IGNORECASE),
    ),
)


def _yes_or_no(words: str) -> set[str]:
    """`yes` or `no` where an answer begins with it and a stop, or comes to the same (`It is not`)."""
    begins = re.split(r"[,;.]", words)[0].strip()
    return {word for word, pattern in _YES_NO if pattern.fullmatch(begins)}


def _named(known: Mapping[str, Iterable[str]], words: str) -> set[str]:
    """Which of these are named; of names that begin at one place the longest counts."""
    of = {phrase.casefold(): name for name, phrases in known.items() for phrase in phrases}
    return {of[found.casefold()] for found in _any_of(tuple(of)).findall(words)} if of else set()


def _said(phrases: Sequence[str], words: str) -> bool:
    """Whether one of these is said, and not forbidden."""
    return _any_of(tuple(phrases)).search(words) is not None


@cache
def _any_of(phrases: tuple[str, ...]) -> re.Pattern[str]:
    """Any of these as whole words, the longest first; not one that comes after `not` or `never`."""
    ways = "|".join(_pattern(phrase) for phrase in sorted(phrases, key=len, reverse=True))
    return re.compile(rf"(?<!\bnot )(?<!\bnever )(?<![\w-])(?:{ways})(?![\w-])", re.IGNORECASE)


_BETWEEN = r"(?:(?!(?:on|off|back)\b)[^\s.;:]+ )*?"


def _pattern(phrase: str) -> str:
    made = ""
    for word in phrase.split():
        made += _BETWEEN if word == "..." else f"(?:{'|'.join(map(re.escape, word.split('/')))}),? "
    return made.removesuffix(",? ")


def _or(phrases: Iterable[str]) -> str:
    return joined([f"`{phrase}`" for phrase in phrases], "or")
