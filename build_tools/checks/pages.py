"""Every figure that a page of words asks the model for can be made, and its terms are in the glossary."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from build_tools.checks.content import known_terms, unknown_term, unknown_terms
from build_tools.figures import wrong_figures
from build_tools.findings import Finding, Place, few
from build_tools.guide import Guide, Tree
from build_tools.source import as_given

__all__ = ["check"]


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every page in the guide's `pages`."""
    known = known_terms(guide)
    for page in sorted((guide.folder / "pages").rglob("*.md")):
        yield from few(_of_page(page, guide, known), Place(as_given(page), 1, 1))


def _of_page(page: Path, guide: Guide, known: Mapping[str, str] | None) -> Iterator[Finding]:
    file = as_given(page)
    try:
        text = page.read_text("utf-8")
    except UnicodeDecodeError as problem:
        what = f"this page is not UTF-8 text: {problem.reason} at byte {problem.start}"
        mend = "save it as UTF-8"
        yield Finding("not-utf-8", Place(file, 1, 1), what, (), "a page that can be read", mend)
        return
    for position, wrong in wrong_figures(text, guide):
        expected = "a figure that the model can make"
        yield Finding("figure", _place(file, text, position), str(wrong), (), expected, wrong.mend)
    for position, term in unknown_terms(text, known):
        yield unknown_term(_place(file, text, position), (), term, known)


def _place(file: str, text: str, position: int) -> Place:
    return Place(file, text.count("\n", 0, position) + 1, position - text.rfind("\n", 0, position))
