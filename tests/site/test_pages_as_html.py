"""Every page as a document: HTML by the Nu checker, links that resolve, images that have text."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

from build_tools.setup import programs

GUIDE = Path(__file__).parents[2] / "guide_src"
HARMLESS = r".*Trailing slash on void elements has no effect.*"  # true, and allowed by the standard


@dataclass
class Document(HTMLParser):
    """What a page links to, what in it can be linked to, and what it shows without words."""

    html: str
    links: list[str] = field(default_factory=list)
    anchors: set[str] = field(default_factory=set)
    silent: list[str] = field(default_factory=list)
    ours: bool = False  # after the theme's head, whose icons stand in controls that have names

    def __post_init__(self) -> None:
        super().__init__()
        self.feed(self.html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.links += [given[name] for name in ("href", "src") if name in given]
        self.anchors |= {given[name] for name in ("id", "name") if name in given}
        self.ours |= "ln" in given.get("class", "").split()
        named = given.get("aria-label") or given.get("aria-labelledby")
        if tag == "img" and "alt" not in given:
            self.silent.append(self.get_starttag_text() or "")
        if tag == "svg" and self.ours and not named and given.get("aria-hidden") != "true":
            self.silent.append(self.get_starttag_text() or "")


@pytest.fixture(scope="module")
def documents(site: Path) -> dict[Path, Document]:
    return {path: Document(path.read_text("utf-8")) for path in sorted(site.rglob("*.html"))}


def faults_of_html(folder: Path) -> str:
    """What the Nu checker says of every page in a folder; nothing when it finds nothing."""
    checker = programs.html_checker()
    if not checker:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("Java is not installed")
    asked = ["--skip-non-html", "--filterpattern", HARMLESS, str(folder)]
    found = subprocess.run([*checker, *asked], capture_output=True, text=True)
    assert (found.returncode == 0) == (found.stderr == "")
    return found.stderr


def test_the_html_checker_finds_nothing(site: Path) -> None:
    assert faults_of_html(site) == ""


def test_the_html_checker_finds_what_is_wrong(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text('<!doctype html><html lang="en"><title>A</title><p id="a"><p id="a">')
    assert "Duplicate ID" in faults_of_html(tmp_path)


def test_every_link_leads_to_a_file_and_a_place_in_it(site: Path, documents: dict[Path, Document]) -> None:
    led = [found for path in documents for found in _astray(site, path, documents)]
    assert led == []
    assert sum(len(document.links) for document in documents.values()) > 2_000


def _astray(site: Path, path: Path, documents: dict[Path, Document]) -> Iterator[str]:
    for link in documents[path].links:
        parts = urlsplit(link)
        if parts.scheme in ("tel", "data", "mailto"):
            continue
        to = (path.parent / unquote(parts.path)).resolve() if parts.path else path
        place = unquote(parts.fragment)
        told = f"{path.relative_to(site)}: {link}"
        if parts.scheme or parts.netloc or not to.is_relative_to(site) or not to.is_file():
            yield told
        elif place and to in documents:
            is_data = "=" in place and to.parent.name in ("calculators", "call", "site")  # for its script
            if place not in documents[to].anchors and not is_data:
                yield told


def test_images_have_text(documents: dict[Path, Document]) -> None:
    silent = {path.name: document.silent for path, document in documents.items() if document.silent}
    assert silent == {}
