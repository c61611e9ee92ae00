"""How long the check and the build of the shipped guide take, against plain MkDocs."""

from __future__ import annotations

import contextlib
import html
import io
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from mkdocs.commands.build import build as build_with_mkdocs
from mkdocs.config import load_config

from build_tools.bench import many_trees
from build_tools.bench.row import BenchRow, NotMeasured
from build_tools.checks import check_guide
from build_tools.guide import loading
from build_tools.proof.evidence import COMMAND
from build_tools.setup import result_cache
from build_tools.setup.environment import ROOT
from build_tools.site.building import build

__all__ = ["built", "measure", "plain_site"]

GUIDE = ROOT / "guide_src"


def measure() -> list[BenchRow]:
    """Check cold, check again after an edit, and build, each against MkDocs alone on as many words."""
    with tempfile.TemporaryDirectory() as folder, _kept_apart(Path(folder, "kept")):
        aside = Path(folder)
        cold = _seconds(lambda: check_guide(loading.load(GUIDE)))
        edited = aside / "guide"
        shutil.copytree(GUIDE, edited)
        check_guide(loading.load(edited))
        _edit(edited)
        result_cache.start_afresh()
        warm = _seconds(lambda: check_guide(loading.load(edited)))
        if found := check_guide(loading.load(edited)):
            raise NotMeasured(f"the edited guide was to be sound: {found[0].what}")
        with contextlib.redirect_stdout(io.StringIO()):
            built(aside / "site")
            result_cache.start_afresh()
            whole = _seconds(lambda: built(aside / "site"))
        _rebuild(edited, aside / "draft")
        _edit(edited)
        again = _seconds(lambda: _rebuild(edited, aside / "draft"))
        plain = _seconds(lambda: plain_site(aside / "site", aside / "plain"))
        per_tree = [_cold(aside / f"trees-{trees}", trees) / trees for trees in (30, 300)]
    most = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    of = f"a plain MkDocs build of as many pages and words took {plain:.2f} s"
    return [
        BenchRow("check of the shipped guide, nothing kept", cold / plain, "seconds", f"{cold:.2f} s; {of}"),
        BenchRow("check after an edit of one tree", warm / plain, "a second", f"{warm:.2f} s; the same"),
        BenchRow(
            "check of 300 trees, nothing kept, a tree",
            per_tree[1] / per_tree[0],
            "at most 1.1",
            f"{300 * per_tree[1]:.1f} s (aim: 20) for 10,000 nodes; 30 trees took {30 * per_tree[0]:.1f} s; "
            f"at most {most / 2**20:.2f} GiB (aim: 1)",
        ),
        BenchRow("build, checks kept", whole / plain, "at most 3", f"{whole:.2f} s; the same"),
        BenchRow(
            "build of a draft after an edit, as serve does", again / plain, "2 s", f"{again:.2f} s; the same"
        ),
    ]


def _cold(folder: Path, trees: int) -> float:
    """Seconds to check so many trees with 100 nodes in three, with nothing kept of them."""
    many_trees.write(GUIDE, folder / "guide", trees, trees * 100 // 3)
    with _kept_apart(folder / "kept"):
        return _seconds(lambda: check_guide(loading.load(folder / "guide")))


def _edit(folder: Path) -> None:
    """Put another word before the title of the smallest site tree."""
    tree = min((folder / "trees" / "site").glob("*.yaml"), key=lambda path: path.stat().st_size)
    tree.write_text(tree.read_text().replace("title: ", "title: Again ", 1))


def _rebuild(folder: Path, to: Path) -> None:
    """Build it in a process of its own, as serve does after each change."""
    command = [sys.executable, "-m", "build_tools", "build", "--draft"]
    command += ["--guide", str(folder), "--to", str(to)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)


def built(to: Path) -> None:
    """Build the shipped guide. Raises NotMeasured when it is refused."""
    if build(GUIDE, to):
        raise NotMeasured(f"the guide's build is refused; `check` says why (stale evidence: {COMMAND})")


def plain_site(site: Path, to: Path) -> None:
    """Build every page of a site again, its words as plain Markdown, with the theme and nothing of ours."""
    docs = to.with_name(f"{to.name}-docs")
    for page in site.rglob("*.html"):
        words = re.sub(r"<(script|style|svg)\b.*?</\1>|<[^>]+>", " ", page.read_text(), flags=re.DOTALL)
        target = (docs / page.relative_to(site)).with_suffix(".md")
        target.parent.mkdir(parents=True, exist_ok=True)
        paragraphs = [" ".join(line.split()) for line in html.unescape(words).splitlines()]
        target.write_text("# Page\n\n" + "\n\n".join(re.escape(line) for line in paragraphs if line))
    settings = to.with_name("plain.yml")
    settings.write_text(
        "site_name: Plain\nuse_directory_urls: false\nplugins: [search]\n"
        "theme: {name: material, font: false}\n"
    )
    config = load_config(str(settings), docs_dir=str(docs), site_dir=str(to))
    build_with_mkdocs(config)


@contextlib.contextmanager
def _kept_apart(folder: Path) -> Iterator[None]:
    usual, result_cache.FOLDER = result_cache.FOLDER, folder
    try:
        yield
    finally:
        result_cache.FOLDER = usual


def _seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began
