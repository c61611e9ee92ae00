"""What stands in the way of measuring is told where it is written, and nothing else is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from build_tools.guide.findings import Finding
from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof.promises import as_written, unsolvable
from calc.sampling import Spread


def line_of(finding: Finding) -> str:
    """The line that a finding points to."""
    return Path(finding.place.file).read_text("utf-8").splitlines()[finding.place.line - 1].strip()


def with_spread(guide: Guide, name: str, spread: Spread) -> Guide:
    assert guide.sampling is not None
    return replace(guide, sampling=replace(guide.sampling, spreads={**guide.sampling.spreads, name: spread}))


def with_promise(guide: Guide, index: int, **changes: object) -> Guide:
    promises = list(guide.promises)
    promises[index] = promises[index].model_copy(update=changes)
    return replace(guide, promises=tuple(promises))


def test_the_shipped_promises_can_be_measured(guide: Guide) -> None:
    assert list(as_written(guide)) == []


LOWEST = [  # a parameter, the lower end of its spread, what it must be where that cannot be
    ("third-harmonic", 0, None),
    ("third-harmonic", -0.1, "0 or more: number, for each home"),
    ("known-load-kw", 0, "above 0: number"),
    ("known-load-kw", -2, "above 0: number"),
    ("known-load-kw", 0.001, None),
    ("clamp-error", -0.2, None),
    ("clamp-error", 0, None),
    ("loop-offset-ohm", -0.2, None),
    ("clamp-stray-a", 0, None),
]


@pytest.mark.parametrize(("name", "low", "must"), LOWEST)
def test_a_spread_begins_where_its_parameter_can(
    guide: Guide, name: str, low: float, must: str | None
) -> None:
    found = list(as_written(with_spread(guide, name, Spread("x", uniform=(low, 9)))))
    assert len(found) == bool(must)
    for finding in found:
        assert finding.check == "impossible-spread" and f"{name} can be drawn as {low:g}" in finding.what
        assert must and finding.expected.startswith(must) and line_of(finding).startswith(f"{name}:")


@pytest.mark.parametrize(
    ("name", "choice"),
    [
        ("pipe", "cheese"),
        ("main-cable", "mains-185-cu-sne"),  # its neutral and earth are apart
        ("main-cable-separate", "mains-185-al-cne"),
        ("service-cable", "service-16-cu-sne"),
        ("overhead-cable", "tin-cans"),
        ("load-law", "farads"),
    ],
)
def test_a_choice_is_of_what_there_is(guide: Guide, name: str, choice: str) -> None:
    assert guide.sampling is not None
    known = dict(guide.sampling.spreads[name].choice or {})
    first = next(iter(known))
    found = list(as_written(with_spread(guide, name, Spread("x", choice={choice: 1, **known}))))
    (finding,) = found
    assert finding.check == "unknown-choice" and repr(choice) in finding.what and first in finding.expected


def index_of(guide: Guide, fits: Callable[[Promise], bool]) -> int:
    return next(place for place, promise in enumerate(guide.promises) if fits(promise))


def test_a_promise_names_trees_of_its_own_audience(guide: Guide) -> None:
    visits = index_of(guide, lambda one: one.audience == "site" and len(one.trees) > 1)
    calls = index_of(guide, lambda one: one.audience == "call")
    site, call = guide.promises[visits].trees, guide.promises[calls].trees
    for index, others in ((visits, call), (calls, site)):
        promise = guide.promises[index]
        trees = (*promise.trees[:-1], others[0])
        found = as_written(with_promise(guide, index, trees=trees))
        (finding,) = (one for one in found if one.check == "unknown-tree")
        assert f"no {promise.audience} tree is called {others[0]!r}" in finding.what
        assert promise.trees[-1] in line_of(finding) and promise.trees[0] in finding.mend
        assert others[0] not in finding.mend


def test_a_kind_of_fault_is_one_that_there_is(guide: Guide) -> None:
    index = index_of(guide, lambda one: len(one.faults) > 1)
    faults = (*guide.promises[index].faults[:-1], "service-pen-opened")
    (finding,) = as_written(with_promise(guide, index, faults=faults))
    assert finding.check == "unknown-fault" and "did you mean `service-pen-open`" in finding.what
    assert "mains-pen-high" in finding.expected


def test_every_question_of_a_promised_call_can_be_answered_by_a_simulated_caller(guide: Guide) -> None:
    """No word is said of a tree that no promise speaks of."""
    name = guide.promises[index_of(guide, lambda one: one.audience == "call")].trees[0]
    file = guide.tree_files[name]
    asked = [id_ for id_, node in file.spec.nodes.items() if getattr(node, "caller", None)]
    nodes = {**file.spec.nodes, asked[0]: file.spec.nodes[asked[0]].model_copy(update={"caller": None})}
    unheard = replace(file, spec=file.spec.model_copy(update={"nodes": nodes}))
    spoilt = replace(guide, tree_files={**guide.tree_files, name: unheard})
    (finding,) = as_written(spoilt)
    assert finding.path[:2] == ("nodes", asked[0]) and "question:" in line_of(finding)
    without = tuple(one for one in guide.promises if name not in one.trees)
    assert list(as_written(replace(spoilt, promises=without))) == []


def test_the_first_street_without_an_answer_is_named(guide: Guide) -> None:
    assert guide.sampling is not None
    few = replace(guide, sampling=replace(guide.sampling, streets=3))
    assert list(unsolvable(few)) == []
    wrong = with_spread(few, "power-factor", Spread("x", uniform=(1.5, 2)))
    (finding,) = unsolvable(wrong)
    assert f"drawn street 0 of seed {guide.sampling.seed}" in finding.what and "power_factor" in finding.what
