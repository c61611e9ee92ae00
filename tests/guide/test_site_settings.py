"""Settings of mkdocs.yml that pages cannot do with: refused where they stand, with what to write instead."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml
from mkdocs.config import load_config
from mkdocs.exceptions import Abort

from build_tools import starter
from build_tools.guide.site_settings import NEEDED
from build_tools.setup.environment import ROOT


@pytest.fixture
def repository(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A repository of somebody's own: a guide, and mkdocs.yml beside it."""
    guide = tmp_path / "advice"
    starter.write(guide)
    text = (guide / "mkdocs.yml").read_text("utf-8")
    (guide / "mkdocs.yml").unlink()
    text = text.replace("docs_dir: pages", "docs_dir: advice/pages").replace("guide: .", "guide: advice")
    (tmp_path / "mkdocs.yml").write_text(text, "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def told(capsys: pytest.CaptureFixture[str]) -> str:
    """What is said against the settings in mkdocs.yml of the working folder; nothing when they will do."""
    capsys.readouterr()
    config = load_config("mkdocs.yml")
    try:
        config.plugins.on_config(config)
    except Abort as refused:
        assert "nothing was built, and the site is as it was" in str(refused)
    return capsys.readouterr().out


@pytest.mark.parametrize(
    ("old", "new", "said", "mend"),
    [
        ("use_directory_urls: false", "", "1:1: setting: every page would be", "`use_directory_urls: false`"),
        (
            "use_directory_urls: false",
            "use_directory_urls: true",
            "4:21: setting: every page would be",
            "`use_directory_urls: false`",
        ),
        (
            "name: material",
            "name: readthedocs",
            "7:3: setting: pages cannot be built with the theme readthedocs",
            "`theme: {name: material, font: false, palette: {scheme: default}}`",
        ),
        (
            "font: false",
            "font: {text: Anything}",
            "9:9: setting: font is not false",
            "`font: false` under theme",
        ),
        ("font: false", "", "7:3: setting: font is not false", "`font: false` under theme"),
        (
            "palette:",
            "pallete:",
            "7:3: setting: without a palette",
            "`palette: {scheme: default}` under theme",
        ),
        (
            "- navigation.tabs",
            "- navigation.instant",
            "13:5: setting: navigation.instant changes pages",
            "leave navigation.instant out",
        ),
        (
            "docs_dir: advice/pages",
            "docs_dir: other",
            "2:11: setting: the guide's pages lie in advice/pages, not in other",
            "`docs_dir: advice/pages`",
        ),
        (
            "guide: advice",
            "guide: guide_src",
            "40:14: setting: there is no folder guide_src",
            "`guide: advice` under lost-neutral",
        ),
        (
            "- lost-neutral:\n      guide: advice",
            "- lost-neutral",
            "39:5: setting: there is no folder guide_src",
            "`guide: advice` under lost-neutral",
        ),
        (
            "guide: advice",
            "guide: advice\n      operator: nobody.yaml",
            "41:17: setting: there is no file",
            "name a file, or leave operator out",
        ),
        (
            "guide: advice",
            "guide: advice\n      language: nothing.yaml",
            "41:17: setting: ",
            "name a catalogue, or pseudo or pseudo-rtl, or leave language out",
        ),
    ],
)
def test_what_pages_cannot_do_with_is_refused(
    repository: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, said: str, mend: str
) -> None:
    (repository / "other").mkdir()
    file = repository / "mkdocs.yml"
    text = file.read_text("utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), "utf-8")
    refused = told(capsys)
    assert f"mkdocs.yml:{said}" in refused
    assert re.search(rf"^  mend: .*{re.escape(mend)}", refused, re.MULTILINE), refused


@pytest.mark.parametrize("theme", NEEDED)
def test_what_each_theme_needs_is_enough(
    repository: Path, capsys: pytest.CaptureFixture[str], theme: str
) -> None:
    """Each mend is made in turn, from a file that says no more than MkDocs itself asks for."""
    file = repository / "mkdocs.yml"
    bare = {"site_name": "x", "theme": {"name": theme}, "plugins": [{"lost-neutral": {}}], "docs_dir": "."}
    (repository / "docs").mkdir()
    settings = {**bare, "docs_dir": "docs"}
    mended = 0
    for _ in range(9):
        file.write_text(yaml.safe_dump(settings, sort_keys=False), "utf-8")
        lines = re.findall(r"^  mend: write `(.*)`(?: under (\S+))?$", told(capsys), re.MULTILINE)
        if not lines:
            break
        for line, under in lines:
            mended += 1
            at = {"theme": settings["theme"], "lost-neutral": settings["plugins"][0]["lost-neutral"]}
            at.get(under, settings).update(yaml.safe_load(f"{{{line}}}"))
    assert mended == 3 + len(NEEDED[theme]) + (theme == "material")
    assert "setting:" not in told(capsys)


def test_a_template_of_somebodys_own_may_not_hide_ours(
    repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (repository / "mine/partials").mkdir(parents=True)
    (repository / "mine/partials/footer.html").write_text("", "utf-8")
    file = repository / "mkdocs.yml"
    file.write_text(
        file.read_text("utf-8").replace("font: false", "font: false\n  custom_dir: mine"), "utf-8"
    )
    assert "setting:" not in told(capsys)
    (repository / "mine/main.html").write_text('{% extends "base.html" %}', "utf-8")
    assert "mkdocs.yml:10:15: setting: main.html in " in told(capsys)


def test_a_new_guide_is_told_what_the_demo_guide_is() -> None:
    own, ours = (
        yaml.safe_load((folder / "mkdocs.yml").read_text("utf-8"))
        for folder in (ROOT, ROOT / "build_tools/starter/guide")
    )
    for one in (own, ours):
        assert Path(one.pop("docs_dir")) == Path(one["plugins"][0]["lost-neutral"].pop("guide"), "pages")
        one.pop("site_name")
    assert own == ours
