"""Tables in authors' pages that scroll by themselves, so that the page around them never does."""

from __future__ import annotations

from collections import Counter
from typing import Any
from xml.etree.ElementTree import Element

from markdown import Markdown
from markdown.extensions import Extension
from markdown.treeprocessors import Treeprocessor

__all__ = ["ScrolledTables"]


class ScrolledTables(Extension):  # type: ignore[misc]
    """Puts each table into a region that keys can reach, named after the table's first heading."""

    def extendMarkdown(self, md: Markdown) -> None:
        md.treeprocessors.register(_Scrolled(md), "ln-scrolled", 5)  # after words have become elements


class _Scrolled(Treeprocessor):  # type: ignore[misc]
    def run(self, root: Element) -> None:
        named: Counter[str] = Counter()
        for parent in list(root.iter()):
            for place, table in enumerate(parent):
                if table.tag != "table":
                    continue
                name = "".join(next(table.iter("th"), table).itertext()).strip() or "Table"
                named[name] += 1
                if named[name] > 1:
                    name += f" ({named[name]})"
                table.set("class", "ln-grid")
                parent[place] = _region(table, name)


def _region(table: Element, name: str) -> Element:
    given: dict[str, Any] = {"class": "ln-table", "role": "region", "tabindex": "0", "aria-label": name}
    region = Element("div", given)
    region.append(table)
    region.tail, table.tail = table.tail, None
    return region
