"""Nothing in a text or a page asks another host for anything, and no link leads anywhere but to a page.

Every text of the YAML files and every page of words is made into HTML and looked at as a browser would read
it, entities, tabs and line breaks in addresses included. A link leads to an address of the guide, or to one
that begins with https:, http:, tel: or mailto:. Pictures and the like are files of the guide.
"""

from __future__ import annotations

import html
import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence

from markdown import Markdown

from build_tools.checks.content import texts
from build_tools.checks.pages import page_texts, place_in
from build_tools.guide.findings import Demand, Finding, Place, few, shown
from build_tools.guide.outside_requests import OutsideRequest, address_read, asked_in, asked_outside
from build_tools.guide.prose import Prose
from build_tools.guide.source import Source
from build_tools.guide.trees import Guide, Tree
from build_tools.guide.validation import told

__all__ = ["check"]

_EXTENSIONS = ("admonition", "attr_list", "footnotes", "md_in_html", "tables")
"""Those of mkdocs.yml that make elements or give them attributes."""
_MAY_LINK = re.compile(r"[\[<]")

LINK = Demand(
    "link",
    "a page of the guide, or an address that begins with https:, http:, tel: or mailto:",
    "write such an address",
)
RUNS_SCRIPT = Demand("runs-script", "words and links: a page of words runs no script", "take it away")
ASKS_OUTSIDE = Demand(
    "asks-outside",
    "a file of the guide: every page has to work without a network",
    "put a copy of it into pages/, and name that",
)
_KINDS: dict[str, tuple[Demand, str | None, str | None]] = {
    "leads to": (LINK, None, None),
    "runs": (RUNS_SCRIPT, None, None),
    "changes": (RUNS_SCRIPT, "a link that stays as it is written", None),
    "asks": (ASKS_OUTSIDE, None, None),
    "sends to": (ASKS_OUTSIDE, "a page that stays where it is", "write a link in place of it"),
}
"""What an element does -> the demand that it breaks, and closer words for what was expected and the mend."""


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every YAML file and of every page of words."""
    prose = Prose({}, "")
    for source in guide.files.values():
        yield from few(_of_file(source, prose), source.place())
    for file, text in page_texts(guide):
        if isinstance(text, str):
            yield from few(_of_page(file, text), Place(file, 1, 1))


def _of_file(source: Source, prose: Prose) -> Iterator[Finding]:
    for keys, text in texts(source.data):
        if keys[-1:] == ("url",):
            asks = list(asked_outside("a", [("href", text)]))
        else:
            asks = asked_in(prose.block(text)) if _MAY_LINK.search(text) else []
        for ask in asks:
            yield _finding(ask, source.place_of(ask.what, keys), told(keys))


def _of_page(file: str, text: str) -> Iterator[Finding]:
    at = 0
    for ask in asked_in(Markdown(extensions=_EXTENSIONS).convert(text)):
        start, end = _stands(ask.what, text, at)
        yield _finding(ask, place_in(file, text, start), ())
        at = end


def _finding(ask: OutsideRequest, place: Place, path: tuple[str, ...]) -> Finding:
    demand, expected, mend = _KINDS[ask.does]
    who = "a link" if ask.tag in ("a", "area") else f"`<{ask.tag}>`"
    return demand.found(place, f"{who} {ask.does} {shown(ask.what)}", path, expected, mend)


def _stands(what: str, text: str, at: int) -> tuple[int, int]:
    """Where an attribute's value stands in the Markdown that it was made of, from `at` on if it can: between
    the last place and the first that hold all of it. At the head of the page where no such words are."""
    wanted = _as_read(what)
    for start in (at, 0):
        if wanted in _as_read(text[start:]):
            ends = range(start, len(text) + 1)
            end = ends[bisect_left(ends, True, key=lambda end: wanted in _as_read(text[start:end]))]
            starts = range(start, end)
            gone = bisect_left(starts, True, key=lambda start: wanted not in _as_read(text[start:end]))
            return start + gone - 1, end
    return 0, at


def _as_read(text: str) -> str:
    """Markdown as an address in it is read: entities, escapes and line breaks seen through."""
    return address_read(html.unescape(text)).replace("\\", "")
