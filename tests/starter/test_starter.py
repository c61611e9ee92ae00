"""What `new` writes is a guide: it checks clean, is built, and leads to its outcome in a browser."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml
from browsing import WALK, browser, watched
from playwright.sync_api import expect

from build_tools.guide import schemas
from build_tools.setup.environment import ROOT
from build_tools.site import building


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
        ".ci/run",
        ".github/workflows/guide.yml",
        ".gitignore",
        *(f".lost-neutral/schemas/{kind}.json" for kind in sorted(schemas.FILES)),
        ".vscode/extensions.json",
        ".vscode/settings.json",
        "glossary.yaml",
        "guide.yaml",
        "mkdocs.yml",
        "operator.yaml",
        "pages/about.md",
        "rules.yaml",
        "sources.yaml",
        "streets/first-street.yaml",
        "trees/site/first-tree.yaml",
    ]
    assert [path.name for path in started.parent.iterdir()] == [started.name]


def test_it_is_written_at_once_and_nothing_is_installed_for_it(tmp_path: Path) -> None:
    """From a clone that was never set up, by a Python that has no packages."""
    program = tmp_path / "clone" / "build_tools"
    shutil.copytree(ROOT / "build_tools", program, ignore=shutil.ignore_patterns("__pycache__"))
    python = [getattr(sys, "_base_executable", sys.executable), "-I", "-S", "-c"]
    start = (
        f"import sys; sys.path.insert(0, {str(program.parent)!r}); "
        "import build_tools.cli.command_line as line"
    )
    asked = f"{start}; sys.exit(line.main(['new', 'mine']))"
    done = subprocess.run([*python, asked], cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert (
        "for completion in an editor: python3 -m build_tools schemas mine/.lost-neutral/schemas"
        in done.stderr
    )
    assert (tmp_path / "mine/guide.yaml").is_file()
    assert not (program.parent / ".lost-neutral").exists()


def test_an_editor_holds_its_files_against_the_schemas_beside_them(started: Path) -> None:
    """By the same patterns as in this repository."""
    written = (started / ".vscode/settings.json").read_text("utf-8")
    assert written == (ROOT / ".vscode/settings.json").read_text("utf-8")
    for schema in json.loads(written)["yaml.schemas"]:
        assert json.loads((started / schema).read_text("utf-8")) == schemas.schema(Path(schema).stem)


def test_its_repository_is_checked_as_a_fresh_machine_would(started: Path, tmp_path: Path) -> None:
    """What code hosts run: the guide's check, then its build, with whatever lost-neutral is on the path."""
    program = tmp_path / "bin" / "lost-neutral"
    program.parent.mkdir()
    program.write_text('#!/bin/sh\necho "$@" >> "$TOLD"\n[ "$1" != "$REFUSED" ]\n', "utf-8")
    program.chmod(0o755)
    path = f"{program.parent}:/usr/bin:/bin"
    for refused, asked in (("", "check\nbuild --strict\n"), ("check", "check\n")):
        told = tmp_path / f"told-{refused}"
        environ = {"PATH": path, "TOLD": str(told), "REFUSED": refused}
        ran = subprocess.run([started / ".ci/run"], cwd=tmp_path, env=environ)
        assert (ran.returncode, told.read_text("utf-8")) == (1 if refused else 0, asked)
    bare = subprocess.run(
        [started / ".ci/run"], env={"PATH": "/usr/bin:/bin"}, capture_output=True, text=True
    )
    assert bare.returncode and "set LOST_NEUTRAL to its wheel" in bare.stderr
    jobs = yaml.safe_load((started / ".github/workflows/guide.yml").read_text("utf-8"))["jobs"]
    assert [step["run"] for job in jobs.values() for step in job["steps"] if "run" in step] == [".ci/run"]


def filled_in(folder: Path) -> Path:
    """The guide with a name and a number of somebody's own."""
    file = folder / "operator.yaml"
    text = file.read_text("utf-8")
    for asked, own in (("Operator (put your own name here)", "Harrowfen"), ("0000 000 000", "0111 222 333")):
        assert text.count(asked) == 1
        text = text.replace(asked, own)
    file.write_text(text, "utf-8")
    return folder


def test_it_checks_clean_once_it_is_filled_in(started: Path) -> None:
    checked = typed("check", "--json", "--guide", started)
    found = [(one["check"], one["path"]) for one in json.loads(checked.stdout)["findings"]]
    assert found == [("placeholder", ["name"]), ("placeholder", ["emergency", "1", "number"])]
    checked = typed("check", "--guide", filled_in(started))
    assert (checked.returncode, checked.stdout) == (0, ""), checked.stdout


def test_it_is_not_published_as_it_was_written(started: Path, tmp_path: Path) -> None:
    refused = typed("publish", "--unclean", "--guide", started, "--to", tmp_path / "release")
    assert refused.returncode == 1
    assert "operator.yaml:2:7: placeholder: `Operator (put your own name here)` asks" in refused.stdout
    assert "operator.yaml:4:35: placeholder: `0000 000 000` is one digit over and over" in refused.stdout
    assert not (tmp_path / "release").exists()


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
    checked = typed("check", "--json", "--guide", filled_in(started))
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
