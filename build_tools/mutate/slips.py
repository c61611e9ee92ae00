"""What can go wrong when somebody edits a guide: every place where each kind of slip could be made.

A mutant is the text of one file with one slip in it. No line is added or taken away, so that every other
place in the file stays what it was.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import TypeAlias

from build_tools.guide import models
from build_tools.guide.findings import Place
from build_tools.guide.source import Source
from build_tools.guide.trees import Guide, TreeFile, ways

__all__ = ["KINDS", "Mutant", "mutants"]

Keys: TypeAlias = "tuple[str | int, ...]"
Edit = tuple[int, int, str]

UP, DOWN, SLIP = 1.25, 0.8, 1000.0
"""Factors by which an edge is moved, and the slip of a unit (A for mA, kW for W, m for km)."""

_VALUE = re.compile(r"'(?:[^']|'')*'|\"(?:[^\"\\]|\\.)*\"|[^,\[\]{}\n]+")


@dataclass(frozen=True, slots=True)
class Mutant:
    """One slip: `what` was done at `place`, in the node (rule, home) `node`. `edits` are the texts to put
    in, each with the first and the last-but-one character that it replaces."""

    kind: str
    file: str
    node: str
    line: int
    what: str
    edits: tuple[Edit, ...]

    def applied_to(self, text: str) -> str:
        """The text of the file with the slip in it."""
        for start, end, new in sorted(self.edits, reverse=True):
            text = text[:start] + new + text[end:]
        return text

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.kind}: {self.node}: {self.what}"


@dataclass(frozen=True)
class _File:
    """One file as it is: its text, and where each value of it stands in the text."""

    name: str
    text: str
    source: Source

    def at(self, place: Place) -> int:
        """The position in the text of a place in this file."""
        start = 0
        for _ in range(place.line - 1):
            start = self.text.index("\n", start) + 1
        return start + place.column - 1

    def span(self, path: Keys) -> tuple[int, int]:
        """Where the scalar at `path` stands."""
        start = self.at(self.source.place(path))
        found = _VALUE.match(self.text, start)
        assert found, path
        return start, start + len(found[0].rstrip())

    def put(self, path: Keys, new: str) -> Edit:
        """A scalar replaced."""
        return (*self.span(path), new)

    def say(self, path: Keys, new: str) -> Edit | None:
        """The words at `path` replaced, where they stand on one line as they are read."""
        start, old = self.at(self.source.place(path)), str(self.source.value(path))
        quote = self.text[start] if self.text[start] in "'\"" else ""
        end = start + len(f"{quote}{old}{quote}")
        as_read = self.text[start:end] == f"{quote}{old}{quote}"
        return (start, end, json.dumps(new, ensure_ascii=False)) if as_read else None

    def cut_lines(self, first: Place, after: Place | None) -> Edit:
        """Everything from one key up to the next one gone, its lines left empty."""
        start = self.text.rfind("\n", 0, self.at(first)) + 1
        end = self.text.rfind("\n", 0, self.at(after)) + 1 if after else len(self.text)
        return start, end, "\n" * self.text.count("\n", start, end)

    def mutant(self, kind: str, node: str, place: Place, what: str, *edits: Edit) -> Mutant:
        return Mutant(kind, self.name, node, place.line, what, edits)


def mutants(guide: Guide) -> tuple[Mutant, ...]:
    """Every mutant of the guide, in order of file, line and kind."""
    made: list[Mutant] = []
    for file in guide.tree_files.values():
        name = next(name for name, source in guide.files.items() if source is file.source)
        text = _File(name, (guide.folder / name).read_text("utf-8"), file.source)
        made += (mutant for damage in _TREE_DAMAGES for mutant in damage(text, file))
    for name, source in guide.files.items():
        text = _File(name, (guide.folder / name).read_text("utf-8"), source)
        if name == "rules.yaml":
            made += _rules(text, guide)
        elif name == "guide.yaml":
            made += [*_cautions(text, "the guide"), *_in_danger(text)]
        elif name.startswith("streets/"):
            made += _streets(text)
    return tuple(sorted(made, key=lambda m: (m.file, m.line, m.kind, m.what)))


def _calls_for(text: _File, file: TreeFile, old: str, new: str, *, but: str = "") -> Iterator[Edit]:
    """Whoever leads to `old` (the node `but` aside) leads to `new` instead."""
    if file.spec.start == old:
        yield text.put(("start",), new)
    for name, node in file.spec.nodes.items():
        for path, go in ways(node):
            if go == old and name != but:
                yield text.put(("nodes", name, *path), new)
    for i, loop in enumerate(file.spec.loops):
        if loop.through == old and not but:
            yield text.put(("loops", i, "through"), new)


def _onward(file: TreeFile, name: str) -> str | None:
    """Where a node leads on as it does when all is well: its way, no end and not itself, to the calmest end;
    the first of several."""
    goes = [go for _, go in ways(file.spec.nodes[name]) if go != name]
    on = [go for go in goes if not isinstance(file.spec.nodes[go], models.Outcome)]
    return max(on, key=lambda go: _calmest(file, go), default=None)


def _calmest(file: TreeFile, name: str) -> int:
    """How calm the calmest end is that a node of a file can lead to, by its place in `shapes.PRIORITIES`."""
    seen, waiting = {name}, [name]
    while waiting:
        for _, go in ways(file.spec.nodes[waiting.pop()]):
            if go not in seen:
                seen.add(go)
                waiting.append(go)
    ends = (node for one in seen if isinstance(node := file.spec.nodes[one], models.Outcome))
    return max((models.PRIORITIES.index(end.priority) for end in ends), default=0)


def _deleted(text: _File, file: TreeFile) -> Iterator[Mutant]:
    names = list(file.spec.nodes)
    for name, after in pairwise([*names, ""]):
        goes = [go for _, go in ways(file.spec.nodes[name]) if go != name]
        if goes:
            to = _onward(file, name) or max(goes, key=lambda go: _calmest(file, go))
            place = file.place("nodes", name, key=True)
            end = file.place("nodes", after, key=True) if after else None
            if end is None and file.spec.loops:
                end = file.place("loops", key=True)
            cut = text.cut_lines(place, end)
            calls = [one for one in _calls_for(text, file, name, to) if not cut[0] <= one[0] < cut[1]]
            yield text.mutant("node-deleted", name, place, f"deleted; its callers go to {to}", cut, *calls)


def _swapped(kind: str, key: str, label: str, shape: type) -> Callable[[_File, TreeFile], Iterator[Mutant]]:
    """Two neighbours of a list lead where the other did."""

    def damage(text: _File, file: TreeFile) -> Iterator[Mutant]:
        for name, node in file.spec.nodes.items():
            for i, (a, b) in enumerate(pairwise(getattr(node, key))) if isinstance(node, shape) else ():
                if a.go != b.go:
                    path = ("nodes", name, key)
                    what = f"`{getattr(a, label)}` goes to {b.go}, `{getattr(b, label)}` to {a.go}"
                    edits = (text.put((*path, i, "go"), b.go), text.put((*path, i + 1, "go"), a.go))
                    yield text.mutant(kind, name, file.place(*path, i), what, *edits)

    return damage


def _readings(file: TreeFile) -> Iterator[tuple[str, models.Reading]]:
    nodes = file.spec.nodes.items()
    yield from ((name, node) for name, node in nodes if isinstance(node, models.Reading))


def _edges(text: _File, file: TreeFile) -> Iterator[Mutant]:
    moves = (("edge-up", UP), ("edge-down", DOWN), ("edge-slip", SLIP), ("edge-slip", 1 / SLIP))
    for name, node in _readings(file):
        for i, one in enumerate(node.ranges):
            if one.high is None:
                continue
            path = ("nodes", name, "ranges")
            for kind, factor in moves:
                new = f"{one.high * factor:g}"
                edits = [text.put((*path, i, "to"), new)]
                edits += (
                    text.put((*path, j, "from"), new)
                    for j, above in enumerate(node.ranges)
                    if above.low == one.high
                )
                what = f"the edge {one.high:g} {node.unit} is {new}"
                yield text.mutant(kind, name, file.place(*path, i, "to"), what, *edits)


def _units(text: _File, file: TreeFile) -> Iterator[Mutant]:
    for name, node in _readings(file):
        path = ("nodes", name, "unit")
        new = f"m{node.unit}"
        yield text.mutant("unit-slip", name, file.place(*path), f"unit: {new}", text.put(path, new))


def _dropped(kind: str, key: str) -> Callable[[_File, TreeFile], Iterator[Mutant]]:
    """One entry of a step's list is gone."""

    def damage(text: _File, file: TreeFile) -> Iterator[Mutant]:
        for name, node in file.spec.nodes.items():
            entries = getattr(node, key) if isinstance(node, models.Step) else ()
            for entry in entries:
                path = ("nodes", name, key)
                start = text.at(file.place(*path))
                end = text.text.index("]", start) + 1
                left = f"[{', '.join(one for one in entries if one != entry)}]"
                yield text.mutant(kind, name, file.place(*path), f"{entry} dropped", (start, end, left))

    return damage


