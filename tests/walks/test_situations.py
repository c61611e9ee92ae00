"""Situations of the trade: where the shipped guide leads, step by step, is where it should.

They are told in situations.yaml, each by its name. To read the walks of one:
`python3 -m build_tools test -q -s tests/walks/test_situations.py -k tap-in-the-rain`
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, ClassVar

import pytest

from build_tools.guide import source
from build_tools.guide.trees import Exit, Guide, Node, Tree
from build_tools.guide.validation import conform
from build_tools.walks.walk_report import WalkReport, as_text, retell
from calc import faults
from calc.instruments import reading
from calc.street import Street, network

HERE = Path(__file__).parent
USUAL = {"danger-now": "No", "danger-look": "No", "testers-again": "Yes"}
"""What is told in every situation: nobody is hurt, nothing burns, the testers prove."""

Band = tuple[float, float]


@dataclass(frozen=True)
class Situation:
    """One situation, as situations.yaml explains its fields."""

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}
    why: str
    tree: str
    street: str
    fault: str
    at: str
    ends: tuple[str, ...]
    told: dict[str, str] = field(default_factory=dict)
    never: tuple[str, ...] = ()
    shows: dict[str, Band] = field(default_factory=dict)
    meters: dict[str, Band] = field(default_factory=dict)
    misses: dict[str, str] = field(default_factory=dict)


def _read(shape: Any, path: Path) -> Any:
    read = source.read(path)
    value, findings = conform(shape, read)
    assert not (read.findings or findings), (read.findings, findings)
    return value


SITUATIONS: dict[str, Situation] = _read(dict[str, Situation], HERE / "situations.yaml")
STREETS: dict[str, Street] = {
    path.stem: _read(Street, path) for path in sorted((HERE / "streets").glob("*.yaml"))
}


@pytest.fixture(scope="module")
def guide(guide: Guide) -> Guide:
    """The shipped guide, with the streets of the situations besides its own."""
    assert not guide.streets.keys() & STREETS.keys()
    return replace(guide, streets={**guide.streets, **STREETS})


def as_told(tree: Tree, told: Mapping[str, str]) -> Tree:
    """The tree with only those answers left that people give."""
    unasked = set(told)
    nodes = {}
    for id_, node in tree.nodes.items():
        asked = next((name for name in (getattr(node.spec, "remember", None), node.name) if name in told), "")
        unasked.discard(asked)
        nodes[id_] = _left_by(node, told[asked]) if asked else node
    assert unasked <= USUAL.keys(), f"{tree.id} does not ask for {unasked}"
    return replace(tree, nodes=nodes)


def _left_by(node: Node, answer: str) -> Node:
    def fits(exit_: Exit) -> bool:
        return exit_.is_ == answer if exit_.is_ else exit_.label.startswith(answer)

    (exit_,) = filter(fits, node.exits)
    return replace(node, exits=(exit_,))


def walked(guide: Guide, one: Situation) -> WalkReport:
    tree = as_told(guide.trees[one.tree], USUAL | one.told)
    assert {*one.ends, *one.never} <= tree.nodes.keys()
    told = replace(guide, trees={**guide.trees, one.tree: tree})
    return retell(told, one.tree, one.street, one.fault, one.at)


def departures(one: Situation, told: WalkReport) -> Iterator[str]:
    """Whatever goes otherwise than the situation says, harms and what closes beside a danger included."""
    found = [way.outcome for way in told.ways if way.willing]
    yield from (f"does not end at {end}" for end in one.ends if end not in found)
    yield from (f"ends at {end}" for end in found if end not in one.ends)
    besides = (way.outcome for way in told.ways if not way.willing)
    yield from (f"can end at {end}" for end in besides if end in one.never)
    for way in told.ways:
        yield from (f"{stage.node}: {wrong}" for stage in way.stages for wrong in stage.wrong)
        yield from (f"{way.outcome}: {wrong}" for wrong in way.wrong)
    yield from told.elsewhere


@pytest.mark.parametrize("one", SITUATIONS.values(), ids=list(SITUATIONS))
def test_the_walk_of_a_situation_ends_where_it_should(guide: Guide, one: Situation) -> None:
    told = walked(guide, one)
    print(as_text(told))
    assert set(departures(one, told)) == set(one.misses), one.why
    for node, (low, high) in one.shows.items():
        stages = [stage for way in told.ways if way.willing for stage in way.stages if stage.node == node]
        figures = [float(re.findall(r": ([\d.]+) ", stage.shown)[-1]) for stage in stages]
        assert figures and all(low <= figure <= high for figure in figures), (node, figures)
    faulty = faults.parse(one.fault).applied_to(network(guide.streets[one.street]))
    for meter, (low, high) in one.meters.items():
        instrument, *on = meter.split()
        assert low <= reading(faulty, one.at, instrument, tuple(on)) <= high, meter


def test_a_situation_that_is_another_departs(guide: Guide) -> None:
    """The comparison sees that the fault is not there, and that an answer closes the job."""
    tap = SITUATIONS["tap-in-the-rain"]
    sound = set(departures(tap, walked(guide, replace(tap, fault="healthy"))))
    assert {"does not end at next-door-pen-open", "ends at tingle-unexplained"} <= sound
    joint = SITUATIONS["burned-joint-0.2-ohm"]
    closed = replace(joint, told={"tingle": "none", "lights": "dim", "neighbours": "no", "cause-seen": "Yes"})
    assert set(joint.misses) <= set(departures(joint, walked(guide, closed)))


def test_every_street_beside_the_situations_is_walked() -> None:
    assert STREETS.keys() <= {one.street for one in SITUATIONS.values()}
