"""How easy a text is to take in when it is heard once.

Source: R. Flesch, A new readability yardstick, Journal of Applied Psychology 32 (1948), 221-233:
206.835 - 1.015 (words a sentence) - 84.6 (syllables a word). The scale runs from about 0 (very hard) to
100 (very easy); 60 to 70 is plain English (Flesch, The Art of Readable Writing, 1949; from memory).

How old a reader has to be: J. P. Kincaid and others, Derivation of new readability formulas for Navy
enlisted personnel, Research Branch Report 8-75 (1975): 0.39 (words a sentence) + 11.8 (syllables a word)
- 15.59 is the school year in the United States, whose first begins at the age of six. From memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache

import pyphen

__all__ = ["flesch", "reading_age", "syllables"]

_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)*|\d+")
_SENTENCE_END = re.compile(r"[.!?]+(?=\s|$)|\n\s*\n")
_HYPHENS = pyphen.Pyphen(lang="en_GB", left=2, right=2)
_VOWELS = re.compile(r"(?<![cgstx])i(?=[aou])|[iu](?=et|en)|e(?=a$)|a(?=o)|[aeiouy]+")
_SILENT = re.compile(r"(?<=[aeiouy])[^aeiouy]*(?:[^aeiouyl]e|[^aeiouytd]ed|[^aeiouylszxhcg]es)$")
_INNER_SILENT = re.compile(r"(?<=[aeiouy][^aeiouy])e(?=(?:ly|ty|thing|one|body|where|ful|less|ment)$)")


def flesch(texts: Iterable[str]) -> float:
    """Flesch reading ease of the texts taken together; 100 when they hold no word."""
    words, sounds = _per_sentence_and_word(texts)
    return 206.835 - 1.015 * words - 84.6 * sounds if words else 100.0


def reading_age(texts: Iterable[str]) -> float:
    """The age in years from which the texts taken together are read with ease; 5 at the least."""
    words, sounds = _per_sentence_and_word(texts)
    return max(5.0, 0.39 * words + 11.8 * sounds - 15.59 + 5)


def _per_sentence_and_word(texts: Iterable[str]) -> tuple[float, float]:
    """Words a sentence and syllables a word; both 0 when there is no word."""
    words, sentences, sounds = 0, 0, 0
    for text in texts:
        for sentence in _SENTENCE_END.split(text):
            found = _WORD.findall(sentence)
            words += len(found)
            sentences += bool(found)
            sounds += sum(map(syllables, found))
    return (words / sentences, sounds / words) if words else (0.0, 0.0)


@cache
def syllables(word: str) -> int:
    """Syllables of one English word, near enough for a mean over a text.

    Hyphenation leaves out breaks that a typesetter would not make (`elec-tri-city`), so the groups of
    vowels in each part are counted; an e that is not heard at a part's end is not.
    """
    parts = _HYPHENS.inserted(_INNER_SILENT.sub("", word.casefold())).split("-")
    return max(1, sum(len(_VOWELS.findall(part)) - bool(_SILENT.search(part)) for part in parts))
