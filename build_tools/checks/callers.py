"""Callers are never asked to touch, open or measure, and hear words that are easy to take in.

A tree of the `call` audience has no reading, no step with a hazard and none that the street feels. What it
says tells nobody to touch, open, measure, unscrew, remove, lift, join or switch anything, nor to go near,
unless it says not to, or that the crew will. The words said to callers reach the reading ease that
`guide.yaml` asks for. Where a question says what a simulated `caller` answers it by, each word has an answer;
only call trees say so. A `matter` is one of two questions at least.

There is one exception, for a danger in `guide.yaml` with `may_switch_off`: to free somebody who is held, or
to stop what feeds a fire, a caller may be told to switch off or to pull a plug, and to push clear who is
held. The same sentence then says that it is done from a dry place, with a dry thing; and something else is
said first: that nobody touches who is held, that everybody gets out of a fire.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Literal

from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, Place, few, nearest, shown
from build_tools.guide.reading_ease import flesch
from build_tools.guide.source import Source
from build_tools.guide.trees import Guide, Tree, TreeFile
from build_tools.guide.validation import told
from calc.symptoms import CALLERS

__all__ = ["acts_asked", "check", "words_said"]

Keys = tuple[str | int, ...]
_Why = Literal["to-free", "to-stop-fire"]

_ACTS = (
    "touch|open|measure|unscrew|undo|remove|lift|disconnect|loosen|dismantle|probe|tighten|reset"
    r"|(?<!no )join|(?<!anybody )go(?:es)?\s+near|go\s+back\s+in|walk\s+round"
)
_GOING_ON = "touching|opening|measuring|unscrewing|undoing|removing|lifting|disconnecting|loosening"
_OFF = (
    r"(?:switch|turn|flick|flip)\s+(?:(?!is\b|was\b)\w+\s+){0,4}?off"
    r"|unplug|pull\s+(?:\w+\s+){0,3}?plugs?(?:\s+out)?"
)
_PUSH = r"push\s+(?:\w+\s+){0,4}?(?:clear|away|off)"
_ACT = re.compile(
    rf"\b(?:{_OFF}|{_PUSH}|{_ACTS}|(?:take|pull|prise)\s+(?:\w+\s+){{0,4}}?(?:off|out)"
    rf"|(?:switch|turn|flick|flip)\s+(?:\w+\s+){{0,4}}?on|(?:try|start|by)\s+(?:{_GOING_ON}))\b",
    re.IGNORECASE,
)
_EXCEPTED = {
    "to-free": re.compile(f"(?:{_OFF}|{_PUSH})", re.IGNORECASE),
    "to-stop-fire": re.compile(f"(?:{_OFF})", re.IGNORECASE),
}
"""What `may_switch_off` excepts, and no more: nothing is ever switched on, opened or taken hold of."""
_SAID_FIRST = {
    "to-free": (
        re.compile(r"\b(?:not|never|nobody)\b[^.!?]*\btouch\b", re.IGNORECASE),
        "not to touch who is held",
    ),
    "to-stop-fire": (re.compile(r"\bout\b", re.IGNORECASE), "to get out"),
}
_DRY = re.compile(r"\bdry\b", re.IGNORECASE)
_NO_ACT_OF_THE_CALLER = re.compile(
    r"\bin touch\b"
    r"|\b(?:is|are|was|were|be|leave|keep|left|stay|stays)\s+"  # leave the doors open
    r"(?:(?!to\b|and\b|you\b|please\b)\w+\s+){0,3}?open\b"
    r"|\bopen\b(?=\s+(?:\w+\s+)?(?:windows?|doors?|curtains?)\b)"
    r"|\b(?:we|they|crews?|engineers?|operatives?|team|staff)"
    r"(?:['’]ll|\s+(?:will|may|must(?! not)|can|need|has|have))\b"
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
            yield from few(_asked_once(file), file.place())
            yield from few(_what_callers_are_told(file), file.place())
            if guide.settings:
                said, at_least = list(words_said(file.spec)), guide.settings.reading_ease.at_least
                yield from _hard_to_take_in(file.source, said, at_least, "said in this tree")


def _told_in_danger(guide: Guide, settings: models.Settings) -> Iterator[Finding]:
    file, said = guide.files["guide.yaml"], list(_said_in_danger(settings))
    for keys, text in said:
        danger = settings.dangers[str(keys[1])] if keys[0] == "dangers" else None
        for act in acts_asked(text):
            if not (danger and danger.may_switch_off and _EXCEPTED[danger.may_switch_off].fullmatch(act)):
                yield _at_risk(file.place(keys), keys, act)
    for id_, danger in settings.dangers.items():
        if danger.may_switch_off:
            yield from _freed_unsafely(file, id_, danger, danger.may_switch_off)
    if said:
        yield from _hard_to_take_in(file, said, settings.reading_ease.at_least, "said in danger")


def _said_in_danger(settings: models.Settings) -> Iterator[tuple[Keys, str]]:
    """What is said to callers of what to do at once, and at the beginning of every call."""
    yield from ((("opening", i), text) for i, text in enumerate(settings.opening))
    yield from (
        (("danger_now", "call", i), text) for i, text in enumerate(settings.danger_now.get("call", ()))
    )
    for id_, danger in settings.dangers.items():
        yield from ((("dangers", id_, "say", i), text) for i, text in enumerate(danger.say))


FREED_UNSAFELY = Demand(
    "freed-unsafely",
    "what keeps the caller safe said first; then, only from a dry place, what `may_switch_off` excepts",
    "say that in an entry above, and in the same entry that it is reached, or done, dry",
)


def _freed_unsafely(file: Source, id_: str, danger: models.Danger, why: _Why) -> Iterator[Finding]:
    """Switching and pushing that a danger excepts: only from a dry place, and never the first thing said."""
    first, to_say = _SAID_FIRST[why]
    is_said = False
    for i, text in enumerate(danger.say):
        keys: Keys = ("dangers", id_, "say", i)
        acts = [act for act in acts_asked(text) if _EXCEPTED[why].fullmatch(act)]
        for act in acts:
            if not is_said:
                what, mend = (
                    f"a caller is told to {act} before being told {to_say}",
                    "say that in an entry above",
                )
            elif not _DRY.search(text):
                what = f"a caller is told to {act}, and not that it is done from a dry place"
                mend = "say in the same entry that it is reached, or done, dry"
            else:
                continue
            expected = f"first {to_say}; then, only from a dry place, what `may_switch_off` excepts"
            yield FREED_UNSAFELY.found(file.place(keys), what, told(keys), expected, mend)
        is_said = is_said or first.search(text) is not None


def _what_callers_do(file: TreeFile) -> Iterator[Finding]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Reading):
            yield _asks_too_much(file, ("nodes", name, "reading"), "a reading is asked for on the telephone")
        elif isinstance(node, models.Step):
            for key in ("hazards", "does"):
                if getattr(node, key):
                    what = f"a step on the telephone has `{key}`"
                    yield _asks_too_much(file, ("nodes", name, key), what)


CALLER_AT_RISK = Demand(
    "caller-at-risk",
    "nothing that a caller would have to touch, open or measure: that is for the crew",
    "ask what the caller can see, hear, smell or remember, or send a crew",
)


def _asks_too_much(file: TreeFile, keys: Keys, what: str) -> Finding:
    return CALLER_AT_RISK.found(file.place(*keys, key=True), what, told(keys))


CALLER_UNHEARD = Demand(
    "caller-unheard",
    "in a call tree that a promise speaks of, `caller` on every question and an answer with `is` for each "
    "word that a caller can say; in a site tree no `caller`",
    "write `caller:` on the question and `is:` on its answers; in a site tree take it out",
)


def _what_callers_know(file: TreeFile) -> Iterator[Finding]:
    for name, node in file.spec.nodes.items():
        if not isinstance(node, models.Question) or node.caller is None:
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
        yield CALLER_UNHEARD.found(file.place(*keys), what, told(keys), expected, mend)


ASKED_ONCE = Demand(
    "asked-once",
    "another question of the tree about the same `matter`: a caller's mistakes are shared by its name",
    "correct the name, or take `matter` out",
)


def _asked_once(file: TreeFile) -> Iterator[Finding]:
    """Matters of one question alone: a slip in the name would draw its mistakes apart from the others'."""
    asked = {name: node for name, node in file.spec.nodes.items() if isinstance(node, models.Question)}
    about = Counter(node.matter or node.caller for node in asked.values())
    for name, node in asked.items():
        if node.matter and about[node.matter] == 1:
            keys = ("nodes", name, "matter")
            known = {each for each in about if each and each != node.matter}
            what = f"nothing else is asked about {shown(node.matter)}{nearest(node.matter, known)}"
            yield ASKED_ONCE.found(file.place(*keys), what, told(keys))


