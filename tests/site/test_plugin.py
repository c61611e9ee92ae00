"""The build as a whole: what is refused leaves the last good site, and what is built keeps its promises."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from build_tools.guide.outside_requests import asked_in, outside_styles
from build_tools.site import building
from build_tools.site.building import _OWN_THEME

ROOT = Path(__file__).parents[2]
GUIDES = Path(__file__).parents[1] / "guides"


def outside_requests(site: Path) -> Iterator[str]:
    for path in sorted(site.rglob("*.html")):
        yield from map(str, asked_in(path.read_text("utf-8")))
    yield from outside_styles(site)


@pytest.fixture
def guide(tmp_path: Path) -> Path:
    """A copy of the guide to walk, to be spoilt."""
    return Path(shutil.copytree(GUIDES / "walked", tmp_path / "guide"))


def mkdocs_build(guide: Path, **settings: object) -> subprocess.CompletedProcess[str]:
    """What `mkdocs build` does with this project's settings, changed by `settings`, for a guide."""
    config = yaml.safe_load((ROOT / "mkdocs.yml").read_text("utf-8"))
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


def test_mkdocs_itself_refuses_a_catalogue_that_is_none(guide: Path) -> None:
    ours = {"lost-neutral": {"guide": str(guide), "language": "nowhere.po"}}
    refused = mkdocs_build(guide, plugins=[ours])
    assert refused.returncode == 1
    assert "nowhere.po cannot be read: No such file or directory" in refused.stdout + refused.stderr
    assert "Traceback" not in refused.stdout + refused.stderr


BROKEN = (
    ("pages/seen.md", "![](https://example.org/a.png)", {}, "seen.md:1:5: asks-outside:"),
    ("pages/lost.md", "[x](nowhere.md)", {}, "1 warned of above; a strict build takes none"),
    ("../hook.py", "def on_env(env, **_):\n    raise ValueError('amid')", {"hooks": ["hook.py"]}, "amid"),
    ("../hook.py", "def on_pre_build(**_):\n    raise ValueError('early')", {"hooks": ["hook.py"]}, "early"),
    ("notes.txt", "as it was", {"use_directory_urls": True}, "mkdocs.yml:"),
)
"""What stops a build, before or after MkDocs empties the folder: a file, settings, what is said of it."""


def test_mkdocs_itself_leaves_the_last_good_site(guide: Path) -> None:
    assert mkdocs_build(guide).returncode == 0
    before = everything(guide.parent / "site")
    for name, text, settings, told in BROKEN:
        (guide / name).write_text(text, "utf-8")
        refused = mkdocs_build(guide, **settings)
        (guide / name).unlink()
        assert refused.returncode == 1
        assert told in refused.stdout + refused.stderr
        assert everything(guide.parent / "site") == before
        assert not list(guide.parent.glob(".site-*")), "nothing is left beside it"
    command = [
        sys.executable,
        "-m",
        "mkdocs",
        "build",
        "--dirty",
        "--config-file",
        guide.parent / "mkdocs.yml",
    ]
    refused = subprocess.run(command, capture_output=True, text=True)
    assert (refused.returncode, everything(guide.parent / "site")) == (1, before)
    assert "without --dirty" in refused.stdout + refused.stderr


def test_a_folder_of_somebody_elses_is_not_emptied(guide: Path) -> None:
    (guide.parent / "site").mkdir()
    (guide.parent / "site/letters.txt").write_text("mine", "utf-8")
    refused = mkdocs_build(guide)
    assert refused.returncode == 1
    assert "is not a guide built earlier, so it is left alone" in refused.stdout + refused.stderr
    assert (guide.parent / "site/letters.txt").read_text("utf-8") == "mine"


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("trees/site/sum-in-jaw.yaml", "title: [", "sum-in-jaw.yaml:2:1: yaml:"),
        ("pages/glossary.md", "# Mine", "would stand in for a page that the guide makes"),
        (
            "pages/seen.md",
            "![](https://example.org/a.png)",
            "pages/seen.md:1:5: asks-outside: `<img>` asks `https://example.org/a.png`",
        ),
        (
            "pages/styled.md",
            "<p style='background:url(//a.example/b)'>x</p>",
            "pages/styled.md:1:26: asks-outside: `<p>` asks `//a.example/b`",
        ),
        ("pages/sheet.css", "@import '//a.example/b.css';", "sheet.css: a style asks //a.example/b.css"),
        (
            "pages/run.md",
            "[x](javascript:alert(1))",
            "pages/run.md:1:5: runs-script: a link runs `javascript:alert(1)`",
        ),
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
    built = mkdocs_build(guide, theme=_OWN_THEME)
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
        '<a href="java&#9;script:alert(1)">',
        '<a href="&#1;vbscript&colon;x">',
        '<a href="data:text/html,x">',
        '<a href="file:///etc/hosts">',
        '<a href="javascript:x" href="page.html">',
        '<svg><a xlink:href="javascript:x">',
        '<svg><animate attributeName="href" values="javascript:x">',
        '<iframe src="data:text/html,x">',
        '<iframe srcdoc="x">',
        '<img src="https:/a.example/b.png">',
        '<img src="\\\\a.example\\b.png">',
        '<form action="javascript:x">',
        '<meta http-equiv="refresh" content="0;url=javascript:x">',
    ],
)
def test_what_asks_another_host_is_found(tmp_path: Path, asks: str) -> None:
    (tmp_path / "page.html").write_text(f"<!doctype html><p>{asks}", "utf-8")
    assert len(list(outside_requests(tmp_path))) == 1


def test_links_and_canonical_addresses_ask_nothing(tmp_path: Path) -> None:
    quiet = (
        '<a href="https://a.example">a</a><link rel="canonical" href="https://a.example"><img src="data:,">'
        '<a href="tel:112">b</a><a href="MAILTO:a@a.example">c</a><a href="#a:b">d</a>'
        '<a href="//a.example">e</a><meta http-equiv="refresh" content="5; url=page.html">'
    )
    (tmp_path / "page.html").write_text(quiet, "utf-8")
    (tmp_path / "sheet.css").write_text("a { background: url(b.png) }", "utf-8")
    assert list(outside_requests(tmp_path)) == []
    (tmp_path / "sheet.css").write_text("@import 'https://a.example/b.css';", "utf-8")
    assert len(list(outside_requests(tmp_path))) == 1
