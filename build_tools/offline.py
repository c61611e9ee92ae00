"""Holding a built site to its promise: no page asks another host for anything."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

__all__ = ["asked_outside", "outside_styles"]

_OUTSIDE = re.compile(r"\s*([a-z][a-z0-9+.-]*:)?//", re.IGNORECASE)
_IN_STYLE = re.compile(r"(?:url\(|@import)\s*['\"]?\s*((?:https?:)?//[^'\")\s]+)", re.IGNORECASE)
_FETCHED = {"src", "srcset", "poster", "data", "background", "action", "formaction", "ping"}
_LINKS_FETCHED = {
    "stylesheet", "icon", "apple-touch-icon", "preload", "modulepreload", "prefetch", "preconnect",
    "dns-prefetch", "manifest", "prerender",
}  # fmt: skip


def outside_styles(site: Path) -> Iterator[str]:
    """`sheet.css: a style asks https://...` for each thing that a style sheet would fetch from elsewhere."""
    for path in sorted(site.rglob("*.css")):
        for match in _IN_STYLE.finditer(path.read_text(encoding="utf-8")):
            yield f"{path.relative_to(site).as_posix()}: a style asks {match[1]}"


def asked_outside(tag: str, attrs: list[tuple[str, str | None]]) -> Iterator[str]:
    """What one element would fetch from elsewhere. A link that runs script counts too."""
    given = {name: value for name, value in attrs if value and ("/" in value or ":" in value)}
    if not given:
        return
    rels = set((dict(attrs).get("rel") or "").lower().split())
    fetched = _FETCHED | (
        {"href", "xlink:href"} if tag in ("base", "use", "image") or rels & _LINKS_FETCHED else set()
    )
    for name, value in given.items():
        if name in fetched and any(map(_OUTSIDE.match, value.split(",") if name == "srcset" else [value])):
            yield f"<{tag}> asks {value}"
        if name == "style" and (match := _IN_STYLE.search(value)):
            yield f"<{tag}> asks {match[1]}"
        if name == "href" and value.strip().lower().startswith("javascript:"):
            yield f"<{tag}> runs {value}"
    sent = (dict(attrs).get("http-equiv") or "").lower() == "refresh"
    if tag == "meta" and sent and "//" in given.get("content", ""):
        yield f"<meta> sends to {given['content']}"
