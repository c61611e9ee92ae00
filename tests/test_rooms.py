"""The house's order: folders of `build_tools` import only what stands below them, and nothing goes round."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import networkx
import pytest

ROOT = Path(__file__).parent.parent
TOOLS = ROOT / "build_tools"
FILES = sorted(path for path in TOOLS.rglob("*.py") if path.name not in ("__init__.py", "__main__.py"))
BROWSER = TOOLS / "site" / "browser"


def _folders(title: str = "build_tools") -> list[str]:
    """The folders as the contributors' guide lists them under a title, from below upwards."""
    guide = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    table = re.split("^### ", guide.split(f"### {title}\n")[1], flags=re.MULTILINE)[0]
    return re.findall(r"^\| `(\w+)/` \|", table, re.MULTILINE)


def _module(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {_module(path): path for path in TOOLS.rglob("*.py")}


def _imported(path: Path) -> Iterator[str]:
    """Modules that a file names, inside functions too; not those for types alone."""
    tree = ast.parse(path.read_text("utf-8"))
    for_types = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if id(node) in for_types:
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                yield whole if whole in MODULES else node.module


ARROWS = {name: sorted(set(_imported(path)) & MODULES.keys() - {name}) for name, path in MODULES.items()}


def test_every_folder_has_its_place() -> None:
    with_code = {path.parent.name for path in TOOLS.glob("*/*.py")}
    assert sorted(_folders()) == sorted(with_code)


def test_no_file_stands_outside_of_the_folders() -> None:
    assert sorted(path.name for path in TOOLS.glob("*.py")) == ["__init__.py", "__main__.py"]


@pytest.mark.parametrize("folder", _folders())
def test_a_folder_imports_only_what_stands_below_it(folder: str) -> None:
    below = {"build_tools", *(f"build_tools.{one}" for one in _folders()[: _folders().index(folder) + 1])}
    upward = [
        f"{name} -> {other}"
        for name, others in ARROWS.items()
        if name.split(".")[1:2] == [folder]
        for other in others
        if ".".join(other.split(".")[:2]) not in below
    ]
    assert upward == []


def test_nothing_comes_back_to_where_it_began() -> None:
    graph = networkx.DiGraph([(name, other) for name, others in ARROWS.items() for other in others])
    assert graph.number_of_edges() > 300
    assert sorted(map(sorted, networkx.simple_cycles(graph))) == []


def test_no_two_files_have_one_name() -> None:
    names = Counter(path.name for path in [*FILES, *(ROOT / "calc").glob("*.py")])
    assert [name for name, count in names.items() if count > 1 and name != "__init__.py"] == []


def _imported_scripts(path: Path) -> Iterator[Path]:
    """The modules that a script of the pages imports, from whichever folder; not those for types alone."""
    for other in re.findall(r'^import .* from "(\..*)";', path.read_text("utf-8"), re.MULTILINE):
        yield (path.parent / other).resolve()


SCRIPT_ARROWS = [(path, other) for path in sorted(BROWSER.rglob("*.js")) for other in _imported_scripts(path)]


def test_every_folder_of_scripts_has_its_place() -> None:
    assert sorted(_folders("browser")) == sorted({path.parent.name for path in BROWSER.rglob("*.*")})


def test_scripts_import_only_what_stands_below_them() -> None:
    places = {folder: place for place, folder in enumerate(_folders("browser"))}
    assert len(SCRIPT_ARROWS) > 50
    upward = [
        f"{path.name} -> {other.name}"
        for path, other in SCRIPT_ARROWS
        if places[path.parent.name] < places[other.parent.name]
    ]
    assert upward == []
    assert list(networkx.simple_cycles(networkx.DiGraph(SCRIPT_ARROWS))) == []


def test_no_two_scripts_or_styles_have_one_name() -> None:
    names = Counter(path.name for path in BROWSER.rglob("*.*"))
    assert [name for name, count in names.items() if count > 1] == []