def _outcomes(text: _File, file: TreeFile) -> Iterator[Mutant]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Outcome):
            path = ("nodes", name, "priority")
            place = file.place(*path)
            if node.priority == "emergency":
                what = "priority: routine"
                yield text.mutant("emergency-routine", name, place, what, text.put(path, "routine"))
            if not node.closes:
                start, end, _ = text.put(path, "")
                indent = " " * (file.place(*path, key=True).column - 1)
                new = f"{node.priority}\n{indent}closes: true"
                yield text.mutant("outcome-closes", name, place, "closes: true", (start, end, new))


def _reversed(text: _File, file: TreeFile) -> Iterator[Mutant]:
    """A, then B becomes B, then A: whoever led to A leads to B, B leads to A, and A where B led on."""
    nodes = file.spec.nodes
    for a, b in dict.fromkeys((name, go) for name in nodes for _, go in ways(nodes[name])):
        passed = (models.Question, models.Reading, models.Step)
        if a == b or not isinstance(nodes[a], passed) or not isinstance(nodes[b], passed):
            continue
        if models.Step not in (type(nodes[a]), type(nodes[b])) or (c := _onward(file, b)) in (None, a):
            continue
        edits = [*_calls_for(text, file, a, b, but=b)]
        edits += (text.put(("nodes", a, *path), c) for path, go in ways(nodes[a]) if go == b)
        edits += (text.put(("nodes", b, *path), a) for path, go in ways(nodes[b]) if go == c)
        what = f"{b} comes before it"
        yield text.mutant("steps-reversed", a, file.place("nodes", a, key=True), what, *edits)


