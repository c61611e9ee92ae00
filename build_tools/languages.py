"""The guide in another language: the words of a page, the authors' and the templates' alike, given in others.

A catalogue is a YAML file:

    language: cy                  # as in HTML's lang
    direction: ltr                # or rtl
    words:
      "On the telephone": "Ar y ffôn"

Its keys are the runs of words between two tags, and the attributes that people read or hear. `build
--language FILE` takes one; words that it lacks stay as they are and are counted. `words` writes one with
every key and no words, for a translator. `pseudo` and `pseudo-rtl` stand for catalogues that have everything:
accented, longer, in brackets, so that what was forgotten, cut off or put together of pieces can be seen.

The names under which a device installs the guide are given too; NOT_REACHED says what stays as it is. From
right to left, a figure and its unit, what is filled into a blank, and a telephone number keep their own order
(Unicode's isolates).
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from html.parser import HTMLParser
from itertools import accumulate
from pathlib import Path
from typing import Literal

import yaml
from pydantic import BaseModel, ConfigDict, ValidationError

__all__ = [
    "NOT_REACHED",
    "PSEUDO",
    "Catalogue",
    "WrongCatalogue",
    "catalogue",
    "empty_catalogue",
    "runs_of",
    "translated",
]

PSEUDO = ("pseudo", "pseudo-rtl")
NOT_REACHED = (
    "what a calculator answers on the device",
    "the words inside drawings",
    "computed walks while they are replayed",
    "guide.json, and the files beside the site in an archive",
)
"""What stays in the authors' own language: words of `calc`, and what is for programs or publishers."""

_READ = {
    "alt", "aria-label", "data-caution", "data-means", "data-title", "data-words", "data-yours",
    "placeholder", "title",
}  # fmt: skip
_SKIPPED = {"script", "style", "svg", "code", "pre", "noscript"}
_WORD = re.compile(r"[^\W\d_]{2}")
_ACCENTED = str.maketrans("aceinosuyACEINOSUY", "áçéíñóšúýÁÇÉÍÑÓŠÚÝ")
_KEPT = re.compile(r"(\{\w+\}|\d[\d.,]* (?:[mk]?(?:A|V|W|VA|Ω|ohm)|Hz|%|k?m|mm²?)(?!\w)|\d[\d ]{4,}\d)")
"""What is the same in every language: a blank, a figure with its unit, a telephone number."""


class WrongCatalogue(Exception):
    """What is wrong with a catalogue, and how to mend it."""


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid")
    language: str
    direction: Literal["ltr", "rtl"] = "ltr"
    words: dict[str, str | None]


@dataclass(frozen=True)
class Catalogue:
    """A language, its direction, and what gives a run of words in it; None for one that it lacks."""

    language: str
    direction: str
    give: Callable[[str], str | None]
    missing: set[str] = field(default_factory=set)

    def of(self, words: str) -> str:
        """The words in this language, or as they are."""
        given = self.give(words)
        if given is None:
            self.missing.add(words)
        return self._in_order(given or words)

    def _in_order(self, words: str) -> str:
        """From right to left, what is filled in and a figure with its unit keep an order of their own."""
        if self.direction == "ltr":
            return words
        return _KEPT.sub("\N{FIRST STRONG ISOLATE}\\1\N{POP DIRECTIONAL ISOLATE}", words)


def catalogue(name: str) -> Catalogue:
    """The catalogue in the file `name`, or one of PSEUDO. Raises WrongCatalogue."""
    if name in PSEUDO:
        return Catalogue("en-XA" if name == "pseudo" else "ar-XB", "rtl" if "rtl" in name else "ltr", _pseudo)
    try:
        read = _File.model_validate(yaml.safe_load(Path(name).read_text("utf-8")))
    except OSError as error:
        raise WrongCatalogue(f"{name} cannot be read: {error.strerror}") from error
    except yaml.YAMLError as error:
        raise WrongCatalogue(f"{name} is not YAML: {' '.join(str(error).split())}") from error
    except ValidationError as error:
        first = error.errors()[0]
        at = ".".join(map(str, first["loc"])) or "the file"
        raise WrongCatalogue(
            f"{name}: {at}: {first['msg']}; `words` writes a catalogue to begin with"
        ) from error
    return Catalogue(read.language, read.direction, read.words.get)


