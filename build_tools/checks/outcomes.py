"""Every end says who has the job from there on.

An outcome closes the job, or hands it over to somebody who is named, or says what comes `next`. The outcome
of a call hands over: nobody on the telephone does what comes next. Priority `unsettled` is for an end that
settles nothing by itself, and for no other: it says what comes `next` and does not close. That an end which
can be reached beside a danger hands over is seen where the trees are walked.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, few, shown
from build_tools.guide.trees import Guide, Tree, TreeFile

__all__ = ["check"]

_NOBODY = re.compile(
    r"(nobody|no[ -]one|none|nothing|not (yet|needed)|n/?a|somebody|someone|anybody|anyone|\W*$)(?!\w)",
    re.IGNORECASE,
)
"""How a handing over begins that names nobody."""


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every outcome in every tree file."""
    for file in guide.tree_files.values():
        yield from few(_of_file(file), file.place())


def _of_file(file: TreeFile) -> Iterator[Finding]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Outcome):
            yield from _left_to_nobody(file, name, node)
            yield from _unsettled(file, name, node)


HANDED_TO_NOBODY = Demand(
    "handed-to-nobody",
    "who has the job from here on, and what they are told",
    "begin with who it is, such as `The control room: ...`",
)
NOBODY_HAS_IT = Demand(
    "nobody-has-it",
    "an end that closes the job, hands it over, or says what comes next; in a call tree, one that hands over",
    "add `hand_over:` with who has it from here on, `next:` with what is to be done, or `closes: true`",
)


def _left_to_nobody(file: TreeFile, name: str, outcome: models.Outcome) -> Iterator[Finding]:
    call = file.spec.audience == "call"
    if outcome.hand_over and _NOBODY.match(outcome.hand_over):
        path = ("nodes", name, "hand_over")
        yield HANDED_TO_NOBODY.found(file.place(*path), f"{shown(outcome.hand_over)} names nobody", path)
    elif not outcome.hand_over and (call or not (outcome.closes or outcome.next)):
        does = "goes no further than the telephone" if call and outcome.next else "leaves the job to nobody"
        yield NOBODY_HAS_IT.found(
            file.place("nodes", name, key=True),
            f"{shown(name)} {does}",
            ("nodes", name),
            "a call to be handed over"
            if call
            else "an end that closes the job, hands it over, or says what comes next",
            "add `hand_over:` with who has it from here on"
            + ("" if call else ", `next:` with what is to be done, or `closes: true`"),
        )


NOT_SETTLED = Demand(
    "not-settled",
    "an end that settles the matter and says how pressing it is, or one of priority `unsettled` "
    "that says what comes `next` and does not close",
    "write `next:` and `priority: unsettled`, or neither",
)


def _unsettled(file: TreeFile, name: str, outcome: models.Outcome) -> Iterator[Finding]:
    if outcome.priority == "unsettled" and not outcome.next:
        what, expected = "settles nothing and does not say what comes next", "what settles it"
        mend = "add `next:` with what is to be done, or write how pressing it is"
    elif outcome.closes and (outcome.next or outcome.priority == "unsettled"):
        what, expected = "closes the job and is not settled", "an end that is one or the other"
        mend = "take `closes` away, or `next` and write how pressing it is"
    elif outcome.next and outcome.priority != "unsettled":
        what, expected = (
            f"says what comes next, with priority {outcome.priority}",
            "`unsettled`, where more is to be done",
        )
        mend = "write `priority: unsettled`; or put what is to be done under `advice`"
    else:
        return
    path = ("nodes", name, "priority")
    yield NOT_SETTLED.found(file.place(*path), f"{shown(name)} {what}", path, expected, mend)