def _leads_on(text: _File, file: TreeFile) -> Iterator[Mutant]:
    """A reading without a figure goes on as a good one does."""
    for name, node in file.spec.nodes.items():
        on = _onward(file, name) if isinstance(node, models.Reading) else None
        for key in ("not_taken", "over_range", "not_steady"):
            way = getattr(node, key, None)
            if on and way and way.go != on:
                path = ("nodes", name, key, "go")
                yield text.mutant(
                    "no-figure-leads-on", name, file.place(*path), f"{key} goes to {on}", text.put(path, on)
                )


def _next_door(text: _File, file: TreeFile) -> Iterator[Mutant]:
    """The answer that leads next door leads where the other answer does."""
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Question) and node.fact == "another-home-to-test":
            yes, no = (
                next(i for i, one in enumerate(node.answers) if one.is_ == word) for word in ("yes", "no")
            )
            path, to = ("nodes", name, "answers", yes, "go"), node.answers[no].go
            yield text.mutant(
                "next-door-dropped", name, file.place(*path), f"yes goes to {to}", text.put(path, to)
            )


def _said_of_another(text: _File, file: TreeFile) -> Iterator[Mutant]:
    """The sentences of two readings that are not taken with the same tester at the same points, swapped."""
    for (a, one), (b, other) in combinations(_readings(file), 2):
        if (one.instrument, {*one.on}) != (other.instrument, {*other.on}):
            what = f"it says what {b} does, and {b} what it does"
            yield from _swapped_words(
                text, file, "readings-swapped", a, ("nodes", a, "reading"), ("nodes", b, "reading"), what
            )


def _relabelled(text: _File, file: TreeFile) -> Iterator[Mutant]:
    """The words of two answers swapped that stand for different words of what is asked."""
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Question) and (node.fact or node.caller):
            said = [(i, answer.is_) for i, answer in enumerate(node.answers) if answer.is_]
            for (i, one), (j, other) in combinations(said, 2):
                if one != other:
                    a, b = (("nodes", name, "answers", at, "answer") for at in (i, j))
                    what = f"the words for {one} and {other} swapped"
                    yield from _swapped_words(text, file, "answers-relabelled", name, a, b, what)


