"""What every page maker works from, and what it gives."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup

from build_tools.guide import Guide, Tree
from build_tools.pages.prose import Prose, Term, slug
from build_tools.pages.templates import render
from build_tools.shapes import Settings

__all__ = ["Book", "Page", "relative"]


@dataclass(frozen=True, slots=True)
class Page:
    """One made page: `address` is its place in the site (`trees/call/tingle.html`), `title` plain text,
    `about` what a list says of it."""

    address: str
    title: str
    html: Markup
    about: str = ""


@dataclass(frozen=True)
class Book:
    """A guide without findings, as pages ask for it. `commit`: the one it is of, in words, or nothing."""

    guide: Guide
    settings: Settings
    commit: str = ""

    @property
    def terms(self) -> dict[str, Term]:
        """Every spelling of every glossary term, case folded."""
        spelt: dict[str, Term] = {}
        for name, term in self.guide.glossary.items():
            made = Term(name, Prose.plain(term.meaning), slug(name))
            spelt.update(dict.fromkeys((one.casefold() for one in (name, *term.also)), made))
        return spelt

    def tree_address(self, tree: Tree) -> str:
        """Where a tree's page stands."""
        return f"trees/{tree.audience}/{tree.id}.html"

    def in_order(self, trees: Iterable[Tree]) -> list[Tree]:
        """Trees as lists show them: those that the guide puts first, then the rest by title."""
        first = {id_: place for place, id_ in enumerate(self.settings.first)}
        return sorted(trees, key=lambda tree: (first.get(tree.id, len(first)), tree.title.casefold()))

    def page(self, template: str, address: str, title: str, *, about: str = "", **values: object) -> Page:
        """A page from a template, which may use `prose`, `settings`, `link(address)` and `tel(number)`."""
        html = self._filled(template, address, title=title, about=about, **values)
        return Page(address, Prose.plain(title), html, about)

    def foot(self, address: str) -> Markup:
        """What stands under the page at `address`, made or an author's own."""
        return self._filled("foot.html", address)

    def _filled(self, template: str, address: str, **values: object) -> Markup:
        return render(
            template,
            address=address,
            prose=Prose(self.terms, relative("glossary.html", address)),
            settings=self.settings,
            commit=self.commit,
            link=lambda to: relative(to, address),
            tel=lambda number: "tel:" + re.sub(r"[^\d+]", "", number),
            **values,
        )


def relative(to: str, address: str) -> str:
    """The link from the page at `address` to another place in the site."""
    path, hash_, anchor = to.partition("#")
    return posixpath.relpath(path, posixpath.dirname(address) or ".") + hash_ + anchor
