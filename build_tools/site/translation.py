"""The guide in another language: the words of a page, the authors' and the templates' alike, given in others.

A catalogue is a PO file (`catalogues`). Its keys are the runs of words between two tags, and the attributes
that people read or hear. `build --language FILE` takes one; words that it lacks, or that are marked `fuzzy`
there, stay as they are and are counted. `words FILE` writes one for a translator, and renews it. `pseudo` and
`pseudo-rtl` stand for catalogues that have everything: accented, longer, in brackets, so that what was
forgotten, cut off or put together of pieces can be seen.

The names under which a device installs the guide are given too; NOT_REACHED says what stays as it is. From
right to left, a figure and its unit, what is filled into a blank, and a telephone number keep their own order
(Unicode's isolates).
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from build_tools.site import catalogues
from build_tools.site.page_text import Attributes, PageText, Piece, with_pieces

__all__ = [
    "NOT_REACHED",
    "PSEUDO",
    "Catalogue",
    "catalogue",
    "runs_of",
    "translated",
    "words_of",
]

PSEUDO = ("pseudo", "pseudo-rtl")
NOT_REACHED = (
    "what a calculator answers on the device",
    "the words inside drawings",
    "computed walks while they are replayed",
    "the reference for authors",
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
    """The catalogue in the file `name`, or one of PSEUDO. Raises catalogues.WrongCatalogue."""
    if name in PSEUDO:
        return Catalogue("en-XA" if name == "pseudo" else "ar-XB", "rtl" if "rtl" in name else "ltr", _pseudo)
    read = catalogues.read(Path(name))
    return Catalogue(*catalogues.tongue(read), catalogues.given(read).get)


def words_of(site: Path) -> dict[str, list[str]]:
    """Every run of words of a built site, with the pages where it stands."""
    found: dict[str, list[str]] = {}
    for page in sorted(site.rglob("*.html")):
        for words in runs_of(page.read_text("utf-8")):
            found.setdefault(words, []).append(page.relative_to(site).as_posix())
    return found


def _pseudo(words: str) -> str:
    """Accented and a third longer; what is the same in every language is left as it is."""
    parts = _KEPT.split(words)
    accented = "".join(part if _KEPT.fullmatch(part) else part.translate(_ACCENTED) for part in parts)
    return f"[{accented}{' ~' * (len(words) // 6)}]"


def translated(page: str, given: Catalogue) -> str:
    """The page's HTML in another language; all but its words stays as it is, to the letter."""
    runs = _Words(page).runs
    text = with_pieces(
        page,
        (Piece(start, end, html.escape(given.of(words), quote=quote)) for start, end, words, quote in runs),
    )
    html_tag = f'<html lang="{given.language}" dir="{given.direction}"'
    text = re.sub(r'<html lang="[^"]*"', html_tag, text, count=1)
    return re.sub(r'(<body\b[^>]*) dir="ltr"', rf'\1 dir="{given.direction}"', text, count=1)


def runs_of(page: str) -> dict[str, None]:
    """The runs of words of a page, in order."""
    return {words: None for _, _, words, _ in _Words(page).runs}


class _Words(PageText):
    """Where the words of a page stand: start, end, the words, and whether they stand between quotes."""

    def __init__(self, page: str) -> None:
        super().__init__(page, convert_charrefs=False)
        self.runs: list[tuple[int, int, str, bool]] = []
        self._skipped = 0
        self._own: list[str] = []
        self._from: int | None = None
        self.read()
        self._end_run(len(page))

    def handle_starttag(self, tag: str, attrs: Attributes) -> None:
        start = self.here
        self._end_run(start)
        if ("translate", "no") in attrs or tag in self._own:
            self._own.append(tag)
        self._attributes(tag, start, attrs)
        self._skipped += tag in _SKIPPED and tag != "noscript"

    def handle_startendtag(self, tag: str, attrs: Attributes) -> None:
        start = self.here
        self._end_run(start)
        self._attributes(tag, start, attrs)

    def handle_endtag(self, tag: str) -> None:
        self._end_run(self.here)
        self._skipped -= tag in _SKIPPED and tag != "noscript"
        if tag in self._own:
            self._own.pop()

    def handle_comment(self, data: str) -> None:
        self._end_run(self.here)

    def handle_decl(self, decl: str) -> None:
        self._end_run(self.here)

    def handle_data(self, data: str) -> None:
        if self._from is None and not self._skipped and not self._own:
            self._from = self.here

    def handle_entityref(self, name: str) -> None:
        self.handle_data(name)

    def handle_charref(self, name: str) -> None:
        self.handle_data(name)

    def _end_run(self, end: int) -> None:
        start, self._from = self._from, None
        if start is None:
            return
        text = self.text[start:end]
        inner = text.strip()
        if inner and _WORD.search(html.unescape(inner)):
            begin = start + text.index(inner)
            self.runs.append((begin, begin + len(inner), html.unescape(inner), False))

    def _attributes(self, tag: str, start: int, attrs: Attributes) -> None:
        if self._skipped or self._own:
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