def empty_catalogue(runs: Mapping[str, None], language: str = "xx") -> str:
    """A catalogue with every run of words and none given."""
    data = {"language": language, "direction": "ltr", "words": dict(runs)}
    return yaml.safe_dump(data, allow_unicode=True, sort_keys=False, width=1_000_000)


def _pseudo(words: str) -> str:
    """Accented and a third longer; what is the same in every language is left as it is."""
    parts = _KEPT.split(words)
    accented = "".join(part if _KEPT.fullmatch(part) else part.translate(_ACCENTED) for part in parts)
    return f"[{accented}{' ~' * (len(words) // 6)}]"


def translated(page: str, given: Catalogue) -> str:
    """The page's HTML in another language; all but its words stays as it is, to the letter."""
    found = _Words(page)
    made, at = [], 0
    for start, end, words, quote in found.runs:
        other = html.escape(given.of(words), quote=quote)
        made += [page[at:start], other]
        at = end
    text = "".join([*made, page[at:]])
    html_tag = f'<html lang="{given.language}" dir="{given.direction}"'
    text = re.sub(r'<html lang="[^"]*"', html_tag, text, count=1)
    return re.sub(r'(<body\b[^>]*) dir="ltr"', rf'\1 dir="{given.direction}"', text, count=1)


def runs_of(page: str) -> dict[str, None]:
    """The runs of words of a page, in order."""
    return {words: None for _, _, words, _ in _Words(page).runs}


class _Words(HTMLParser):
    """Where the words of a page stand: start, end, the words, and whether they stand between quotes."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=False)
        self.page = page
        self.runs: list[tuple[int, int, str, bool]] = []
        self._lines = [0, *accumulate(len(line) + 1 for line in page.split("\n"))]
        self._skipped = 0
        self._from: int | None = None
        self.feed(page)
        self.close()
        self._end_run(len(page))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        start = self._here()
        self._end_run(start)
        self._attributes(tag, start, attrs)
        self._skipped += tag in _SKIPPED and tag != "noscript"

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        start = self._here()
        self._end_run(start)
        self._attributes(tag, start, attrs)

    def handle_endtag(self, tag: str) -> None:
        self._end_run(self._here())
        self._skipped -= tag in _SKIPPED and tag != "noscript"

    def handle_comment(self, data: str) -> None:
        self._end_run(self._here())

    def handle_decl(self, decl: str) -> None:
        self._end_run(self._here())

    def handle_data(self, data: str) -> None:
        if self._from is None and not self._skipped:
            self._from = self._here()

    def handle_entityref(self, name: str) -> None:
        self.handle_data(name)

    def handle_charref(self, name: str) -> None:
        self.handle_data(name)

    def _end_run(self, end: int) -> None:
        start, self._from = self._from, None
        if start is None:
            return
        text = self.page[start:end]
        inner = text.strip()
        if inner and _WORD.search(html.unescape(inner)):
            begin = start + text.index(inner)
            self.runs.append((begin, begin + len(inner), html.unescape(inner), False))

    def _attributes(self, tag: str, start: int, attrs: list[tuple[str, str | None]]) -> None:
        if self._skipped:
            return
        whole = self.get_starttag_text() or ""
        at = 0
        for name, value in attrs:
            if name not in _READ or not value or (tag, name) == ("template", "data-words"):
                continue
            match = re.compile(rf'\s{re.escape(name)}="([^"]*)"').search(whole, at)
            if match and _WORD.search(value):
                at = match.end()
                self.runs.append((start + match.start(1), start + match.end(1), value, True))

    def _here(self) -> int:
        line, column = self.getpos()
        return self._lines[line - 1] + column
