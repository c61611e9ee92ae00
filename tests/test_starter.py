"""What `new` writes is a guide: it checks clean, is built, and leads to its outcome in a browser."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from browsing import WALK, browser, watched
from playwright.sync_api import expect

from build_tools import building
from build_tools.environment import ROOT


def typed(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """The command as typed in a terminal."""
    command = [sys.executable, "-m", "build_tools", *map(str, words)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True)


def everything(folder: Path) -> dict[str, bytes | None]:
    """Every file and folder in a folder, with the bytes of the files."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
    }


@pytest.fixture
def started(tmp_path: Path) -> Path:
    """A guide that was just written."""
    folder = tmp_path / "deeper" / "my-guide"
    done = typed("new", folder)
    assert done.returncode == 0, done.stderr
    assert f"serve --guide {folder}" in done.stderr
    return folder


def test_it_holds_one_of_each_and_nothing_else(started: Path) -> None:
    assert sorted(path for path, content in everything(started).items() if content is not None) == [
        "glossary.yaml",
        "guide.yaml",
        "operator.yaml",
        "pages/about.md",
        "rules.yaml",
        "sources.yaml",
        "streets/first-street.yaml",
        "trees/site/first-tree.yaml",
    ]
    assert [path.name for path in started.parent.iterdir()] == [started.name]


def test_it_checks_clean(started: Path) -> None:
    checked = typed("check", "--guide", started)
    assert (checked.returncode, checked.stdout) == (0, ""), checked.stdout


def test_its_check_is_awake(started: Path) -> None:
    """Lift the earth first, in the guide just written: its one rule and the street refuse it."""
    tree = started / "trees/site/first-tree.yaml"
    lift = (
        "  lift:\n    step: Lift it.\n    hazards: [opens-earth-path, touches-metalwork, works-live]\n"
        "    does: [lift-main-earth]\n    go: clamp\n"
    )
    text = (
        tree.read_text("utf-8").replace("start: clamp", "start: lift").replace("nodes:\n", f"nodes:\n{lift}")
    )
    tree.write_text(text, "utf-8")
    checked = typed("check", "--json", "--guide", started)
    found = {finding["check"] for finding in json.loads(checked.stdout)["findings"]}
    assert checked.returncode == 1
    assert found == {"rule-clamp-first", "harm"}


@pytest.mark.browser
def test_it_is_built_and_walked_to_its_outcome(started: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    assert building.build(started, site) == 0
    tree = json.loads((site / "guide.json").read_text("utf-8"))["trees"][0]
    with browser() as running, watched(running) as context:
        page = context.new_page()
        page.goto((site / "index.html").as_uri())
        page.locator(f'article a[href="{tree["page"]}"]').first.click()
        expect(page.locator("h1")).to_have_text(tree["title"])
        node = page.locator('[data-node="clamp"]')
        expect(node).to_be_visible()
        node.locator("a[data-go]").first.click()
        outcome = page.locator("[data-outcome]:visible")
        expect(outcome).to_contain_text("Leave it connected and hand over")
        expect(page.locator("[data-node]:visible")).to_have_count(1)

        page.goto((site / tree["page"]).as_uri())
        walked = page.evaluate(WALK)
        assert walked["wrong"] == []
        assert sorted(walked["answered"]) == sorted(tree["nodes"])


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    assert typed("new", tmp_path / "mine").returncode == 0
    assert (tmp_path / "mine/guide.yaml").is_file()


@pytest.mark.parametrize("holds", ["notes.txt", ".hidden", "trees/site/mine.yaml"])
def test_a_folder_that_is_not_empty_is_left_alone(tmp_path: Path, holds: str) -> None:
    mine = tmp_path / "mine"
    (mine / holds).parent.mkdir(parents=True)
    (mine / holds).write_text("mine", "utf-8")
    before = everything(tmp_path)
    refused = typed("new", mine)
    assert refused.returncode == 2
    assert f"{mine} is there already and is not an empty folder" in refused.stderr
    assert "Traceback" not in refused.stderr
    assert everything(tmp_path) == before


def test_a_file_of_that_name_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("mine", "utf-8")
    refused = typed("new", tmp_path / "mine")
    assert refused.returncode == 2
    assert "Traceback" not in refused.stderr
    assert everything(tmp_path) == {"mine": b"mine"}
