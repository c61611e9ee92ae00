"""Where each tree of the premises ends on a street, fault by fault: the check's own walks as a table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from build_tools.guide.trees import Tree
from build_tools.pages.page import Book
from build_tools.walks.ends import Case, Ends, ends_on
from build_tools.walks.replays import Replay, replays_on
from calc.danger import endangered_homes
from calc.faults import HEALTHY, KINDS, Fault, parse_one
from calc.street import Street

__all__ = ["EndingsRow", "Reached", "TreeTable", "tree_tables"]


@dataclass(frozen=True, slots=True)
class Reached:
    """One outcome, where it stands in the site, and from how many walks it is reached."""

    words: str
    address: str
    walks: int


@dataclass(frozen=True, slots=True)
class EndingsRow:
    """One kind of fault, visited at one sort of home. `closing`: walks that can close the job."""

    fault: str
    visited: str
    walks: int
    closing: int
    reached: tuple[Reached, ...]
    replay: str  # the address of one of these walks, to be shown in the tree; empty where none is kept


@dataclass(frozen=True, slots=True)
class TreeTable:
    """One tree's rows; `always`: outcomes that every walk can reach, for they hang on no reading."""

    title: str
    address: str
    always: tuple[Reached, ...]
    rows: tuple[EndingsRow, ...]


def tree_tables(book: Book, street: Street) -> tuple[TreeTable, ...]:
    """A table for each site tree, with the healthy street and every fault beside which no job may be closed.
    Counts what is found; walks where something was not taken or not known are left out."""
    site = book.in_order(tree for tree in book.guide.trees.values() if tree.audience == "site")
    ends = ends_on(street, site)
    replays = replays_on(street, site)
    return tuple(
        _table(book, street, tree, ends[tree.id], replays[tree.id]) for tree in site if tree.id in ends
    )


def _table(
    book: Book, street: Street, tree: Tree, ends: dict[Case, Ends], replays: tuple[Replay, ...]
) -> TreeTable:
    address = book.tree_address(tree)
    always = frozenset.intersection(*(one.found for one in ends.values()))
    groups: dict[tuple[str, str], list[frozenset[str]]] = {}
    for (written, home), one in ends.items():
        fault = parse_one(written)
        if KINDS[fault.kind].keeps_open or fault == HEALTHY:
            groups.setdefault((fault.kind, _visited(street, fault, home)), []).append(one.found)
    name = next(id_ for id_, one in book.guide.streets.items() if one is street)
    shown = {
        (one.fault.kind, _visited(street, one.fault, one.home)): f"{address}#replay={name}.{one.fault.kind}"
        for one in replays
    }
    titles = {parse_one(written).kind: parse_one(written) for written, _ in ends}
    return TreeTable(
        tree.title,
        address,
        tuple(_reached(tree, address, Counter({id_: len(ends) for id_ in always}))),
        tuple(
            EndingsRow(
                _kind_title(titles[kind]),
                visited,
                len(walks),
                sum(any(getattr(tree.nodes[id_].spec, "closes", False) for id_ in found) for found in walks),
                tuple(_reached(tree, address, Counter(id_ for found in walks for id_ in found - always))),
                shown.get((kind, visited), ""),
            )
            for (kind, visited), walks in groups.items()
        ),
    )


def _kind_title(fault: Fault) -> str:
    return fault.title.removesuffix(f" at {fault.at}") if fault.at else fault.title


def _visited(street: Street, fault: Fault, home: str) -> str:
    """The visited home as the fault sees it."""
    if not fault.at:
        return "any home"
    own = fault.homes(street)
    if home in own:
        return "a home that is fed through it"
    return "one that shares metalwork" if home in endangered_homes(street, own) else "another home"


def _reached(tree: Tree, address: str, counted: Counter[str]) -> Iterator[Reached]:
    """The outcomes with most walks first."""
    for id_, walks in sorted(counted.items(), key=lambda item: (-item[1], item[0])):
        yield Reached(tree.nodes[id_].words, f"{address}#{id_}", walks)
