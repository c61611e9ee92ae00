"""What can be found: every tree in its own and its callers' words, every other page, every term."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from markupsafe import Markup

from build_tools.guide.phrases import said_of
from build_tools.guide.prose import Prose, slug
from build_tools.guide.trees import Tree
from build_tools.pages.page import Book, Page
from calc.calculators import CALCULATORS

__all__ = ["find_page", "write_finder"]


def find_page(book: Book) -> Page:
    """The box on a page of its own, for whoever presses its key elsewhere."""
    return book.page("find.html", "find.html", "Find", find="home")


def write_finder(
    book: Book,
    made: Iterable[Page],
    written: Mapping[str, tuple[str, str]],
    say_it: Callable[[str], str],
    file: Path,
) -> None:
    """The script that pages load to find things.

    `written`: address -> title and HTML of the authors' own pages; `say_it` gives words in the language of
    the pages.
    """
    entries = [*_entries(book, made), *_written(written)]
    shown = [{name: say_it(entry[name]) for name in ("title", "about") if entry[name]} for entry in entries]
    data = {
        "entries": [{"id": i, **entry, **shown[i]} for i, entry in enumerate(entries)],
        "same": [[word.casefold() for word in group] for group in book.guide.synonyms.same],
        "telling": [word.casefold() for word in book.guide.synonyms.telling],
        "dangers": [
            {
                "title": say_it(Prose.plain(danger.title)),
                "page": f"danger.html#{id_}",
                "phrases": [said_of(phrase, book.guide.synonyms.kinds) for phrase in danger.heard_as],
            }
            for id_, danger in book.settings.dangers.items()
        ],
    }
    file.write_text(f"lostNeutralFind({json.dumps(data, ensure_ascii=False)});\n", encoding="utf-8")


def _entries(book: Book, made: Iterable[Page]) -> Iterator[dict[str, str]]:
    trees = {book.tree_address(tree): tree for tree in book.guide.trees.values()}
    calculators = {f"calculators/{one.id}.html": one for one in CALCULATORS.values()}
    for page in made:
        if tree := trees.get(page.address):
            heard = "; ".join(tree.spec.heard_as)
            yield _entry(tree.audience, page.title, page.about, page.address, " ".join(_said(tree)), heard)
        elif one := calculators.get(page.address):
            words = " ".join(input_.label for input_ in one.inputs)
            yield _entry("calculator", page.title, page.about, page.address, words)
        elif page.address not in ("index.html", "missing.html", "find.html", "danger.html"):
            yield _entry("page", page.title, page.about, page.address)
    for name, term in book.guide.glossary.items():
        words, heard = Prose.plain(term.meaning), "; ".join((*term.also, *term.caller_words))
        yield _entry("term", name, words, f"glossary.html#{slug(name)}", "", heard)


def _written(pages: Mapping[str, tuple[str, str]]) -> Iterator[dict[str, str]]:
    for address, (title, html) in pages.items():
        yield _entry("page", title, "", address, Markup(html).striptags())


def _said(tree: Tree) -> Iterator[str]:
    for node in tree.nodes.values():
        yield Prose.plain(node.words)
        yield from (exit_.label for exit_ in node.exits)


def _entry(kind: str, title: str, about: str, page: str, words: str = "", heard: str = "") -> dict[str, Any]:
    return {
        "kind": kind,
        "title": title,
        "about": Prose.plain(about),
        "heard": heard,
        "words": words,
        "page": page,
    }
