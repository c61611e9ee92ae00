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
from dataclasses import dataclass, field
from html.parser import HTMLParser
from itertools import accumulate
from pathlib import Path

from build_tools.offline import asked_outside

__all__ = ["make_strict"]

INLINE = "assets/inline"
_STYLES = f"{INLINE}/attributes.css"
_RUNS = {"", "module", "text/javascript", "application/javascript"}
_ASKS = re.compile(r"url\(\s*['\"]?(?!data:|#)", re.IGNORECASE)

Attributes = list[tuple[str, str | None]]


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


@dataclass(frozen=True, slots=True)
class _Piece:
    """A stretch of a page's text, and what is to stand there."""

    start: int
    end: int
    words: str


@dataclass
class _Page(HTMLParser):
    """One page: what is to be changed in its text, and the files that take up what is taken out."""

    text: str
    root: str
    files: dict[str, str] = field(default_factory=dict)
    classes: dict[str, str] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)
    pieces: list[_Piece] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()
        self._lines = [0, *accumulate(len(line) + 1 for line in self.text.split("\n"))]
        self._open: tuple[int, int, Attributes] | None = None
        self.feed(self.text)
        self.close()

    def rewritten(self) -> str:
        """The page's text with every piece in its place."""
        made, at = [], 0
        for piece in self.pieces:
            made += [self.text[at : piece.start], piece.words]
            at = piece.end
        page = "".join([*made, self.text[at:]])
        if self.classes:
            link = f'<link rel="stylesheet" href="{self.root}/{_STYLES}">'
            page = page.replace("</head>", f"{link}\n</head>", 1)
        return page

    def handle_starttag(self, tag: str, attrs: Attributes) -> None:
        self.refused += [f"<{tag}> runs {name}" for name, _ in attrs if name.startswith("on")]
        self.refused += asked_outside(tag, attrs)
        given = dict(attrs)
        start = self._here()
        end = start + len(self.get_starttag_text() or "")
        if tag == "style" or (tag == "script" and "src" not in given and (given.get("type") or "") in _RUNS):
            self._open = (start, end, attrs)
        elif given.get("style"):
            self.pieces.append(_Piece(start, end, self._classed(tag, attrs)))

    def handle_endtag(self, tag: str) -> None:
        if self._open and tag in ("script", "style"):
            start, inside, attrs = self._open
            here = self._here()
            content = self.text[inside:here]
            end = self.text.index(">", here) + 1
            self.pieces.append(_Piece(start, end, self._filed(tag, attrs, content)))
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

    def _here(self) -> int:
        line, column = self.getpos()
        return self._lines[line - 1] + column


def _tag(name: str, attrs: Attributes, end: str = ">") -> str:
    words = (key if value is None else f'{key}="{html.escape(value)}"' for key, value in attrs)
    return f"<{' '.join([name, *words])}{end}"
