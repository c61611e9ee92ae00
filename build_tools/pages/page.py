"""What every page maker works from, and what it gives."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from markupsafe import Markup

from build_tools.guide.models import Operator, Settings
from build_tools.guide.prose import Prose, TermLink, slug
from build_tools.guide.trees import Guide, Tree
from build_tools.pages.templates import render

__all__ = ["Book", "Page", "relative"]


_CONTENT = '<div id="ln-content"></div>'  # where the way past the theme's links leads
_OVERDUE = 'data-part="overdue"'


@dataclass(frozen=True, slots=True)
class Page:
    """One made page: `address` is its place in the site (`trees/call/tingle.html`), `title` plain text,
    `about` what a list says of it, `review_by` the day by which it is reviewed again, if it has one."""

    address: str
    title: str
    html: Markup
    about: str = ""
    review_by: date | None = None


@dataclass(frozen=True)
class Book:
    """A guide without findings, as pages ask for it. `commit`: the one it is of, in words, or nothing;
    `is_draft`: its steps were changed since its promises were measured; `placeholders`: where the operator's
    own words are still to be written, as file and line."""

    guide: Guide
    settings: Settings
    operator: Operator
    commit: str = ""
    is_draft: bool = False
    placeholders: tuple[str, ...] = ()

    @cached_property
    def terms(self) -> dict[str, TermLink]:
        """Every spelling of every glossary term, case folded."""
        spelt: dict[str, TermLink] = {}
        for name, term in self.guide.glossary.items():
            made = TermLink(name, Prose.plain(term.meaning), slug(name))
            spelt.update(dict.fromkeys((one.casefold() for one in (name, *term.also)), made))
        return spelt

    def tree_address(self, tree: Tree) -> str:
        """Where a tree's page stands."""
        return f"trees/{tree.audience}/{tree.id}.html"

    def review_by(self, tree: Tree) -> date:
        """The first day by which some of a tree has to be reviewed again: its own, or a called tree's."""
        files = {tree.file.source.file, *(node.place.file for node in tree.nodes.values())}
        return min(
            file.spec.review_by for file in self.guide.tree_files.values() if file.source.file in files
        )

    def in_order(self, trees: Iterable[Tree]) -> list[Tree]:
        """Trees as lists show them: those that the guide puts first, then the rest by title."""
        first = {id_: place for place, id_ in enumerate(self.settings.first)}
        return sorted(trees, key=lambda tree: (first.get(tree.id, len(first)), tree.title.casefold()))

    def page(
        self,
        template: str,
        address: str,
        title: str,
        *,
        about: str = "",
        review_by: date | None = None,
        **values: object,
    ) -> Page:
        """A page from a template, which may use `prose`, `settings`, `operator`,
        `link(address)` and `tel(number)`."""
        due = review_by or self.settings.review_by
        html = self._filled(template, address, title=title, about=about, review_by=due, **values)
        return Page(address, Prose.plain(title), html, about, due)

    def framed(self, html: str, address: str, review_by: date | None = None) -> str:
        """A page's HTML, made or an author's own, under a word that it is overdue, and above the foot."""
        due = review_by or self.settings.review_by
        told = "" if _OVERDUE in html else self._filled("overdue.html", address, review_by=due)
        draft = self._filled("draft.html", address, is_draft=self.is_draft, placeholders=self.placeholders)
        over = f'<div class="ln">{draft}{told}</div>' if (draft + told).strip() else ""
        return f"{_CONTENT}{over}{html}{self._filled('foot.html', address, review_by=due)}"

    @cached_property
    def _proses(self) -> dict[str, Prose]:
        """By the address of the glossary."""
        return {}

    def _prose(self, address: str) -> Prose:
        glossary = relative("glossary.html", address)
        if glossary not in self._proses:
            self._proses[glossary] = Prose(self.terms, glossary)
        return self._proses[glossary]

    def _filled(self, template: str, address: str, **values: object) -> Markup:
        return render(
            template,
            address=address,
            prose=self._prose(address),
            settings=self.settings,
            operator=self.operator,
            today=self.guide.today,
            commit=self.commit,
            link=lambda to: relative(to, address),
            tel=lambda number: "tel:" + re.sub(r"[^\d+]", "", number),
            **values,
        )


def relative(to: str, address: str) -> str:
    """The link from the page at `address` to another place in the site."""
    path, hash_, anchor = to.partition("#")
    return posixpath.relpath(path, posixpath.dirname(address) or ".") + hash_ + anchor