def _swapped_words(
    text: _File, file: TreeFile, kind: str, node: str, a: Keys, b: Keys, what: str
) -> Iterator[Mutant]:
    edits = (text.say(a, str(text.source.value(b))), text.say(b, str(text.source.value(a))))
    if edits[0] and edits[1]:
        yield text.mutant(kind, node, file.place(*a), what, edits[0], edits[1])


_OPPOSITES = (
    ("main-earth", re.compile(r"\b(disconnect|lift)\b", re.IGNORECASE), "connect"),
    ("main-earth", re.compile(r"\b(connect)\b", re.IGNORECASE), "disconnect"),
    ("switch", re.compile(r"\bswitch\b[^.]*?\b(on)\b", re.IGNORECASE), "off"),
    ("switch", re.compile(r"\bswitch\b[^.]*?\b(off)\b", re.IGNORECASE), "on"),
    ("quiet", re.compile(r"\bleave\b[^.]*?\b(off)\b", re.IGNORECASE), "on"),
    ("come-back", re.compile(r"\bgo (back to)\b", re.IGNORECASE), "on to"),
)
"""What a step does (a part of the action's name), the word that tells it, and what stands there instead."""


def _opposite(text: _File, file: TreeFile) -> Iterator[Mutant]:
    """The verb of what a step does turned into its opposite."""
    steps = [(name, node) for name, node in file.spec.nodes.items() if isinstance(node, models.Step)]
    for name, node in steps:
        path = ("nodes", name, "step")
        words = str(text.source.value(path))
        for action, verb, opposite in _OPPOSITES:
            if action in " ".join(node.does) and (found := verb.search(words)):
                start, end = found.span(1)
                if edit := text.say(path, f"{words[:start]}{opposite}{words[end:]}"):
                    what = f"{opposite} for {words[start:end]}"
                    yield text.mutant("opposite-verb", name, file.place(*path), what, edit)


_DENIALS = (
    (re.compile(r"\b(?:do|must) not (?=(?:touch|join|go near)\b)", re.IGNORECASE), ""),
    (re.compile(r"\bnobody (?=goes near\b)|\bnobody is to (?=touch\b|join\b)", re.IGNORECASE), ""),
    (re.compile(r"(?<=touch )nothing\b|(?<=disconnect )nothing\b|(?<=reset )nothing\b", re.IGNORECASE), "it"),
)
"""What denies an order, and what stands there when it is lost."""


def _denial_lost(text: _File, paths: Iterator[Keys], node: str) -> Iterator[Mutant]:
    """An order that is denied becomes one: a `not` left out."""
    for path in paths:
        words = str(text.source.value(path))
        for denial, left in _DENIALS:
            for found in denial.finditer(words):
                edit = text.say(path, f"{words[: found.start()]}{left}{words[found.end() :]}")
                if edit:
                    what = f"without `{found[0].strip()}`: {words[found.end() :][:40]}"
                    yield text.mutant("denial-lost", node, text.source.place(path), what, edit)


def _in_emergency(text: _File, file: TreeFile) -> Iterator[Mutant]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Outcome) and node.priority == "emergency":
            for key, said in (("say", node.say), ("advice", node.advice)):
                yield from _denial_lost(text, (("nodes", name, key, i) for i in range(len(said))), name)


def _in_danger(text: _File) -> Iterator[Mutant]:
    said = (keys for keys, _ in _scalars(text.source.data) if {"danger_now", "say", "do"} & {*keys})
    yield from _denial_lost(text, said, "the guide")


def _tree_cautions(text: _File, file: TreeFile) -> Iterator[Mutant]:
    yield from _cautions(text, "the tree")


def _cautions(text: _File, whose: str) -> Iterator[Mutant]:
    written = text.source.value(("cautions",))
    cautions = written if isinstance(written, list) else []
    for i in range(len(cautions)):
        place = text.source.place(("cautions", i))
        start = text.text.rfind("\n", 0, text.at(place)) + 1
        end = text.text.index("\n", start)
        edits = [(start, end, "")]
        if len(cautions) == 1:
            key = text.at(text.source.place(("cautions",), key=True))
            edits.append((key, key + len("cautions:"), "cautions: []"))
        what = f"{text.text[start:end].strip()[:50]}..."
        yield text.mutant("caution-removed", whose, place, what, *edits)


