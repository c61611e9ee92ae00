"""Settings of mkdocs.yml that the pages cannot do with, each with the line to write in its place.

They are refused before MkDocs empties the site's folder.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import yaml

from build_tools.guide.findings import Demand, Finding
from build_tools.guide.source import Source, read

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig

__all__ = ["NEEDED", "PLUGIN", "in_the_way", "wrong_language", "wrong_settings"]

PLUGIN = "lost-neutral"
NEEDED: dict[str, dict[str, Any]] = {
    "material": {"font": False},
    "mkdocs": {
        "highlightjs": False,
        "shortcuts": {"help": None, "next": None, "previous": None, "search": None},
    },
}
"""What each theme that pages can be built with must be told."""

SETTING = Demand("setting", "a setting of mkdocs.yml that pages can do with", "write what is named")

_COLOURED = {"scheme": "default"}
_Path = tuple[str | int, ...]

_WHY = {
    "font": "letters of the reader's own device, since others come from another host",
    "highlightjs": "no highlighter, since it comes from another host",
    "shortcuts": "no keys of the theme's own, since keys are answers in a walk",
}


def wrong_settings(config: MkDocsConfig, guide: Path, operator: Path | None) -> list[Finding]:
    """What is to be mended in mkdocs.yml for the guide in `guide`, with what the plugin's options name."""
    file = read(config.config_file_path)
    return [
        *_addresses(config, file),
        *_theme(config, file),
        *_folders(config, file, guide),
        *_named(file, operator),
    ]


def in_the_way(site: Path) -> str:
    """Why a folder may not be replaced by a site, or nothing where it may: it is empty, new, or a guide built
    earlier."""
    if not site.exists() or (site / "guide.json").is_file() or (site.is_dir() and not any(site.iterdir())):
        return ""
    return f"{site} is not a guide built earlier, so it is left alone; name an empty or a new folder"


def _addresses(config: MkDocsConfig, file: Source) -> Iterator[Finding]:
    if config.use_directory_urls:
        what = "every page would be a folder, and the links from one to another would lead nowhere"
        yield _found(file, ("use_directory_urls",), what, "false; it is true where it is not written", False)


def _theme(config: MkDocsConfig, file: Source) -> Iterator[Finding]:
    theme, path = config.theme, ("theme",)
    if theme.name not in NEEDED:
        what = f"pages cannot be built with the theme {theme.name}"
        needed = {"name": "material", **NEEDED["material"], "palette": _COLOURED}
        yield _found(file, path, what, f"one of {', '.join(NEEDED)}", needed)
        return
    wrong = {key: value for key, value in NEEDED[theme.name].items() if theme.get(key) != value}
    for key, value in wrong.items():
        yield _found(file, (*path, key), f"{key} is not {_flow(value)}", _WHY[key], value)
    if theme.name == "material" and not theme.get("palette"):
        what = "without a palette the operator's colours are not seen"
        yield _found(file, (*path, "palette"), what, "any palette", _COLOURED)
    for feature in theme.get("features", ()):
        if feature.startswith("navigation.instant"):
            what = f"{feature} changes pages without starting their scripts"
            yield _mended(file, (*path, "features"), what, "pages that are loaded", f"leave {feature} out")
    if theme.custom_dir and (Path(theme.custom_dir) / "main.html").exists():
        what = f"main.html in {theme.custom_dir} would stand in for the one that pages need"
        mend = "give it another name; the parts of the theme (partials/NAME.html) can be replaced"
        yield _mended(file, (*path, "custom_dir"), what, "no main.html", mend)


def _folders(config: MkDocsConfig, file: Source, guide: Path) -> Iterator[Finding]:
    here = Path(config.config_file_path).parent
    if not guide.is_dir():
        what = f"there is no folder {_from(here, guide)}"
        near = (".", *sorted(one.parent.name for one in here.glob("*/guide.yaml")))
        found = next((name for name in near if (here / name / "guide.yaml").is_file()), "FOLDER")
        yield _found(file, _option(file, "guide"), what, "the guide's folder, from mkdocs.yml", found)
        return
    pages, docs = guide / "pages", Path(config.docs_dir)
    some = pages.is_dir() or any(docs.rglob("*.md"))
    if some and docs.resolve() != pages.resolve():
        what = f"the guide's pages lie in {_from(here, pages)}, not in {_from(here, docs)}"
        yield _found(file, ("docs_dir",), what, "the folder `pages` of the guide", _from(here, pages))


def _named(file: Source, operator: Path | None) -> Iterator[Finding]:
    if operator and not operator.is_file():
        mend = "name a file, or leave operator out: then it is the guide's own operator.yaml"
        what = f"there is no file {operator}"
        yield _mended(file, _option(file, "operator"), what, "a file, from mkdocs.yml", mend)


def wrong_language(config: MkDocsConfig, why: str, others: Sequence[str]) -> Finding:
    """What is to be mended where the catalogue that is named cannot be used; `others` need no file."""
    file = read(config.config_file_path)
    mend = f"name a catalogue, or {' or '.join(others)}, or leave language out"
    return _mended(file, _option(file, "language"), why, "a file, from mkdocs.yml", mend)


def _option(file: Source, name: str) -> _Path:
    """Where an option of the plugin stands, or would."""
    plugins = file.value(("plugins",))
    if isinstance(plugins, dict):
        return "plugins", PLUGIN, name
    listed = plugins if isinstance(plugins, list) else []
    place = next((i for i, one in enumerate(listed) if one == PLUGIN or PLUGIN in (one or ())), 0)
    return "plugins", place, PLUGIN, name


def _found(file: Source, path: _Path, what: str, expected: str, value: Any) -> Finding:
    """`value`: what to write at `path`."""
    under = f" under {path[-2]}" if len(path) > 1 else ""
    return _mended(file, path, what, expected, f"write `{_flow({path[-1]: value})[1:-1]}`{under}")


def _mended(file: Source, path: _Path, what: str, expected: str, mend: str) -> Finding:
    told = tuple(str(step + 1 if isinstance(step, int) else step) for step in path)
    return SETTING.found(file.place(path), what, told, expected, mend)


def _flow(value: Any) -> str:
    """A value as it is written in one line."""
    return yaml.safe_dump(value, default_flow_style=True, sort_keys=False, width=math.inf).split("\n")[0]


def _from(here: Path, folder: Path) -> str:
    """A folder as mkdocs.yml names it."""
    folder = folder.resolve()
    return folder.relative_to(here).as_posix() if folder.is_relative_to(here) else str(folder)
