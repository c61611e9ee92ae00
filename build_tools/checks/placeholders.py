"""Words that stand for the operator's own are put in place of them before a guide goes out.

In `operator.yaml` and `guide.yaml` no text asks to be written (`put your own`, `TODO`, `example`), and no
telephone number is one that nobody answers (one digit over and over, a row of digits, none at all). A number
that is invented for a demonstration says so with `invented: true`: then every page says so beside it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from build_tools.checks.content import texts
from build_tools.guide.findings import Demand, Finding, shown
from build_tools.guide.trees import Guide, Tree
from build_tools.guide.validation import told

__all__ = ["PLACEHOLDER", "check"]

_ASKS = re.compile(
    r"\b(?:[Pp]ut|[Ss]et) your own\b|\b[Yy]our own (?:\w+ )?here\b|<[Yy]our [^>]*>|\[[Yy]our [^\]]*\]"
    r"|\bTODO\b|\btodo:|\bTB[CDA]\b|\bFIXME\b|\bXXX+\b|\b[Cc]hange[- ]?me\b|\b[Ll]orem ipsum\b"
)
_EXAMPLE = re.compile(r"(?<!\b[Ff]or )\b[Ee]xample\b")
_NO_WORD = re.compile(r"[\W_]*")
_ROW = "01234567890"
_LONG = 4
"""So many digits alike are no number; shorter ones, such as 000 or 999, are real somewhere."""


PLACEHOLDER = Demand(
    "placeholder",
    "what whoever reads the guide in an emergency can go by",
    "write your own words; a number that is only for show is marked `invented: true`",
)
"""A build forgives it unless it is strict: the pages say that they are a draft."""


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of operator.yaml and of guide.yaml."""
    for name in ("operator.yaml", "guide.yaml"):
        source = guide.files[name]
        for keys, text in texts(source.data):
            if reason := _why(name, keys, text):
                yield PLACEHOLDER.found(
                    source.place(keys), f"{shown(text)} {reason}", told(keys), mend=_mend(keys)
                )
    yield from _numbers(guide)


def _why(name: str, keys: tuple[str | int, ...], text: str) -> str:
    if _ASKS.search(text):
        return "asks to be written, and was not"
    if _EXAMPLE.search(text) and (name == "operator.yaml" or keys == ("title",)):
        return "is an example"
    return "says nothing" if _NO_WORD.fullmatch(text) else ""


def _numbers(guide: Guide) -> Iterator[Finding]:
    """Lines to ring that nobody answers."""
    for position, line in enumerate(guide.operator.emergency if guide.operator else ()):
        if not line.invented and (reason := _no_number(line.number)):
            keys = ("emergency", position, "number")
            yield PLACEHOLDER.found(
                guide.files["operator.yaml"].place(keys),
                f"{shown(line.number)} {reason}",
                told(keys),
                "a number that is answered day and night",
                "write the number, or mark the line `invented: true` in a guide that is only for show",
            )


def _no_number(number: str) -> str:
    digits = re.sub(r"\D", "", number)
    if _NO_WORD.fullmatch(number):
        return ""  # told already
    if len(digits) < 2:
        return "is no telephone number"
    if len(digits) >= _LONG and len(set(digits)) == 1:
        return "is one digit over and over"
    if len(digits) > _LONG and (digits in _ROW or digits in _ROW[::-1]):
        return "is a row of digits"
    return ""


def _mend(keys: tuple[str | int, ...]) -> str:
    where = f" in `{keys[-1]}`" if isinstance(keys[-1], str) else ""
    return f"write your own words{where}"
