"""Pages under a strict policy: scripts and styles that stand in a page become files of `assets/inline/`.

Themes write small scripts into every page, and tables that are aligned get `style` attributes. A web server
that lets pages run and wear nothing but files of its own would stop them. So each piece becomes a file named
after its content, and each `style` attribute a class; the rest of a page stays as it was, to the letter.
Data in a page (`<script type="application/json">`) runs nothing, and stays.
"""

from __future__ import annotations

import hashlib
import html
import os
import re
from collections.abc import Iterator
from pathlib import Path

from build_tools.guide.outside_requests import asked_outside
from build_tools.site.page_text import Attributes, PageText, Piece, with_pieces

__all__ = ["make_strict"]

INLINE = "assets/inline"
_STYLES = f"{INLINE}/attributes.css"
_RUNS = {"", "module", "text/javascript", "application/javascript"}
_ASKS = re.compile(r"url\(\s*['\"]?(?!data:|#)", re.IGNORECASE)


def make_strict(site: Path) -> Iterator[str]:
    """Rewrite the pages of a built site; yields `page.html: <a> runs ...` for what has no place in a file,
    and `page.html: <img> asks ...` for what would come from elsewhere: a page is read once for both."""
    classes: dict[str, str] = {}
    for path in sorted(site.rglob("*.html")):
        root = os.path.relpath(site, path.parent).replace(os.sep, "/")
        page = _Page(path.read_text(encoding="utf-8"), root)
        yield from (f"{path.relative_to(site).as_posix()}: {found}" for found in page.refused)
        path.write_text(page.rewritten(), encoding="utf-8")
        for name, content in page.files.items():
            _write(site / INLINE / name, content)
        classes |= page.classes
    if classes:
        # As strong as an attribute is against every rule of a style sheet that does not name an id twice.
        rules = (f".{name}:not(#_#_) {{ {style} }}\n" for name, style in sorted(classes.items()))
        _write(site / _STYLES, "".join(rules))


def _write(file: Path, content: str) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(content, encoding="utf-8")


class _Page(PageText):
    """One page: what is to be changed in its text, and the files that take up what is taken out."""

    def __init__(self, text: str, root: str) -> None:
        super().__init__(text)
        self.root = root
        self.files: dict[str, str] = {}
        self.classes: dict[str, str] = {}
        self.refused: list[str] = []
        self.pieces: list[Piece] = []
        self._open: tuple[int, int, Attributes] | None = None
        self.read()

    def rewritten(self) -> str:
        """The page's text with every piece in its place."""
        page = with_pieces(self.text, self.pieces)
        if self.classes:
            link = f'<link rel="stylesheet" href="{self.root}/{_STYLES}">'
            page = page.replace("</head>", f"{link}\n</head>", 1)
        return page

    def handle_starttag(self, tag: str, attrs: Attributes) -> None:
        self.refused += map(str, asked_outside(tag, attrs))
        given = dict(attrs)
        start = self.here
        end = start + len(self.get_starttag_text() or "")
        if tag == "style" or (tag == "script" and "src" not in given and (given.get("type") or "") in _RUNS):
            self._open = (start, end, attrs)
        elif given.get("style"):
            self.pieces.append(Piece(start, end, self._classed(tag, attrs)))

    def handle_endtag(self, tag: str) -> None:
        if self._open and tag in ("script", "style"):
            start, inside, attrs = self._open
            here = self.here
            content = self.text[inside:here]
            end = self.text.index(">", here) + 1
            self.pieces.append(Piece(start, end, self._filed(tag, attrs, content)))
            self._open = None

    def _filed(self, tag: str, attrs: Attributes, content: str) -> str:
        """The element that loads what stood in the page."""
        if tag == "style":
            self._judge(tag, content)
        name = f"{hashlib.sha256(content.encode()).hexdigest()[:12]}.{'js' if tag == 'script' else 'css'}"
        self.files[name] = content
        address = f"{self.root}/{INLINE}/{name}"
        if tag == "script":
            return _tag("script", [*attrs, ("src", address)]) + "</script>"
        return _tag("link", [*attrs, ("rel", "stylesheet"), ("href", address)])

    def _classed(self, tag: str, attrs: Attributes) -> str:
        """The start tag with a class in place of its style."""
        given = dict(attrs)
        style = given.pop("style") or ""
        self._judge(tag, style)
        name = f"s-{hashlib.sha256(style.encode()).hexdigest()[:8]}"
        self.classes[name] = style
        given["class"] = f"{given.get('class') or ''} {name}".strip()
        closed = (self.get_starttag_text() or "").endswith("/>")
        return _tag(tag, list(given.items()), "/>" if closed else ">")

    def _judge(self, tag: str, style: str) -> None:
        if _ASKS.search(style):
            self.refused.append(f"the style of <{tag}> names a file, and would look for it elsewhere")


def _tag(name: str, attrs: Attributes, end: str = ">") -> str:
    words = (key if value is None else f'{key}="{html.escape(value)}"' for key, value in attrs)
    return f"<{' '.join([name, *words])}{end}"
