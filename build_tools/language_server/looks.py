"""One look at a guide as an editor holds it: with every check but those that walk."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from build_tools.checks import CHECKS, pages
from build_tools.guide import loading
from build_tools.guide.findings import Finding
from build_tools.guide.trees import Guide
from build_tools.language_server import walks

__all__ = ["Held", "Look", "look", "text_of"]

Held = Mapping[Path, str]
"""Files as the editor holds them."""


@dataclass(frozen=True, slots=True)
class Look:
    """What a look saw and found. `of_pages`: what was found in pages of words, and all that hangs on."""

    guide: Guide
    held: Held
    findings: tuple[Finding, ...] = ()
    of_pages: tuple[Any, tuple[Finding, ...]] = field(default=(None, ()), repr=False)


def look(folder: Path, held: Held, before: Look | None = None) -> Look:
    """Look at the guide in a folder. What an earlier look found in pages is taken from it where nothing has
    changed: the model makes their figures anew otherwise, which takes longer than all the rest."""
    loaded = loading.load(folder, held=held)
    trees = list(loaded.trees.values())
    quick = (check for check in CHECKS if check not in (*walks.CHECKS, pages.check))
    found = [*loaded.findings, *(finding for check in quick for finding in check(loaded, trees))]
    grounds = _grounds_of_pages(loaded)
    if before is None or before.of_pages[0] != grounds:
        of_pages = grounds, tuple(pages.check(loaded, trees))
    else:
        of_pages = before.of_pages
    return Look(loaded, held, (*found, *of_pages[1]), of_pages)


def text_of(path: Path, held: Held) -> str:
    """A file as the editor holds it, or as it was saved; empty where there is none."""
    if path in held:
        return held[path]
    try:
        return path.read_bytes().decode("utf-8-sig", "replace")
    except OSError:
        return ""


def _grounds_of_pages(loaded: Guide) -> tuple[Any, ...]:
    texts = {page: text_of(page, loaded.held) for page in (loaded.folder / "pages").rglob("*.md")}
    return texts, loaded.streets, loaded.operator, loaded.glossary
