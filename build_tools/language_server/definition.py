"""Where what stands at the cursor is written: a node, a tree, a term, a rule, a danger, a source."""

from __future__ import annotations

import re

from lsprotocol.types import Position

from build_tools.guide.findings import Place
from build_tools.guide.prose import TERM
from build_tools.language_server.cursor import Spot, spot_at
from build_tools.language_server.known import File, Known
from build_tools.language_server.names import Name, named_at, names, terms
from build_tools.language_server.positions import Text

__all__ = ["definitions", "name_at", "term_at"]


def definitions(known: Known, file: File, text: Text, position: Position) -> tuple[Place, ...]:
    """The places where the name at a position is given; of a node that calls a tree, its start too."""
    offset = text.offset(position)
    if term := term_at(known, text.text, offset):
        return term.places
    spot = spot_at(text.text, offset) if file.kind else None
    name = name_at(known, file, spot) if spot else None
    if name is None or spot is None:
        return ()
    called = known.readable[file.inside].value(("nodes", name.name, "call")) if file.kind == "tree" else None
    trees = [tree for tree in _trees(known, file, spot) if tree.name == called]
    return (*name.places, *(place for tree in trees for place in tree.places))


def _trees(known: Known, file: File, spot: Spot) -> list[Name]:
    is_node = named_at(file.kind, spot.keys, is_key=spot.is_key) == "node"
    return list(names("tree", known, file, spot)) if is_node else []


def name_at(known: Known, file: File, spot: Spot) -> Name | None:
    """The name that a text stands for, if it is one that is known."""
    named = named_at(file.kind, spot.keys, is_key=spot.is_key)
    found = names(named, known, file, spot) if named else ()
    return next((name for name in found if name.name == spot.written), None)


def term_at(known: Known, text: str, offset: int) -> Name | None:
    """The term of the glossary whose brackets an offset lies in."""
    start = text.rfind("[[", 0, offset + 2)
    found = re.compile(TERM).match(text, start) if start >= 0 else None
    if found is None or offset > found.end():
        return None
    written = " ".join(found[1].split()).casefold()
    return next((term for term in terms(known) if term.name.casefold() == written), None)
