"""What a reading is expected to show: on healthy streets, and where something is wrong."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from build_tools.guide.models import Reading
from build_tools.guide.wording import joined
from build_tools.language_server.known import File, Known
from build_tools.pages.tests_table import DONE, HEADS, fault_title, share
from build_tools.proof import evidence
from build_tools.proof.detection_table import WHERE, SeenRow
from build_tools.proof.procedures import PREPARED, conditions_at, procedures
from build_tools.proof.sampled_bands import STREETS
from calc.faults import KINDS
from calc.readings import TESTS, Test
from calc.work import ACTIONS

__all__ = ["expected"]

Walked = Mapping[str, Collection[str]]
"""Each tree of the guide -> the ids that one written node has in it, by itself and where it is called."""


def expected(known: Known, file: File, node: str) -> Iterator[str]:
    """Markdown, a paragraph or a table each, for one reading of a tree; nothing for any other node."""
    tree = known.guide.trees.get(file.id)
    spec = tree.spec.nodes.get(node) if tree else None
    if tree is None or not isinstance(spec, Reading):
        return
    walked = {
        other.id: {id_ for id_, one in other.nodes.items() if one.place == tree.nodes[node].place}
        for other in known.guide.trees.values()
    }
    if known.guide.sampling is not None:
        yield from (_healthy(known, test, spec.unit) for test in _tests(known, walked, spec))
    yield from _faulty(known, walked)


def _tests(known: Known, walked: Walked, spec: Reading) -> list[Test]:
    """The tests of calc.readings that this reading is, in whatever state walks come to it."""
    states = {
        done - PREPARED
        for tree, ids in walked.items()
        for id_, done in (conditions_at(known.guide.trees[tree]) if ids else ())
        if id_ in ids
    }
    return [
        test
        for test in TESTS
        if (test.instrument, set(test.on)) == (spec.instrument, set(spec.on))
        and frozenset(ACTIONS[action][0] for action in test.after) in states
    ]


def _healthy(known: Known, test: Test, unit: str) -> str:
    if known.bands is None:
        return "The band of healthy streets is being drawn."
    if test.id not in known.bands:
        return "Lit or dark: it has no band."
    low, high = known.bands[test.id]
    done = joined([DONE[ACTIONS[action][0]] for action in test.after])
    state = f", with {done}" if done else ""
    return f"Healthy: {low:g} to {high:g} {unit}{state} (5 to 95 % of {STREETS} drawn streets)"


def _faulty(known: Known, walked: Walked) -> Iterator[str]:
    """The measured table of the test: how often it keeps a job open, by fault and place."""
    kept = evidence.current(known.guide)
    if kept is None:
        return
    for test in procedures(known.guide).values():
        if not any(node in walked[tree] for tree, node in test.nodes):
            continue
        rows = {(row.fault, row.where): row for row in kept.seen if row.test == test.id}
        lines = [_line(kind, rows) for kind in KINDS if any((kind, where) in rows for where in WHERE)]
        if lines:
            head = ("How often it shows a fault", *(HEADS[where] for where in WHERE))
            yield "\n".join([_row(*head), _row(*("---" for _ in head)), *lines])


def _line(kind: str, rows: dict[tuple[str, str], SeenRow]) -> str:
    return _row(
        fault_title(kind), *(_cell(rows[kind, where]) if (kind, where) in rows else "" for where in WHERE)
    )


def _cell(row: SeenRow) -> str:
    """The share, and how far it moves with what is judged."""
    low, high = row.moved.between(row.share)
    return share(row) if low == high else f"{share(row)} ({low:.0%} to {high:.0%} by judgement)"


def _row(*cells: str) -> str:
    return f"| {' | '.join(cells)} |"
