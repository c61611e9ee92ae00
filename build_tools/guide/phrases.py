"""What people say of a danger, as its author writes it: `<people> stuck/frozen`, `spark*`, `let_go`.

Each word of a phrase has to be heard, in any order. `/` stands between words of which one is enough, `*`
after what a word begins with, `_` between words that follow each other (one other word may come between),
and `<people>` for every word of that kind in `synonyms.yaml`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

__all__ = ["odd_words", "said_of", "unknown_kinds"]

_KIND = re.compile(r"<([^<>]*)>")
_WORD = re.compile(r"[^\W_]+\*?(?:_[^\W_]+\*?)*")


def said_of(phrase: str, kinds: Mapping[str, Sequence[str]]) -> list[list[str]]:
    """Every word of a phrase as all that it may be; in lower case and without apostrophes.

    >>> said_of("<who> stuck/can't", {"who": ["he", "She"]})
    [['he', 'she'], ['stuck', 'cant']]
    """
    return [[one for way in _ways(word) for one in _meant(way, kinds)] for word in phrase.split()]


def unknown_kinds(phrase: str, kinds: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """The kinds that a phrase names and `synonyms.yaml` does not have."""
    return (name for name in _KIND.findall(phrase) if name not in kinds)


def odd_words(phrase: str) -> Iterator[str]:
    """What of a phrase can never be heard: marks where a word is wanted."""
    for word in phrase.split():
        for way in _ways(word):
            if not (_KIND.fullmatch(way) or _WORD.fullmatch(_plain(way))):
                yield word


def _ways(word: str) -> list[str]:
    return word.split("/")


def _meant(way: str, kinds: Mapping[str, Sequence[str]]) -> list[str]:
    kind = _KIND.fullmatch(way)
    return [_plain(word) for word in kinds.get(kind[1], ())] if kind else [_plain(way)]


def _plain(word: str) -> str:
    return re.sub("['\u2019]", "", word.casefold())
