"""Every figure that a page of words asks the model for can be made, and its terms are in the glossary."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from build_tools.checks.content import known_terms, unknown_term, unknown_terms
from build_tools.guide.findings import Demand, Finding, Place, few
from build_tools.guide.folder import pages_in
from build_tools.guide.page_figures import wrong_figures
from build_tools.guide.source import CONTROL_CHARACTER, NOT_UTF_8, UNREADABLE, as_given, unseen
from build_tools.guide.trees import Guide, Tree

__all__ = ["check", "page_texts", "place_in"]


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every page in the guide's `pages`."""
    known = known_terms(guide)
    for file, text in page_texts(guide):
        if isinstance(text, str):
            yield from few(_of_page(file, text, guide, known), Place(file, 1, 1))
        else:
            yield text


def page_texts(guide: Guide) -> Iterator[tuple[str, str | Finding]]:
    """Every page of words by its file, with what it says, or why that cannot be read."""
    for page in pages_in(guide.folder):
        file = as_given(page)
        try:
            yield file, guide.held[page] if page in guide.held else page.read_text("utf-8")
        except OSError as problem:
            what, mend = f"this page cannot be read: {problem.strerror}", "check its rights"
            yield file, UNREADABLE.found(Place(file, 1, 1), what, (), "a page that can be read", mend)
        except UnicodeDecodeError as problem:
            what = f"this page is not UTF-8 text: {problem.reason} at byte {problem.start}"
            mend = "save it as UTF-8"
            yield file, NOT_UTF_8.found(Place(file, 1, 1), what, (), "a page that can be read", mend)


FIGURE = Demand("figure", "a figure that the model can make", "ask for one that it can, as the finding says")


def _of_page(file: str, text: str, guide: Guide, known: Mapping[str, str] | None) -> Iterator[Finding]:
    for position, wrong in wrong_figures(text, guide):
        yield FIGURE.found(place_in(file, text, position), str(wrong), mend=wrong.mend)
    for position, name in unseen(text):
        yield CONTROL_CHARACTER.found(place_in(file, text, position), f"{name} stands in the text")
    for position, term in unknown_terms(text, known):
        yield unknown_term(place_in(file, text, position), (), term, known)


def place_in(file: str, text: str, position: int) -> Place:
    """Where in a file a position of its text is."""
    return Place(file, text.count("\n", 0, position) + 1, position - text.rfind("\n", 0, position))
