"""Authors' words to HTML: Markdown with glossary terms, and never raw HTML, images or scripts.

`[[PEN]]` and `[[PEN|the combined conductor]]` become links to the term, with its meaning in the link, so
that a page says what it means with no second page at hand.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from markdown import Markdown
from markdown.extensions import Extension
from markdown.inlinepatterns import InlineProcessor
from markupsafe import Markup

__all__ = ["TERM", "GlossaryLinks", "Prose", "TermLink", "slug"]

TERM = r"\[\[([^\[\]|]+)(?:\|([^\[\]|]+))?\]\]"
"""A glossary term in an author's text: the term, then the words to show if they differ."""


@dataclass(frozen=True, slots=True)
class TermLink:
    """A word of the glossary: `anchor` is its place on the glossary page."""

    name: str
    means: str
    anchor: str


def slug(text: str) -> str:
    """Text as an anchor: lower case, words joined by hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "term"


class GlossaryLinks(Extension):  # type: ignore[misc]
    """Markdown extension for `[[TERM]]`. `address(anchor)` gives the link from the page being made."""

    def __init__(self, terms: Mapping[str, TermLink], address: Callable[[str], str]) -> None:
        super().__init__()
        self.terms, self.address = terms, address

    def extendMarkdown(self, md: Markdown) -> None:
        md.inlinePatterns.register(_TermLink(self.terms, self.address), "ln-term", 165)


class _TermLink(InlineProcessor):  # type: ignore[misc]
    def __init__(self, terms: Mapping[str, TermLink], address: Callable[[str], str]) -> None:
        super().__init__(TERM)
        self.terms, self.address = terms, address

    def handleMatch(self, m: re.Match[str], data: str) -> tuple[Element | str | None, int | None, int | None]:
        term = self.terms.get(" ".join(m[1].split()).casefold())
        words = (m[2] or m[1]).strip()
        if term is None:
            return words, m.start(0), m.end(0)
        link = Element("a", {"class": "ln-term", "href": self.address(term.anchor), "data-means": term.means})
        link.text = words
        return link, m.start(0), m.end(0)


class Prose:
    """Renders authors' short texts for pages of one folder; `glossary` is the glossary's address from there.
    Many stand on every page, so each is rendered once."""

    def __init__(self, terms: Mapping[str, TermLink], glossary: str) -> None:
        self._blocks: dict[str, Markup] = {}
        self._markdown = Markdown(extensions=[GlossaryLinks(terms, lambda anchor: f"{glossary}#{anchor}")])
        for registry, name in (
            (self._markdown.preprocessors, "html_block"),
            (self._markdown.inlinePatterns, "html"),
            (self._markdown.inlinePatterns, "image_link"),
            (self._markdown.inlinePatterns, "image_reference"),
            (self._markdown.inlinePatterns, "short_image_ref"),
        ):
            registry.deregister(name)

    def block(self, text: str | None) -> Markup:
        """Paragraphs and lists."""
        if (words := text or "") not in self._blocks:
            self._blocks[words] = Markup(self._markdown.reset().convert(words))
        return self._blocks[words]

    def line(self, text: str | None) -> Markup:
        """One line without its paragraph, for headings, list items and links."""
        html = self.block(" ".join((text or "").split()))
        inner = re.fullmatch(r"<p>(.*)</p>", html, re.DOTALL)
        return Markup(inner[1]) if inner else html

    @staticmethod
    def plain(text: str | None) -> str:
        """The same words with the marks of a term taken off, for places that hold text only."""
        return re.sub(TERM, lambda m: m[2] or m[1], " ".join((text or "").split()))
