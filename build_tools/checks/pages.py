"""Every figure that a page of words asks the model for can be made."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from build_tools import figures
from build_tools.findings import Finding
from build_tools.guide import Guide, Tree

__all__ = ["check"]


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every page in the guide's `pages`."""
    for page in sorted((guide.folder / "pages").rglob("*.md")):
        yield from figures.findings_of(page, guide)
