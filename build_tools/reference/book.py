"""The whole reference, and what a name in it says, for a page and for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from functools import cache

from build_tools.guide.findings import nearest, shown
from build_tools.reference import demands
from build_tools.reference.entries import Chapter, Entry, ReferencePart, unlinked
from build_tools.reference.file_fields import files
from build_tools.reference.tables import tables

__all__ = ["as_text", "chapters", "contents"]

_WIDE = 100


@cache
def chapters() -> tuple[Chapter, ...]:
    """Fields, the names that they may hold, and findings."""
    return (
        Chapter("fields", "Files and their fields",
                "Every kind of file, and of what stands in it, each field.", tuple(files())),
        Chapter("names", "Names", "What the files may name, with what the model takes each for.",
                tuple(tables())),
        Chapter("findings", "Findings",
                "What a check may find, by its id: what it expects of the guide, and how that is mended.",
                tuple(_findings())),
    )  # fmt: skip


def _findings() -> Iterator[ReferencePart]:
    for module, own in demands.demands().items():
        name = module.__name__.rpartition(".")[2]
        entries = tuple(Entry(one.id, "", (("expects", one.demands), ("mend", one.mend))) for one in own)
        yield ReferencePart(
            f"finding-{name}", name.replace("_", " ").capitalize(), entries, demands.title(module)
        )


def contents() -> str:
    """Every name, part by part."""
    return "\n".join(line for chapter in chapters() for line in _listed(chapter))


def _listed(chapter: Chapter) -> Iterator[str]:
    yield f"{chapter.title}. {chapter.words}"
    for part in chapter.parts:
        names = ", ".join(entry.name for entry in part.entries) or unlinked(part.words)
        yield textwrap.fill(f"{part.title}: {names}", _WIDE, initial_indent="  ", subsequent_indent="    ",
                            break_on_hyphens=False)  # fmt: skip
    yield ""


def as_text(name: str) -> str:
    """All that is said of a name: `clamp`, `range-gap`, `reading`, or `reading.on` where several have one.

    Raises ValueError, with the nearest names, for one that is not there.
    """
    asked = "rule-id" if name.startswith("rule-") else name.casefold()
    found = [
        *(_part(chapter, part) for chapter in chapters() for part in chapter.parts if asked in _names(part)),
        *(
            _entry(chapter, part, entry)
            for chapter in chapters()
            for part in chapter.parts
            for entry in part.entries
            if asked in _names_of(part, entry)
        ),
    ]
    if not found:
        near = nearest(name, _every_name()) or "; without a name it lists all that it has"
        raise ValueError(f"the reference has no {shown(name)}{near}")
    return "\n\n".join(found)


def _names(part: ReferencePart) -> tuple[str, str]:
    return part.id, part.title.casefold()


def _names_of(part: ReferencePart, entry: Entry) -> tuple[str, str]:
    return entry.name.casefold(), part.anchor(entry).casefold()


def _every_name() -> Iterator[str]:
    for chapter in chapters():
        for part in chapter.parts:
            yield part.id
            yield from (entry.name for entry in part.entries)


def _part(chapter: Chapter, part: ReferencePart) -> str:
    told = [f"{part.title} ({chapter.title.lower()})", *_paragraphs(part.words)]
    told += [textwrap.fill(", ".join(entry.name for entry in part.entries), _WIDE, initial_indent="  names: ",
                           subsequent_indent="    ", break_on_hyphens=False)]  # fmt: skip
    return "\n".join(told)


def _entry(chapter: Chapter, part: ReferencePart, entry: Entry) -> str:
    told = [f"{entry.name} ({chapter.title.lower()}: {part.title})", *_paragraphs(entry.words)]
    for key, said in entry.facts:
        told.append(textwrap.fill(f"{key}: {unlinked(said)}", _WIDE, initial_indent="  ",
                                  subsequent_indent="    ", break_on_hyphens=False))  # fmt: skip
    if entry.example:
        told += ["  example:", textwrap.indent(entry.example, "    ")]
    return "\n".join(told)


def _paragraphs(words: str) -> list[str]:
    wide = textwrap.TextWrapper(_WIDE, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False)
    return [wide.fill(unlinked(one)) for one in words.split("\n\n") if one]
