"""A street's page says where each fault ends, as the walks do."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from build_tools.guide.loading import load
from build_tools.pages.endings import EndingsRow, TreeTable, tree_tables
from build_tools.pages.page import Book
from build_tools.pages.street_page import street_page
from build_tools.walks.oracle import Oracle
from build_tools.walks.ways import Ways
from calc.faults import KINDS, parse

SHIPPED = Path(__file__).parents[2] / "guide_src"
STREET = "high-fold-lane"


@pytest.fixture(scope="module")
def book() -> Book:
    guide = load(SHIPPED)
    assert guide.settings
    return Book(guide, guide.settings, guide.operator)


@pytest.fixture(scope="module")
def tables(book: Book) -> tuple[TreeTable, ...]:
    return tree_tables(book, book.guide.streets[STREET])


def rows(tables: tuple[TreeTable, ...], kind: str) -> list[EndingsRow]:
    return [row for table in tables for row in table.rows if row.fault == KINDS[kind].title]


def test_every_site_tree_and_every_endangering_fault_has_its_rows(
    book: Book, tables: tuple[TreeTable, ...]
) -> None:
    street = book.guide.streets[STREET]
    site = {tree.title for tree in book.guide.trees.values() if tree.audience == "site"}
    assert {table.title for table in tables} == site
    for kind in KINDS.values():
        places = len(list(kind.places(street)))
        counted = sum(row.walks for row in rows(tables[:1], kind.id))
        shown = kind.keeps_open or kind.id == "healthy"
        assert counted == (places * len(street.premises) if shown else 0), kind.id


def test_no_walk_of_a_home_fed_through_a_broken_pen_can_be_closed(tables: tuple[TreeTable, ...]) -> None:
    open_pen = [row for row in rows(tables, "service-pen-open") if "fed through" in row.visited]
    assert open_pen and all(row.closing == 0 for row in open_pen)


def test_a_healthy_street_can_be_closed_somewhere(tables: tuple[TreeTable, ...]) -> None:
    assert any(row.closing for row in rows(tables, "healthy"))


def test_the_counts_are_those_of_the_walks(book: Book, tables: tuple[TreeTable, ...]) -> None:
    """One row counted again, walk by walk."""
    tree, street = book.guide.trees["test-one-home"], book.guide.streets[STREET]
    table = next(table for table in tables if table.title == tree.title)
    row = next(row for row in rows((table,), "main-earth-lost") if "fed through" in row.visited)
    ends: list[str] = []
    for home in street.premises:
        fault = parse(f"main-earth-lost@{home}")
        reached = Ways(tree, Oracle(street, fault), home).endings()
        ends += [f"{table.address}#{ending.node}" for ending in reached if ending.willing]
    always = {one.address for one in table.always}
    assert {one.address: one.walks for one in row.reached} == {
        end: ends.count(end) for end in ends if end not in always
    }


def test_the_page_links_to_outcomes_that_are_there(book: Book) -> None:
    page = street_page(book, STREET, book.guide.streets[STREET]).html
    links = set(re.findall(r'href="\.\./trees/site/([\w-]+)\.html#([\w.-]+)"', page))
    assert links
    for tree, node in links:
        assert book.guide.trees[tree].nodes[node].kind == "outcome"