_TREE_DAMAGES: tuple[Callable[[_File, TreeFile], Iterator[Mutant]], ...] = (
    _deleted,
    _swapped("answers-swapped", "answers", "answer", models.Question),
    _swapped("ranges-swapped", "ranges", "label", models.Reading),
    _edges,
    _units,
    _dropped("hazard-dropped", "hazards"),
    _dropped("action-dropped", "does"),
    _outcomes,
    _reversed,
    _leads_on,
    _next_door,
    _said_of_another,
    _opposite,
    _relabelled,
    _in_emergency,
    _tree_cautions,
)


def _rules(text: _File, guide: Guide) -> Iterator[Mutant]:
    source = text.source
    for i, rule in enumerate(guide.rules):
        place = source.place((i,))
        cut = text.cut_lines(place, source.place((i + 1,)) if i + 1 < len(guide.rules) else None)
        yield text.mutant("rule-removed", rule.id, place, "removed", cut)
        for key in ("needs_earlier", "never_after"):
            written = source.value((i, key))
            for j in range(len(written)) if isinstance(written, list) and len(written) > 1 else ():
                start = text.at(source.place((i, key, j)))
                line = text.text.rfind("\n", 0, start) + 1
                edit = (line, text.text.index("\n", start), "")
                part = text.text[start : edit[1]]
                yield text.mutant(
                    "rule-part-removed", rule.id, source.place((i, key, j)), f"{key}: {part}", edit
                )
        for keys in _bounds(source.value((i,)), (i,)):
            old = source.value(keys)
            new = f"{float(str(old)) * (SLIP if keys[-1] == 'below' else 1 / SLIP):g}"
            yield text.mutant(
                "rule-slip", rule.id, source.place(keys), f"{keys[-1]}: {new}", text.put(keys, new)
            )


def _bounds(data: object, keys: Keys) -> Iterator[Keys]:
    """Every figure that a rule holds readings to."""
    if isinstance(data, dict):
        for key, inner in data.items():
            if key in ("below", "at_least"):
                yield (*keys, key)
            yield from _bounds(inner, (*keys, key))
    elif isinstance(data, list):
        for i, inner in enumerate(data):
            yield from _bounds(inner, (*keys, i))


def _streets(text: _File) -> Iterator[Mutant]:
    for keys, old in _scalars(text.source.data):
        names = [key for key in keys if isinstance(key, str)]
        home = names[1] if len(names) > 1 and names[0] == "premises" else names[0]
        for kind, new in _spoilt([key for key in keys if isinstance(key, str)], old):
            place = text.source.place(keys)
            yield text.mutant(kind, home, place, f"{names[-1]}: {new}", text.put(keys, new))


def _spoilt(names: list[str], old: str) -> Iterator[tuple[str, str]]:
    """The kind of slip and what then stands there, for one value of a street."""
    key = names[-1]
    if key in ("metres", "load_kw", "rating_kva", "volts") or key.endswith("ohm"):
        yield "street-below-zero", f"-{old}"
    if key in ("metres", "load_kw", "volts"):
        yield "street-slip", f"{float(old) * SLIP:g}"
    if key == "at":
        yield "street-no-junction", "J99"
    if key == "cable":
        yield "street-unknown-name", "cable-99"
    if key == "pipe":
        yield "street-unknown-name", "pipe-99"
    if key == "joins":
        yield "street-unknown-name", '"home 99"'
    if key == "phases":
        yield "street-unknown-name", "L9"


def _scalars(data: object, keys: Keys = ()) -> Iterator[tuple[Keys, str]]:
    if isinstance(data, str):
        yield keys, data
    elif isinstance(data, dict):
        for key, inner in data.items():
            yield from _scalars(inner, (*keys, key))
    elif isinstance(data, list):
        for i, inner in enumerate(data):
            yield from _scalars(inner, (*keys, i))


KINDS = (
    "node-deleted",
    "answers-swapped",
    "ranges-swapped",
    "edge-up",
    "edge-down",
    "edge-slip",
    "unit-slip",
    "hazard-dropped",
    "action-dropped",
    "emergency-routine",
    "outcome-closes",
    "steps-reversed",
    "no-figure-leads-on",
    "next-door-dropped",
    "readings-swapped",
    "opposite-verb",
    "answers-relabelled",
    "denial-lost",
    "caution-removed",
    "rule-removed",
    "rule-part-removed",
    "rule-slip",
    "street-below-zero",
    "street-slip",
    "street-no-junction",
    "street-unknown-name",
)
"""Every kind of damage, in the order of the report."""
