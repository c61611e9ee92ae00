"""A small guide on disk that a test can spoil, and the built guide of a test module in a browser."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import subprocess
import sys
import zlib
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest
from axe import Axe
from browsing import browser, watched
from hypothesis import HealthCheck, Phase, settings
from playwright.sync_api import Browser, BrowserContext, Page

from build_tools.bench.local_server import served
from build_tools.guide.loading import load
from build_tools.guide.trees import Guide
from calc.sampling import Sampling

ROOT = Path(__file__).parent.parent
TODAY = date(2026, 7, 1)
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile(  # for whoever asks only whether a test fails
    "unshrunk", settings.get_profile("untimed"), phases=[Phase.explicit, Phase.generate], derandomize=True
)
settings.load_profile("untimed")  # how long something takes is for the benchmark


@dataclass(frozen=True)
class GuideOnDisk:
    """A copy of `tests/guides/small` in the working folder, read as on 1 July 2026."""

    folder: Path

    def write(self, name: str, text: str) -> GuideOnDisk:
        """Write one file whole."""
        (self.folder / name).parent.mkdir(parents=True, exist_ok=True)
        (self.folder / name).write_text(text, "utf-8")
        return self

    def edit(self, name: str, old: str, new: str) -> GuideOnDisk:
        """Change one piece of text that is there once."""
        text = (self.folder / name).read_text("utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {name}"
        return self.write(name, text.replace(old, new))

    def load(self) -> Guide:
        """The guide, and what was found while it was read."""
        return load(self.folder, TODAY)

    def sound(self) -> Guide:
        """The guide, which must have been read without a finding."""
        guide = self.load()
        assert guide.findings == ()
        return guide


LONGEST_FIRST = ("site", "publish", "setup", "proof", "plan", "mutate", "language_server", "starter", "pages")
"""Folders whose files take long: begun last, one of them would keep a run of many workers waiting for it
alone."""


WAYS = frozenset({"address", "visit", "opened"})
"""Fixtures that open pages by each way there is: from a folder, over HTTP, kept on a device."""


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    def place(item: pytest.Item) -> int:
        folder = item.path.parent.name
        return LONGEST_FIRST.index(folder) if folder in LONGEST_FIRST else len(LONGEST_FIRST)

    if not config.getoption("--every-way"):
        left_out = left_out_ways(items)
        config.hook.pytest_deselected(items=[item for item in items if item in left_out])
        items[:] = [item for item in items if item not in left_out]
    if "PYTEST_XDIST_WORKER" in os.environ:  # else one after another, as they were asked
        items.sort(key=place)


def left_out_ways(items: list[pytest.Item]) -> set[pytest.Item]:
    """A test that can go by each way to its pages goes by one of them, which its name decides: about as many
    go by each, and half of the time is saved."""
    alike: dict[str, list[pytest.Item]] = defaultdict(list)
    for item in items:
        params: dict[str, object] = getattr(getattr(item, "callspec", None), "params", {})
        for way in WAYS & params.keys():
            alike[item.nodeid.replace(str(params[way]), "", 1)].append(item)
    chosen = {ways[zlib.crc32(name.encode()) % len(ways)] for name, ways in alike.items()}
    return {item for ways in alike.values() for item in ways} - chosen


@pytest.fixture(scope="session")
def guide() -> Guide:
    """The shipped guide, read once; tests only read it."""
    return load(ROOT / "guide_src")


@pytest.fixture(scope="session")
def sampling(guide: Guide) -> Sampling:
    """What the shipped guide's streets are drawn from."""
    assert guide.sampling is not None
    return guide.sampling


@pytest.fixture
def pair_with(tmp_path: Path) -> Callable[..., Path]:
    """A copy of `tests/guides/pair`, anew each time, with pieces of text of one of its files replaced."""

    def make(*changes: tuple[str, str], file: str = "trees/site/visit.yaml") -> Path:
        folder = tmp_path / "pair"
        shutil.copytree(ROOT / "tests" / "guides" / "pair", folder, dirs_exist_ok=True)
        for old, new in changes:
            text = (folder / file).read_text("utf-8")
            assert old in text, old
            (folder / file).write_text(text.replace(old, new), "utf-8")
        return folder

    return make


@pytest.fixture
def small_guide(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> GuideOnDisk:
    shutil.copytree(Path(__file__).parent / "guides/small", tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return GuideOnDisk(Path())


Site = Callable[..., Path]


@pytest.fixture(scope="session")
def site_of(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """Builds a guide in a theme, two folders down; a folder has a space in its name.

    Built as after the set-up of `build` alone: with none of the packages that only tests have. Built once in
    a run for whoever asks for the same, so tests only read it.
    """

    def build(guide: Path, theme: str = "material") -> Path:
        run = tmp_path_factory.getbasetemp()
        if "PYTEST_XDIST_WORKER" in os.environ:
            run = run.parent
        kept = run / "sites" / hashlib.sha256(f"{theme} {guide}".encode()).hexdigest()[:8]
        if not kept.exists():
            making = tmp_path_factory.mktemp("web")
            lean = ROOT / "tests" / "lean_build.py"
            made = making / "field guide" / "site"
            subprocess.run([sys.executable, lean, guide, made, theme], check=True, cwd=ROOT)
            kept.parent.mkdir(exist_ok=True)
            with contextlib.suppress(OSError):  # another worker was first
                making.rename(kept)
        return kept / "field guide" / "site"

    return build


@pytest.fixture(scope="module")
def site(request: pytest.FixtureRequest, site_of: Site) -> Path:
    """The guide that the module calls GUIDE, in the theme that it calls THEME if it has one."""
    return site_of(request.module.GUIDE, getattr(request.module, "THEME", "material"))


@pytest.fixture(scope="module", params=["folder", "server"])
def address(request: pytest.FixtureRequest, site: Path) -> Iterator[str]:
    """Where the site's pages begin: opened from a folder, and from a sub-path of a server."""
    if request.param == "folder":
        yield site.as_uri()
    else:
        with served(site.parents[1]) as host:
            yield f"{host}/field%20guide/site"


@pytest.fixture(scope="module")
def host(site: Path) -> Iterator[str]:
    """Where the site's pages begin on a server, at its root."""
    with served(site) as address:
        yield address


@pytest.fixture
def axe() -> Iterator[Axe]:
    """Looks at pages for a test, which fails at its end by whatever was found."""
    looking = Axe()
    yield looking
    print(f"axe: {sum(looking.visited.values())} states of {len(looking.visited)} pages")
    assert looking.visited and looking.found == []


@pytest.fixture(scope="module")
def started() -> Iterator[Browser]:
    with browser() as running:
        yield running


@pytest.fixture
def context(started: Browser) -> Iterator[BrowserContext]:
    with watched(started) as context:
        yield context


@pytest.fixture
def page(context: BrowserContext) -> Page:
    return context.new_page()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--update", action="store_true", help="rewrite the messages expected in tests/bad_input")
    parser.addoption("--every-way", action="store_true", help="each test by each way to its pages")
