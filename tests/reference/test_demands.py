"""Every finding has an id that is declared, and every id that is declared is raised."""

from __future__ import annotations

import ast
import inspect
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from build_tools.guide.findings import Demand, Place
from build_tools.reference.demands import declared, demands
from build_tools.setup.environment import ROOT

FOLDER = ROOT / "build_tools"


@cache
def parsed() -> dict[Path, ast.Module]:
    return {file: ast.parse(file.read_text("utf-8")) for file in sorted(FOLDER.rglob("*.py"))}


def calls(name: str) -> Iterator[tuple[Path, ast.Call]]:
    for file, module in parsed().items():
        for node in ast.walk(module):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name:
                yield file, node


def test_only_a_demand_makes_a_finding() -> None:
    """Types hold the rest: whatever takes a demand to raise takes a Demand, and no text."""
    assert {file.relative_to(FOLDER).as_posix() for file, _ in calls("Finding")} == {"guide/findings.py"}


def test_every_demand_is_declared_once_and_told_by_the_reference() -> None:
    written = Counter(ast.literal_eval(call.args[0]) for _, call in calls("Demand"))
    assert set(written.values()) == {1}
    assert written.keys() == declared().keys()
    assert len(written) > 90


def test_every_demand_is_declared_in_the_module_that_raises_it() -> None:
    """Its name is read there, besides where it is given: a demand that nothing raises is refused."""
    for module, own in demands().items():
        tree = ast.parse(inspect.getsource(module))
        read = {n.id for n in ast.walk(tree) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Load)}
        named = {name: one for name, one in vars(module).items() if isinstance(one, Demand)}
        idle = [name for name, one in named.items() if one in own and name not in read]
        assert idle == [], module.__name__


def test_what_authors_were_told_of_every_broken_file_is_declared() -> None:
    reports = [file.read_text("utf-8") for file in (ROOT / "tests" / "bad_input").rglob("*.txt")]
    told = {found for text in reports for found in re.findall(r"^\S+:\d+:\d+: ([a-z0-9-]+): ", text, re.M)}
    known = declared().keys()
    assert len(told) > 50
    assert {id_ for id_ in told if id_ not in known and not id_.startswith("rule-")} == set()


def test_a_finding_is_told_in_the_words_of_its_demand_unless_closer_ones_are_given() -> None:
    demand = Demand("x", "one thing", "do it")
    place = Place("a.yaml", 1, 1)
    assert demand.found(place, "what").expected == "one thing"
    assert demand.found(place, "what").mend == "do it"
    closer = demand.found(place, "what", ("a",), "this", "do this")
    assert (closer.check, closer.expected, closer.mend) == ("x", "this", "do this")
    assert demand.found(place, "what", expected="").expected == ""


def test_each_demand_says_something() -> None:
    for demand in declared().values():
        assert demand.demands and demand.mend, demand.id
        assert not re.search(r"[.!]$", demand.demands + demand.mend), demand.id
