"""What a screen reader has of a page: the browser's own accessibility tree, told in lines.

One line for each thing that a reader goes by or is told: landmarks and headings, names and descriptions of
controls, pictures and tables, what speaks up by itself. Prose and the contents of tables are left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Page

__all__ = ["LANDMARKS", "Heard", "heard", "outline"]

LANDMARKS = {"banner", "complementary", "contentinfo", "form", "main", "navigation", "region", "search"}
"""Source: WAI-ARIA 1.2, landmark roles."""

_CONTROLS = {
    "button", "checkbox", "combobox", "DisclosureTriangle", "link", "radio", "searchbox", "slider",
    "spinbutton", "textbox",
}  # fmt: skip
_TOLD = LANDMARKS | _CONTROLS | {
    "alert", "article", "dialog", "figure", "group", "heading", "image", "list", "log", "status", "table",
}  # fmt: skip
_AS_SAID = {"DisclosureTriangle": "unfolds", "image": "picture"}


@dataclass(frozen=True)
class Heard:
    """One thing of the tree, with what lies in it; `says` is all the text in it."""

    role: str
    name: str
    description: str
    properties: dict[str, Any]
    within: tuple[Heard, ...] = field(repr=False)
    text: str = field(default="", repr=False)

    @property
    def says(self) -> str:
        return " ".join(part for part in (self.text, *(one.says for one in self.within)) if part)

    def all(self) -> Iterator[Heard]:
        """It, and everything in it, in the order of the page."""
        yield self
        for one in self.within:
            yield from one.all()


def heard(page: Page) -> Heard:
    """The whole page as it stands now."""
    session = page.context.new_cdp_session(page)
    nodes = {node["nodeId"]: node for node in session.send("Accessibility.getFullAXTree")["nodes"]}
    session.detach()
    (root,) = (node for node in nodes.values() if "parentId" not in node)
    made = _made(root, nodes)
    return made[0]


def _made(node: dict[str, Any], nodes: dict[str, dict[str, Any]]) -> tuple[Heard, ...]:
    """What a node is to a reader: nothing itself where it is ignored, only what lies in it."""
    inside = tuple(
        one for child in node.get("childIds", ()) if child in nodes for one in _made(nodes[child], nodes)
    )
    if node.get("ignored"):
        return inside
    role, name = _value(node, "role"), _value(node, "name")
    if role in ("InlineTextBox", "ListMarker"):
        return ()
    properties = {one["name"]: one["value"].get("value") for one in node.get("properties", ())}
    text = name if role == "StaticText" else ""
    return (Heard(role, "" if text else name, _value(node, "description"), properties, inside, text),)


def _value(node: dict[str, Any], name: str) -> str:
    return " ".join(str(node.get(name, {}).get("value", "")).split())


def outline(one: Heard, depth: int = 0) -> Iterator[str]:
    """Lines, what lies in something set in under it."""
    deeper = depth
    if one.role in _TOLD and (line := _line(one)):
        yield "  " * depth + line
        deeper = depth + 1
        if one.role in _CONTROLS or one.role in ("image", "heading", "table"):
            return
    for inner in one.within:
        yield from outline(inner, deeper)


def _line(one: Heard) -> str:
    """How it is announced; nothing for a list of no name that holds what is announced anyway."""
    role = _AS_SAID.get(one.role, one.role)
    name = f" “{one.name}”" if one.name else ""
    described = f" ({_short(one.description)})" if one.description else ""
    if one.role == "heading":
        return f"heading {one.properties['level']}{name}{described}"
    if one.role == "table":
        heads = [cell.name for cell in one.all() if cell.role == "columnheader"]
        return f"table{name}: {' | '.join(heads)}"
    if one.role == "list":
        return f"list of {sum(item.role == 'listitem' for item in one.within)}{name}"
    if one.properties.get("live", "off") != "off":
        return f"{role}, speaks up{name}: {_short(one.says)}".rstrip(": ")
    if one.role in ("group", "article", "figure") and not one.name:
        return ""
    states = [
        state for state in ("disabled", "invalid") if one.properties.get(state) not in (None, False, "false")
    ]
    states += [
        f"{state}: {one.properties[state]}"
        for state in ("checked", "expanded", "pressed")
        if state in one.properties
    ]
    return f"{role}{name}{described}{''.join(f', {state}' for state in states)}"


def _short(words: str) -> str:
    return words if len(words) <= 100 else f"{words[:99]}…"
