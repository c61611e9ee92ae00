"""What calc shows to the rest: stated names, each with its contract, and nothing that a browser lacks."""

from __future__ import annotations

import ast
import doctest
import importlib
import pkgutil
import sys
from pathlib import Path

import pytest

import calc

MODULES = [module.name for module in pkgutil.walk_packages(calc.__path__, "calc.")]
NOT_IN_A_BROWSER = {"multiprocessing", "socket", "sqlite3", "ssl", "subprocess", "threading", "tkinter"}


def syntax(name: str) -> ast.Module:
    path = Path(str(importlib.import_module(name).__file__))
    return ast.parse(path.read_text("utf-8"), path)


def imported(tree: ast.Module) -> set[str]:
    """The top-level packages a module imports, wherever in it the import stands."""
    names = [a.name for node in ast.walk(tree) if isinstance(node, ast.Import) for a in node.names]
    names += [n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.level == 0]
    return {name.split(".")[0] for name in names}


def undocumented(tree: ast.Module, public: list[str]) -> list[str]:
    """Public functions, classes and their public methods without a docstring of their own."""
    kinds = (ast.FunctionDef, ast.ClassDef)
    found = [node for node in tree.body if isinstance(node, kinds) and node.name in public]
    missing = [node.name for node in found if not ast.get_docstring(node)]
    for owner in (node for node in found if isinstance(node, ast.ClassDef)):
        methods = [node for node in owner.body if isinstance(node, kinds) and not node.name.startswith("_")]
        missing += [f"{owner.name}.{node.name}" for node in methods if not ast.get_docstring(node)]
    return missing


def test_calc_has_modules() -> None:
    assert {"calc.conductor", "calc.electrode", "calc.limits", "calc.shock"} <= set(MODULES)


@pytest.mark.parametrize("name", MODULES)
def test_names_its_public_surface(name: str) -> None:
    module = importlib.import_module(name)
    assert module.__doc__, f"{name} does not say what it is"
    assert all(hasattr(module, public) for public in module.__all__)
    assert not [public for public in module.__all__ if public.startswith("_")]


@pytest.mark.parametrize("name", MODULES)
def test_every_public_name_says_what_it_does(name: str) -> None:
    assert undocumented(syntax(name), importlib.import_module(name).__all__) == []


@pytest.mark.parametrize("name", ["calc", *MODULES])
def test_runs_in_a_browser(name: str) -> None:
    packages = imported(syntax(name))
    assert packages - {"calc"} <= sys.stdlib_module_names, "calc imports the standard library only"
    assert not packages & NOT_IN_A_BROWSER


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_hold(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_the_checks_themselves_see_a_fault() -> None:
    bad = ast.parse("import numpy.linalg\ndef f(): pass\nclass C:\n    'says'\n    def m(self): pass\n")
    assert imported(bad) == {"numpy"}
    assert undocumented(bad, ["f", "C"]) == ["f", "C.m"]
