"""What people act on in danger has been read by somebody who stands behind it.

A guide with a `signed.yaml` has in it, for each text of `guide/signing.py`, who read it and when, and a mark
of its words; a text that is new or says something else is refused until it is signed again (`sign`). So is
one that was signed and is gone. Of each rule it has how many nodes it bound: a rule may come to bind more,
and never less; that one binds nothing has to be signed too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from build_tools.checks.content import is_broken
from build_tools.checks.rules import bound
from build_tools.guide.findings import Demand, Finding, shown
from build_tools.guide.signing import Signed, signed_by, texts
from build_tools.guide.trees import Guide, Tree
from build_tools.guide.validation import told
from build_tools.setup.environment import COMMAND

__all__ = ["FILE", "check"]

FILE = "signed.yaml"

UNSIGNED = Demand(
    "unsigned",
    "words that somebody who may has read and stands behind, before people act on them in danger",
    f'have them read, then run: {COMMAND} sign --by "NAME AND OFFICE"',
)
SIGNED_AND_GONE = Demand(
    "signed-and-gone",
    "what was signed, where it was",
    f'put it back; or have its absence read, then run: {COMMAND} sign --by "NAME AND OFFICE"',
)
BINDS_LESS = Demand(
    "rule-binds-less",
    "a rule that binds as many nodes as when it was signed",
    "see which node it lost; correct the rule or the tree, or have it signed again",
)
SIGNED_IN_FUTURE = Demand("signed-in-future", "a day that has been", "write the day on which it was read")


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of a guide that is signed; none of one that is not."""
    if guide.signatures is None:
        return
    signed = signed_by(guide)
    yield from _texts(guide, signed)
    if guide.is_whole and not is_broken(guide, "rules.yaml"):
        yield from _rules(guide, signed)
    for position, signature in enumerate(guide.signatures):
        if signature.day > guide.today:
            keys = (position, "day")
            what = f"this was signed on {signature.day}, and today is {guide.today}"
            yield SIGNED_IN_FUTURE.found(guide.files[FILE].place(keys), what, told(keys))


def _texts(guide: Guide, signed: dict[tuple[str, str], Signed]) -> Iterator[Finding]:
    left = {where: each for where, each in signed.items() if where[0] != "rules.yaml"}
    for text in texts(guide):
        known = left.pop((text.file, text.place), None)
        if known is None or known.what != text.mark:
            what = "nobody has signed these words"
            if known:
                who = known.signature
                what = f"these words are others than those that {who.by} signed on {who.day}"
            yield UNSIGNED.found(guide.files[text.file].place(text.keys, key=True), what, told(text.keys))
    for (file, place), known in left.items():
        if file not in guide.files or not is_broken(guide, file):
            what = f"{shown(place)} is not in {file} any more, or has nothing to be signed"
            yield SIGNED_AND_GONE.found(guide.files[FILE].place(known.keys, key=True), what, told(known.keys))


def _rules(guide: Guide, signed: dict[tuple[str, str], Signed]) -> Iterator[Finding]:
    binds = bound(guide)
    for position, rule in enumerate(guide.rules):
        known, now, keys = signed.get(("rules.yaml", rule.id)), binds[rule.id], (position, "every")
        if known is None or now < known.what:
            what = f"nobody has signed how many nodes the rule {shown(rule.id)} binds: {now}"
            if known:
                what = (
                    f"the rule {shown(rule.id)} binds {now} nodes; when it was signed it bound {known.what}"
                )
            yield BINDS_LESS.found(guide.files["rules.yaml"].place(keys), what, told(keys))
    for (file, id_), known in signed.items():
        if file == "rules.yaml" and id_ not in binds:
            what = f"there is no rule {shown(id_)} any more"
            yield SIGNED_AND_GONE.found(guide.files[FILE].place(known.keys, key=True), what, told(known.keys))
