"""A plan as text for a terminal, and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from textwrap import wrap
from typing import Any

from build_tools.plan.better_order import Turn, mean_minutes
from build_tools.plan.leaving_out import Written
from build_tools.plan.other_tests import HEALTHY_SHARE, Added
from build_tools.plan.planning import NodeRow, Plan, Share

__all__ = ["as_json", "as_text"]

_WIDE = 110
_ADDED = 8


def as_text(plan: Plan) -> str:
    """Tables: each node, what could be left out, the order, what could be added."""
    return "\n".join(
        (
            *_head(plan),
            *_nodes(plan),
            *_finds(plan.rows),
            *_spare(plan),
            *_order(plan),
            *_added(plan),
        )
    )


def _head(plan: Plan) -> Iterator[str]:
    ends = ", ".join(plan.ends) or "no end: nothing can be left out"
    yield f"{plan.tree}, over {plan.streets:,} drawn streets for each kind of fault; it closes at {ends}"
    yield f"  with the visited home in danger it hands over {_of(plan.caught)}"
    yield f"  healthy streets it closes: {_of(plan.closed)}"
    yield ""
    yield from _told(
        "Every test can be made. Not counted: that a node guards against a dead tester or a burning meter; "
        "whom it warns; what it tells those who mend; what it finds on a way that people may pass by. "
        "min: minutes each time, by minutes.yaml; times: how "
        "often a healthy walk comes to it. Dangers, left: the walk leaves the closing way there; only it: it "
        "would close without; at most: of all endangered, what could be lost at 95 %; guard: of the others, "
        "those that one wrong answer elsewhere would close or hurt somebody in without it, and not with it; "
        "alone: found with every other test left out. Healthy streets, open: left open by it alone; close: "
        "those that close only with it."
    )


def _nodes(plan: Plan) -> Iterator[str]:
    wide = max((len(_name(plan, row.node)) for row in plan.rows), default=0)
    yield f"  {'':{wide}}    min times words    left  only it at most   guard   alone   open  close"
    for row in plan.rows:
        named = f"  {_name(plan, row.node):{wide}}  {row.minutes:5.1f} {row.passes:5.2f} {row.words:5}"
        yield f"{named} {_found(row)}{_flags(row)}"
    yield ""
    if plan.after:
        names = ", ".join(_name(plan, node) for node in plan.after)
        yield from _told(f"Only once the closing way was left, and so finding nothing more: {names}.")


def _found(row: NodeRow) -> str:
    if not (row.tests or row.only.happened or row.costs.happened or row.opens.happened):
        return f"{'-':>7} {'-':>8} {'-':>7} {'-':>7} {'-':>7} {'-':>6} {'-':>6}"
    first = str(row.first.happened) if row.tests else "-"
    guards, alone = (str(one.happened) if row.tests else "-" for one in (row.guards, row.alone))
    return (
        f"{first:>7} {row.only.happened:>8} {_percent(row.only.high):>7} {guards:>7} {alone:>7} "
        f"{row.costs.happened:>6} {row.opens.happened:>6}"
    )


def _flags(row: NodeRow) -> str:
    said = ["  ways part here" if row.parts else ""]
    said.append("  as often on healthy streets" if row.finds_as_on_healthy_streets else "")
    said.append(f"  a step can hurt without it: {row.hurts.happened}" if row.hurts.happened else "")
    return "".join(said)


def _finds(rows: Sequence[NodeRow]) -> Iterator[str]:
    yield "Dangers that only one node finds, by kind of fault (95 % bounds)"
    for row in rows:
        by_fault = {kind: share for kind, share in row.only_by_fault.items() if share.happened}
        if by_fault:
            told = (
                f"{kind} {share.happened} of {share.asked} ({_percent(share.low)} to {_percent(share.high)})"
                for kind, share in by_fault.items()
            )
            yield from _told(f"{row.node.node}: {', '.join(told)}", "  ")
    yield ""


def _spare(plan: Plan) -> Iterator[str]:
    yield from _told(
        "Tests without which nothing was lost, each left out by itself. No proof: a bound at 95 %. First "
        "those that guard least against a wrong answer."
    )
    for row in sorted(plan.rows, key=lambda row: row.guards.happened):
        if row.finds_nothing_alone:
            fault, high = row.worst
            wanted = f"; wanted by {', '.join(row.rules)}" if row.rules else "; no rule wants it"
            lost = f"at most {_percent(row.only.high)} of all dangers, {_percent(high)} of {fault}"
            guards = f"; guards {_of(row.guards)} against one wrong answer" if row.guards.happened else ""
            yield from _told(f"{row.node.node}, {row.minutes:g} min: {lost}{guards}{wanted}", "  ")
    together = ", ".join(plan.together) or "none"
    yield from _told(
        f"All of these together, since the others find what they do: {together}. (Those that find least by "
        "themselves were tried first; others could be left out in their place.)",
        "  ",
    )
    yield ""


def _order(plan: Plan) -> Iterator[str]:
    found = sum(turn.new for turn in plan.better)
    yield "Order of the tests by dangers found for each minute; rules, and what warns, come before it"
    yield f"  mean minutes of testing until a danger is found, over {found}: {_minutes(plan.as_is)} as it is,"
    yield f"  {_minutes(plan.better)} in this order, found greedily:"
    wide = max((len(turn.test.name) for turn in plan.better), default=0)
    yield from (
        f"    {turn.test.name:{wide}}  {turn.minutes:5.1f} min {turn.new:6} new" for turn in plan.better
    )
    yield ""


def _minutes(order: Sequence[Turn]) -> str:
    return f"{mean_minutes(order):.1f}"


def _added(plan: Plan) -> Iterator[str]:
    missed = plan.caught.asked - plan.caught.happened
    yield from _told(
        f"Tests to add: how many of the {missed} dangers that are closed beside each shows, and its false "
        "alarms on healthy streets that close. Where no limit is stated: one with "
        f"{HEALTHY_SHARE:.0%} of healthy homes inside."
    )
    new = [one for one in plan.added if not one.is_made]
    yield from _tests(new, "  nothing shows more of them than of healthy streets")
    if any(_is_gain(one) for one in plan.added if one.is_made):
        yield "Tests that it makes, at a limit found so"
        yield from _tests([one for one in plan.added if one.is_made], "")


def _tests(added: Sequence[Added], otherwise: str) -> Iterator[str]:
    gaining = [one for one in added if _is_gain(one)]
    if not gaining and otherwise:
        yield otherwise
    for one in gaining[:_ADDED]:
        found, alarms = Share(one.found, one.missed), Share(one.alarms, one.healthy)
        yield from _told(f"{one.title} ({one.limit}): shows {_of(found)}, false alarms {_of(alarms)}", "  ")
        best = sorted(one.by_fault.items(), key=lambda each: -each[1])[:5]
        yield from _told(", ".join(f"{kind} {count}" for kind, count in best), "      ")


def _is_gain(one: Added) -> bool:
    """Whether a test shows more of the dangers than of the healthy streets, as far as can be told."""
    return Share(one.found, one.missed).low > one.alarms / max(1, one.healthy)


def _told(text: str, indent: str = "") -> Iterable[str]:
    more = indent + "  " * bool(indent)
    return wrap(text, _WIDE, initial_indent=indent, subsequent_indent=more, break_on_hyphens=False)


def _name(plan: Plan, node: Written) -> str:
    return node.node if node.tree == plan.tree else f"{node.tree}: {node.node}"


def _of(share: Share) -> str:
    if not share.asked:
        return "0 of 0"
    return (
        f"{share.happened:,} of {share.asked:,} ({share.happened / share.asked:.1%}, "
        f"{_percent(share.low)} to {_percent(share.high)})"
    )


def _percent(share: float) -> str:
    return f"{share:.1%}" if share >= 0.01 else f"{share:.2%}"


def as_json(plan: Plan) -> str:
    """The same in fields; a share as `happened`, `asked`, `low` and `high`."""
    return json.dumps(
        {
            "tree": plan.tree,
            "ends": plan.ends,
            "streets": plan.streets,
            "caught": _share(plan.caught),
            "caught_by_fault": {kind: _share(share) for kind, share in plan.caught_by_fault.items()},
            "closed": _share(plan.closed),
            "nodes": [_node(row) for row in plan.rows],
            "after": [node._asdict() for node in plan.after],
            "order": {"as_is": _turns(plan.as_is), "better": _turns(plan.better)},
            "together": plan.together,
            "added": [asdict(one) | {"gain": one.gain} for one in plan.added],
        },
        indent=2,
    )


def _node(row: NodeRow) -> dict[str, Any]:
    shares = {
        what: _share(getattr(row, what))
        for what in ("first", "only", "guards", "alone", "leaves", "costs", "opens", "hurts")
    }
    return {
        **row.node._asdict(),
        "kind": row.kind,
        "tests": row.tests,
        "parts": row.parts,
        "minutes": row.minutes,
        "passes": row.passes,
        "words": row.words,
        **shares,
        "only_by_fault": {kind: _share(share) for kind, share in row.only_by_fault.items()},
        "finds_nothing_alone": row.finds_nothing_alone,
        "rules": row.rules,
    }


def _share(share: Share) -> dict[str, float]:
    return {"happened": share.happened, "asked": share.asked, "low": share.low, "high": share.high}


def _turns(turns: Sequence[Turn]) -> list[dict[str, Any]]:
    return [{"test": turn.test.name, "minutes": turn.minutes, "new": turn.new} for turn in turns]
