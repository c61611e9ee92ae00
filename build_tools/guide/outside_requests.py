"""Holding a built site to its promise: no page asks another host for anything, and no link runs a script."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

__all__ = ["OutsideRequest", "address_read", "asked_in", "asked_outside", "outside_styles"]

_IN_STYLE = re.compile(r"(?:url\(|@import)\s*['\"]?\s*((?:https?:)?//[^'\")\s]+)", re.IGNORECASE)
_FETCHED = {
    "src", "srcset", "imagesrcset", "poster", "data", "background", "action", "formaction", "ping",
}  # fmt: skip
_LINKS_FETCHED = {
    "stylesheet", "icon", "apple-touch-icon", "preload", "modulepreload", "prefetch", "preconnect",
    "dns-prefetch", "manifest", "prerender",
}  # fmt: skip
_LINKED = {"", "http", "https", "tel", "mailto"}
"""Schemes that a link may lead to; without one it leads into the site, or to another host."""
_RUN = {"javascript", "vbscript", "data"}
_PICTURES = {"img", "image", "source", "input", "video", "audio", "link"}
"""What `data:` makes a picture or a sound of, and never a page."""
_SCHEME = re.compile(r"([a-z][a-z0-9+.-]*):", re.IGNORECASE)
_HOST = re.compile(r"[/\\]{2}")
_REFRESH = re.compile(r"[\d.\s]*[;,]?\s*(?:url\s*=)?\s*['\"]?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class OutsideRequest:
    """What one element of a page would do: `asks`, `runs`, `leads to`, `sends to` or `changes`, and what."""

    tag: str
    does: str
    what: str

    def __str__(self) -> str:
        return f"<{self.tag}> {self.does} {self.what}"


def outside_styles(site: Path) -> Iterator[str]:
    """`sheet.css: a style asks https://...` for each thing that a style sheet would fetch from elsewhere."""
    for path in sorted(site.rglob("*.css")):
        for match in _IN_STYLE.finditer(path.read_text(encoding="utf-8")):
            yield f"{path.relative_to(site).as_posix()}: a style asks {match[1]}"


def address_read(written: str) -> str:
    """An address as browsers read it (WHATWG URL Standard, basic URL parser): without blanks and control
    characters at its ends, and without tabs and line breaks wherever they stand."""
    return re.sub(r"[\t\n\r]", "", written.strip("".join(map(chr, range(0x21)))))


def asked_in(page: str) -> list[OutsideRequest]:
    """What the elements of some HTML would fetch from elsewhere, or run."""
    looking = _Looking()
    looking.feed(page)
    looking.close()
    return looking.found


def asked_outside(tag: str, attrs: list[tuple[str, str | None]]) -> Iterator[OutsideRequest]:
    """What one element would fetch from elsewhere, or run. Every attribute counts, since of two with one name
    browsers take the first."""
    for name, value in attrs:
        if name.startswith("on") or name == "srcdoc":
            yield OutsideRequest(tag, "runs", name)
        elif name == "attributename" and value and value.strip().lower().endswith("href"):
            yield OutsideRequest(tag, "changes", value)
        elif value and (":" in value or "/" in value or "\\" in value):
            yield from _asked(tag, name, value, attrs)


def _asked(tag: str, name: str, value: str, attrs: list[tuple[str, str | None]]) -> Iterator[OutsideRequest]:
    if name == "style" and (match := _IN_STYLE.search(value)):
        yield OutsideRequest(tag, "asks", match[1])
    elif name in ("href", "xlink:href") and _is_link(tag, attrs):
        if (scheme := _scheme(value)) not in _LINKED:
            yield OutsideRequest(tag, "runs" if scheme in _RUN else "leads to", value)
    elif name in _FETCHED or name in ("href", "xlink:href"):
        for one in value.split(",") if name.endswith("srcset") else [value]:
            if does := _fetched(tag, one):
                yield OutsideRequest(tag, does, value)
    elif tag == "meta" and name == "content" and _sends(value, attrs):
        yield OutsideRequest(tag, "sends to", value)


def _is_link(tag: str, attrs: list[tuple[str, str | None]]) -> bool:
    """Whether its address is followed and not fetched."""
    if tag == "link":
        return not _LINKS_FETCHED & set(_given("rel", attrs).split())
    return tag in ("a", "area")


def _sends(content: str, attrs: list[tuple[str, str | None]]) -> bool:
    """Whether a `meta` sends its reader out of the site."""
    refreshes = _given("http-equiv", attrs) == "refresh"
    return refreshes and bool(_fetched("meta", _REFRESH.sub("", content, count=1)))


def _given(name: str, attrs: list[tuple[str, str | None]]) -> str:
    return " ".join(value for one, value in attrs if one == name and value).lower().strip()


def _fetched(tag: str, address: str) -> str:
    """What fetching an address does; nothing where it lies in the site, or is a picture in itself."""
    scheme = _scheme(address)
    if scheme == "data" and tag in _PICTURES:
        return ""
    if scheme:
        return "runs" if scheme in _RUN else "asks"
    return "asks" if _HOST.match(address_read(address)) else ""


def _scheme(address: str) -> str:
    """The scheme that a browser goes by, in small letters; nothing for an address beside the page."""
    match = _SCHEME.match(address_read(address))
    return match[1].lower() if match else ""


class _Looking(HTMLParser):
    """Notes what the elements ask."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[OutsideRequest] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += asked_outside(tag, attrs)
