"""Every page that is made of a guide, by section, and the list of them for other programs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from build_tools.explained import explained_file
from build_tools.guide import wording
from build_tools.guide.prose import Prose
from build_tools.guide.trees import Guide
from build_tools.pages.allow import allow_page
from build_tools.pages.authors import authors_page
from build_tools.pages.calculator_page import calculator_page
from build_tools.pages.desk import desk_page
from build_tools.pages.fault_endings import where_page
from build_tools.pages.lists import list_page
from build_tools.pages.look_up import glossary_page, jobs_page, review_page, rules_page, sources_page
from build_tools.pages.page import Book, Page
from build_tools.pages.proof import proof_page
from build_tools.pages.search_index import find_page
from build_tools.pages.street_page import street_page
from build_tools.pages.tests_table import sight_page
from build_tools.pages.tree_page import tree_page
from build_tools.proof.sampled_bands import sampled_bands
from build_tools.setup import progress
from build_tools.setup.progress import counted
from calc.calculators import CALCULATORS, Calculator

__all__ = ["Section", "calculator_data", "guide_data", "sections"]


@dataclass(frozen=True, slots=True)
class Section:
    """Pages that belong together; the first lists the others, or is one of them."""

    title: str
    pages: tuple[Page, ...]


def sections(book: Book) -> list[Section]:
    """Every made page but the home page. Sections with nothing to list are left out."""
    guide = book.guide
    progress.current().expect(2 * len(guide.trees) + len(_shipped(book)) + len(guide.streets))
    made = [
        *(_trees(book, audience) for audience in wording.AUDIENCES),
        _calculators(book),
        _streets(book),
        _ends(book),
    ]
    measured = (page for page in (proof_page(book), sight_page(book)) if page)
    reference = Section(
        "Look up",
        (
            find_page(book),
            *((danger_page(book),) if book.settings.dangers else ()),
            jobs_page(book),
            rules_page(book),
            glossary_page(book),
            sources_page(book),
            review_page(book),
            authors_page(book),
            *measured,
            allow_page(book),
        ),
    )
    return [*(section for section in made if len(section.pages) > 1), reference]


def danger_page(book: Book) -> Page:
    """What to do at once in each kind of danger."""
    return book.page(
        "danger-page.html",
        "danger.html",
        "Danger: what to do at once",
        about="Somebody held or hurt, fire, gas, a wire down, work on a pipe.",
        titles={id_: Prose.plain(source.title) for id_, source in book.guide.sources.items()},
        onward={tree.audience for tree in book.guide.trees.values()},
        cautions=(*book.settings.cautions, book.operator.local_rules),
    )


def _trees(book: Book, audience: str) -> Section:
    title, whom = wording.AUDIENCES[audience]
    listed = book.in_order(tree for tree in book.guide.trees.values() if tree.audience == audience)
    trees = [tree_page(book, tree) for tree in counted(listed)]
    about = f"Trees {whom}. Choose by what was reported."
    if audience == "call":
        listing = desk_page(book, title, about, trees)
    else:
        address = f"trees/{audience}/index.html"
        listing = list_page(book, address, title, about, trees, with_cautions=True, find=audience)
    return Section(title, (listing, *trees))


def _calculators(book: Book) -> Section:
    pages = [calculator_page(book, one, calculator_data(book.guide, one)) for one in counted(_shipped(book))]
    about = "The readings of homes and streets that you describe, worked out on this device."
    address = "calculators/index.html"
    listing = list_page(book, address, "Calculators", about, pages, with_cautions=True)
    return Section("Calculators", (listing, *pages))


def calculator_data(guide: Guide, calculator: Calculator) -> dict[str, Any]:
    """What a calculator is given beside values; for one alone also what is too large for every page."""
    streets = {id_: street.to_data() for id_, street in guide.streets.items()}
    explained = explained_file.read(guide.folder) if calculator.id == "explain" else None
    return {
        "streets": streets,
        "bands": sampled_bands(guide.sampling) if guide.sampling else {},
        **({"explain": explained["table"]} if explained else {}),
    }


def _shipped(book: Book) -> list[Calculator]:
    """Every calculator, unless the guide has no street for them to reckon with."""
    return list(CALCULATORS.values()) if book.guide.streets else []


def _streets(book: Book) -> Section:
    pages = [street_page(book, id_, street) for id_, street in counted(book.guide.streets.items())]
    about = "The streets whose readings this guide is checked against."
    return Section("Streets", (list_page(book, "streets/index.html", "Streets", about, pages), *pages))


def _ends(book: Book) -> Section:
    trees = counted(book.in_order(book.guide.trees.values()))
    pages = [page for tree in trees if (page := where_page(book, tree))]
    about = "What the walks of each tree come to with each fault, and walks to replay in the tree."
    title = "Where faults end"
    return Section(title, (list_page(book, "ends/index.html", title, about, pages), *pages))


def guide_data(book: Book) -> dict[str, Any]:
    """What `guide.json` holds; every `page` is relative to the site's folder."""
    return {
        "version": book.settings.version,
        "trees": [
            {
                "id": tree.id,
                "audience": tree.audience,
                "title": tree.title,
                "page": book.tree_address(tree),
                "nodes": list(tree.nodes),
            }
            for tree in book.guide.trees.values()
        ],
        "calculators": [
            {"id": one.id, "title": one.title, "page": f"calculators/{one.id}.html"} for one in _shipped(book)
        ],
        "streets": [{"id": id_, "page": f"streets/{id_}.html"} for id_ in book.guide.streets],
    }
