"""What people act on in danger, text by text, and who stands behind the words.

Each text is held against `signed.yaml` by a mark of its words: whoever changes one has to have it read again.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import yaml

from build_tools.guide import models
from build_tools.guide.trees import Guide

__all__ = ["Signed", "Text", "as_yaml", "renewed", "signed_by", "texts", "unsigned"]

Keys = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Text:
    """One text that has to be signed: its file in the guide, the keys that lead there, and what it says."""

    file: str
    keys: Keys
    says: tuple[str, ...]

    @property
    def place(self) -> str:
        """Where it stands in its file, as signed.yaml names it."""
        return ".".join(map(str, self.keys))

    @property
    def mark(self) -> str:
        """What its words come to: another for other words."""
        return hashlib.sha256(json.dumps(self.says).encode()).hexdigest()[:12]


def texts(guide: Guide) -> Iterator[Text]:
    """The cautions, what is said and done at once in each danger, what every caller hears first, and each
    outcome that is an emergency or tells people something, with how pressing it is and who has it next: as
    written, whatever names an operator puts in."""
    settings = guide.settings
    if settings:
        for keys in (
            ("cautions",),
            ("opening",),
            *(("danger_now", whose) for whose in settings.danger_now),
            *(("dangers", id_, what) for id_ in settings.dangers for what in ("say", "do")),
        ):
            if says := tuple(_lines(guide.files["guide.yaml"].value(keys))):
                yield Text("guide.yaml", keys, says)
    for file in guide.tree_files.values():
        (name,) = (name for name, source in guide.files.items() if source is file.source)
        for id_, node in file.spec.nodes.items():
            if isinstance(node, models.Outcome) and _is_acted_on(node):
                keys = ("nodes", id_)
                yield Text(name, keys, tuple(_told(file.source.value(keys))))


def _is_acted_on(outcome: models.Outcome) -> bool:
    return bool(outcome.say or outcome.advice or outcome.dangers or outcome.priority == "emergency")


def _told(outcome: Any) -> Iterator[str]:
    """All that an outcome says, what is not a text too; `help` only explains."""
    for key, value in sorted(outcome.items()):
        if key not in ("help", "returns"):
            yield from (f"{key}: {line}" for line in _lines(value))


def _lines(value: Any) -> list[str]:
    if isinstance(value, list):
        return [str(line) for line in value]
    return [] if value is None else [str(value)]


@dataclass(frozen=True, slots=True)
class Signed:
    """A text, or the nodes of a rule, as signed: at which place of signed.yaml, by whom and with what."""

    keys: Keys
    signature: models.Signature
    what: Any


def signed_by(guide: Guide) -> dict[tuple[str, str], Signed]:
    """Each text (its file and place) and each rule (`rules.yaml` and its id) as it was signed last."""
    found: dict[tuple[str, str], Signed] = {}
    for position, signature in enumerate(guide.signatures or ()):
        for file, places in signature.words.items():
            for place, mark in places.items():
                found[file, place] = Signed((position, "words", file, place), signature, mark)
        for id_, nodes in signature.rules.items():
            found["rules.yaml", id_] = Signed((position, "rules", id_), signature, nodes)
    return found


def unsigned(guide: Guide, bound: Mapping[str, int]) -> tuple[list[Text], dict[str, int]]:
    """What is yet to be signed: the texts that are new or have other words, and of `bound`, how many nodes
    each rule binds, what is not signed so."""
    signed = signed_by(guide)
    some = [text for text in texts(guide) if _mark(signed, text.file, text.place) != text.mark]
    return some, {id_: nodes for id_, nodes in bound.items() if _mark(signed, "rules.yaml", id_) != nodes}


def _mark(signed: Mapping[tuple[str, str], Signed], file: str, place: str) -> Any:
    known = signed.get((file, place))
    return known and known.what


def renewed(
    guide: Guide, some: Sequence[Text], bound: Mapping[str, int], by: str, day: date
) -> tuple[models.Signature, ...]:
    """The guide's signatures with these texts and rules signed anew. What else stands is kept as it was
    signed; what is no longer there goes."""
    there = {(text.file, text.place) for text in texts(guide)}
    there |= {("rules.yaml", rule.id) for rule in guide.rules}
    new = {(text.file, text.place): text.mark for text in some}
    left = {
        where: each
        for where, each in signed_by(guide).items()
        if where in there and where not in new and not (where[0] == "rules.yaml" and where[1] in bound)
    }
    parts: dict[tuple[str, date], tuple[dict[str, dict[str, str]], dict[str, int]]] = {}
    for (file, place), each in left.items():
        words, rules = parts.setdefault((each.signature.by, each.signature.day), ({}, {}))
        if file == "rules.yaml":
            rules[place] = each.what
        else:
            words.setdefault(file, {})[place] = each.what
    words, rules = parts.setdefault((by, day), ({}, {}))
    rules |= bound
    for (file, place), mark in new.items():
        words.setdefault(file, {})[place] = mark
    return tuple(
        models.Signature(by=who, day=day, words=words, rules=rules)
        for (who, day), (words, rules) in parts.items()
        if words or rules
    )


HEAD = """\
# Who has read what people act on in danger, and stands behind it: the mark of each text's words, and how many
# nodes each rule bound. Written by the verb `sign`, after reading; a build refuses words that nobody signed.
"""


def as_yaml(signatures: Sequence[models.Signature]) -> str:
    """The text of signed.yaml."""
    plain = [
        {"by": each.by, "day": each.day, "words": each.words, "rules": each.rules} for each in signatures
    ]
    kept = [{key: value for key, value in each.items() if value} for each in plain]
    return HEAD + yaml.safe_dump(kept, sort_keys=False, allow_unicode=True, width=110)
