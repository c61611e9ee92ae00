"""The build as a whole: what is refused leaves the last good site, and what is built keeps its promises."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
import yaml

from build_tools import building
from build_tools.offline import asked_outside, outside_styles

ROOT = Path(__file__).parent.parent
GUIDES = Path(__file__).parent / "guides"


class Asked(HTMLParser):
    """What a page would fetch from elsewhere."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += asked_outside(tag, attrs)


def outside_requests(site: Path) -> Iterator[str]:
    for path in sorted(site.rglob("*.html")):
        page = Asked()
        page.feed(path.read_text("utf-8"))
        yield from page.found
    yield from outside_styles(site)


@pytest.fixture
def guide(tmp_path: Path) -> Path:
    """A copy of the guide to walk, to be spoilt."""
    return Path(shutil.copytree(GUIDES / "walked", tmp_path / "guide"))


def mkdocs_build(guide: Path, **settings: object) -> subprocess.CompletedProcess[str]:
    """What `mkdocs build` does with this project's settings, changed by `settings`, for a guide."""
    config = yaml.safe_load((ROOT / "mkdocs.yml").read_text("utf-8"))
    config["theme"]["custom_dir"] = str(ROOT / "build_tools" / "theme")
    config["docs_dir"] = str(guide / "pages")
    config["plugins"] = ["search", {"lost-neutral": {"guide": str(guide)}}]
    file = guide.parent / "mkdocs.yml"
    file.write_text(yaml.safe_dump(config | settings), "utf-8")
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "--config-file", str(file)]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT)


def everything(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Every file's bytes and time of writing."""
    files = (path for path in folder.rglob("*") if path.is_file())
    return {
        path.relative_to(folder).as_posix(): (path.read_bytes(), path.stat().st_mtime_ns) for path in files
    }


def test_mkdocs_itself_refuses_before_it_empties_the_site(guide: Path) -> None:
    built = mkdocs_build(guide)
    assert built.returncode == 0, built.stderr
    before = everything(guide.parent / "site")
    assert "trees/site/tingle-visit.html" in before
    tree = guide / "trees/site/tingle-visit.yaml"
    tree.write_text(tree.read_text("utf-8").replace("{from: 0.5, to: 5,", "{from: 0.8, to: 5,"), "utf-8")
    refused = mkdocs_build(guide)
    assert refused.returncode == 1
    assert "tingle-visit.yaml:32:16: range-gap" in refused.stdout
    assert "the site is as it was" in refused.stdout
    assert "Traceback" not in refused.stdout + refused.stderr
    assert everything(guide.parent / "site") == before


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("trees/site/sum-in-jaw.yaml", "title: [", "sum-in-jaw.yaml:2:1: yaml:"),
        ("pages/glossary.md", "# Mine", "would stand in for a page that the guide makes"),
        (
            "pages/seen.md",
            "![](https://example.org/a.png)",
            "seen.html: <img> asks https://example.org/a.png",
        ),
        ("pages/styled.md", "<p style='background:url(//a.example/b)'>x</p>", "asks //a.example/b"),
        ("pages/run.md", "[x](javascript:alert(1))", "<a> runs javascript:alert(1)"),
    ],
)
def test_a_refused_build_leaves_the_last_good_site(
    guide: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str], name: str, text: str, told: str
) -> None:
    site = tmp_path / "site"
    assert building.build(guide, site) == 0
    before = everything(site)
    (guide / name).write_text(text, "utf-8")
    capfd.readouterr()
    assert building.build(guide, site) == 1
    said = "".join(capfd.readouterr())
    assert told in said
    assert "Traceback" not in said
    assert everything(site) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["guide", "site"]


def test_a_guide_without_pages_gets_a_way_in(tmp_path: Path) -> None:
    assert building.build(GUIDES / "small", tmp_path / "site") == 0
    home = (tmp_path / "site/index.html").read_text("utf-8")
    listed = json.loads((tmp_path / "site/guide.json").read_text("utf-8"))
    assert listed["version"] == "1"
    for page in (entry["page"] for kind in ("trees", "calculators", "streets") for entry in listed[kind]):
        assert f'href="{page}"' in home
        assert (tmp_path / "site" / page).is_file()


def test_the_guide_stands_without_the_themes_help(guide: Path) -> None:
    built = mkdocs_build(guide, theme={"name": "mkdocs", "highlightjs": False})
    assert built.returncode == 0, built.stderr
    page = (guide.parent / "site/trees/site/tingle-visit.html").read_text("utf-8")
    assert page.count("data-node=") == 7
    assert 'href="../../assets/guide.css"' in page
    assert list(outside_requests(guide.parent / "site")) == []


@pytest.mark.parametrize(
    "asks",
    [
        '<script src="https://a.example/b.js"></script>',
        '<link rel="preconnect" href="//a.example">',
        '<link href="HTTPS://a.example/s.css" rel="stylesheet">',
        '<img srcset="b.png 1x, https://a.example/b.png 2x">',
        '<use href="https://a.example/icons.svg#x">',
        '<form action="https://a.example/">',
        '<base href="https://a.example/">',
        '<meta http-equiv="refresh" content="0; url=https://a.example/">',
        "<p style=\"background: url( 'https://a.example/b' )\">",
        '<a href=" JavaScript:alert(1)">',
    ],
)
def test_what_asks_another_host_is_found(tmp_path: Path, asks: str) -> None:
    (tmp_path / "page.html").write_text(f"<!doctype html><p>{asks}", "utf-8")
    assert len(list(outside_requests(tmp_path))) == 1


def test_links_and_canonical_addresses_ask_nothing(tmp_path: Path) -> None:
    quiet = (
        '<a href="https://a.example">a</a><link rel="canonical" href="https://a.example"><img src="data:,">'
    )
    (tmp_path / "page.html").write_text(quiet, "utf-8")
    (tmp_path / "sheet.css").write_text("a { background: url(b.png) }", "utf-8")
    assert list(outside_requests(tmp_path)) == []
    (tmp_path / "sheet.css").write_text("@import 'https://a.example/b.css';", "utf-8")
    assert len(list(outside_requests(tmp_path))) == 1