def _what_callers_are_told(file: TreeFile) -> Iterator[Finding]:
    for keys, text in _instructions(file.spec):
        for act in acts_asked(text):
            yield _at_risk(file.place(*keys), keys, act)


def _at_risk(place: Place, keys: Keys, act: str) -> Finding:
    return CALLER_AT_RISK.found(
        place,
        f"a caller could take this as being told to {act}",
        told(keys),
        "nothing to touch, open or measure: callers have no training and no instruments",
        f"say what not to do (`do not {act} ...`), or leave it to the crew",
    )


def _instructions(tree: models.Tree) -> Iterator[tuple[Keys, str]]:
    """What is said, and what may be passed on."""
    yield from words_said(tree)
    for name, node in tree.nodes.items():
        if isinstance(node, models.Step):
            yield ("nodes", name, "step"), node.step
        elif isinstance(node, models.Outcome):
            yield from ((("nodes", name, "advice", i), text) for i, text in enumerate(node.advice))
            if node.next:
                yield ("nodes", name, "next"), node.next


def words_said(tree: models.Tree) -> Iterator[tuple[Keys, str]]:
    """The words said to callers: questions, and what an outcome has to say."""
    for name, node in tree.nodes.items():
        if isinstance(node, models.Question):
            yield ("nodes", name, "question"), node.question
        elif isinstance(node, models.Outcome):
            yield from ((("nodes", name, "say", i), text) for i, text in enumerate(node.say))


def acts_asked(text: str, acts: re.Pattern[str] = _ACT) -> Iterator[str]:
    """The acts that a text may ask for: plain forms of the verbs, unless forbidden earlier in their clause.

    What forbids (`do not`, `never`) reaches to the end of its clause, and over a comma only in a list of
    acts: `do not touch, open or lift it`.
    """
    for sentence in _SENTENCE.findall(_NO_ACT_OF_THE_CALLER.sub(lambda match: "-" * len(match[0]), text)):
        in_list = False
        for clause in _CLAUSE_END.split(sentence):
            forbidden, rest = False, clause
            for act in acts.finditer(clause):
                before, rest = clause[: act.start()], clause[act.end() :]
                starts_there = in_list and not before.strip()
                forbidden = forbidden or starts_there or _FORBIDDEN.search(before) is not None
                if not forbidden:
                    yield act[0].casefold()
            in_list = forbidden and not rest.strip()


HARD_TO_TAKE_IN = Demand(
    "hard-to-take-in",
    "the reading ease of guide.yaml or more, over all the words that are said together (Flesch): "
    "a frightened caller hears it once",
    "use shorter words and sentences",
)


def _hard_to_take_in(
    file: Source, said: Sequence[tuple[Keys, str]], at_least: float, where: str
) -> Iterator[Finding]:
    ease = flesch(text for _, text in said)
    if ease < at_least:
        keys, hardest = min(said, key=lambda entry: flesch([entry[1]]))
        yield HARD_TO_TAKE_IN.found(
            file.place(keys),
            f"the words {where} have a reading ease of {ease:.0f}; these are the hardest",
            told(keys),
            f"{at_least:g} or more over all of them (Flesch): a frightened caller hears it once",
            f"use shorter words and sentences; this one alone has {flesch([hardest]):.0f}",
        )
