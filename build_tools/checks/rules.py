"""The rules on the order of steps hold along every path of every tree.

Not by trying paths: each tree is searched together with what has been met so far (one bit for each thing
that a rule needs or forbids) and what the path knows (`known`), so that every state a walk can be in is seen
once, and the first way to break a rule that is found is the shortest. What a rule means: `shapes.Rule`.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from build_tools.checks.path_facts import NOTHING, Known, Memory
from build_tools.checks.paths import Way, told_way, way_to
from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, nearest, shown
from build_tools.guide.loading import SAME_NAME
from build_tools.guide.trees import Exit, Guide, Node, Tree
from build_tools.guide.unknown_names import UNKNOWN_NODE
from build_tools.guide.validation import told

__all__ = ["bound", "check", "kept", "needed_at", "readings_of"]

State = tuple[str, int, Known]
Came = dict[State, tuple[State, Exit] | None]

STATES_A_NODE = 64
"""A search that has seen so many states for each node of its tree learns nothing more, so that it ends soon
in every tree. To know less only lets more paths through."""


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every rule in every tree that it speaks of."""
    yield from _same_ids(guide)
    if guide.is_whole:
        yield from _unknown_labels(guide)
        yield from _unknown_nodes(guide)
    memories = [(tree, Memory(tree)) for tree in trees]
    for position, rule in enumerate(guide.rules):
        turns = _Turns(rule)
        for tree, memory in memories:
            if rule.audience in (None, tree.audience):
                for way, unmet in _breaches(turns, tree, memory):
                    yield _told(guide, position, tree, way, unmet)


def kept(rule: models.Rule, tree: Tree) -> Way | None:
    """The shortest way to a node that the rule binds and where it holds; None where there is none."""
    if rule.audience not in (None, tree.audience):
        return None
    arrivals = _arrivals(_Turns(rule), tree, Memory(tree))
    return next((way_to(came, state) for came, state, unmet in arrivals if not unmet), None)


def bound(guide: Guide) -> dict[str, int]:
    """How many nodes of all trees each rule is about, by its id."""
    found = {}
    for turns in map(_Turns, guide.rules):
        whose = turns.rule.audience
        trees = (tree for tree in guide.trees.values() if whose in (None, tree.audience))
        found[turns.rule.id] = sum(len(turns.bound(tree)) for tree in trees)
    return found


def needed_at(rule: models.Rule, node: Node, exit_: Exit | None) -> bool:
    """Whether a path that leaves the node so has met something that the rule needs."""
    return exit_ is not None and any(meets(need, node, exit_, surely=True) for need in rule.needs_earlier)


class _Turns:
    """What no longer counts as met once a node is left by an exit, and then what does: bits, what the rule
    needs from the lowest up, then what it forbids. Found once for all the places where a node is written out.

    In doubt against the path: a need must surely have been met, and lapses when it may have lapsed; a ban
    begins when it may have begun, and ends when it surely has.
    """

    def __init__(self, rule: models.Rule) -> None:
        self.rule = rule
        self._conditions = [
            *((need, True) for need in rule.needs_earlier),
            *((ban, False) for ban in rule.never_after),
        ]
        self._found: dict[tuple[object, ...], tuple[int, int]] = {}
        self._binds: dict[int, bool] = {}  # by the identity of what the author wrote

    @property
    def all_met(self) -> int:
        """The bits with which the rule holds from here on, whatever comes; -1 where there are none."""
        forever = not self.rule.never_after and self.rule.unless is None
        return (1 << len(self.rule.needs_earlier)) - 1 if forever else -1

    def bound(self, tree: Tree) -> set[str]:
        """The nodes that the rule is about."""
        bound = set()
        for id_, node in tree.nodes.items():
            key = id(node.spec)
            if key not in self._binds:
                self._binds[key] = meets(self.rule.every, node, None, surely=True)
            if self._binds[key]:
                bound.add(id_)
        return bound

    def at(self, node: Node, exit_: Exit) -> tuple[int, int]:
        """What has ended, and what has begun. A narrowed exit is one more."""
        key = (id(node.spec), exit_.label, exit_.kind, exit_.low, exit_.high, exit_.is_)
        if key not in self._found:
            self._found[key] = self._find(node, exit_)
        return self._found[key]

    def _find(self, node: Node, exit_: Exit) -> tuple[int, int]:
        unless = self.rule.unless
        ended = begun = 0
        for bit, (condition, is_need) in enumerate(self._conditions):
            if unless and meets(unless, node, exit_, surely=not is_need):
                ended |= 1 << bit
            if meets(condition, node, exit_, surely=is_need):
                begun |= 1 << bit
        return ended, begun


def _breaches(turns: _Turns, tree: Tree, memory: Memory) -> Iterator[tuple[Way, str]]:
    """The shortest way to each node where the rule is broken, and what is wrong there."""
    broken = set[str]()
    for came, state, unmet in _arrivals(turns, tree, memory, settled=turns.all_met):
        if unmet and state[0] not in broken:
            broken.add(state[0])
            yield way_to(came, state), unmet


def _arrivals(
    turns: _Turns, tree: Tree, memory: Memory, settled: int = -1
) -> Iterator[tuple[Came, State, str]]:
    """Every state at a node that the rule binds, the nearest first, and what is wrong there (or nothing).
    No way goes on from where just the bits of `settled` are met."""
    rule = turns.rule
    bound = turns.bound(tree)
    if not bound:
        return
    leading = memory.leading_to(bound)
    turned: dict[int, tuple[int, int]] = {}  # by the exit's identity: the tree or its memory holds it
    start: State = (tree.start, 0, NOTHING)
    came: Came = {start: None}
    queue, most = deque([start]), STATES_A_NODE * len(tree.nodes)
    while queue:
        state = queue.popleft()
        id_, met, known = state
        node = tree.nodes[id_]
        if id_ in bound:
            yield came, state, _unmet(rule, met)
        if met == settled:
            continue
        for exit_, knows in memory.onward(node, known):
            if exit_.go not in leading:
                continue
            turn = turned.get(id(exit_))
            if turn is None:
                turn = turned[id(exit_)] = turns.at(node, exit_)
            ended, begun = turn
            follower = (exit_.go, met & ~ended | begun, knows if len(came) < most else NOTHING)
            if follower not in came:
                came[follower] = (state, exit_)
                queue.append(follower)


def _unmet(rule: models.Rule, met: int) -> str:
    """What is missing, or what came before and must not; empty when the rule holds."""
    needs = len(rule.needs_earlier)
    for bit, need in enumerate(rule.needs_earlier):
        if not met >> bit & 1:
            return f"without {said(need)} before it"
    for bit, ban in enumerate(rule.never_after):
        if met >> (needs + bit) & 1:
            return f"after {said(ban)}"
    return ""


BROKEN_RULE = Demand(
    "rule-ID",
    "every path to keep the rule of rules.yaml that has this id",
    "put what is needed before the node on this way, or lead this way elsewhere",
)


def _told(guide: Guide, position: int, tree: Tree, way: Way, unmet: str) -> Finding:
    rule = guide.rules[position]
    node = tree.nodes[way[-1][0]]
    line = guide.files["rules.yaml"].place((position,))
    mend = (
        "put what is needed before it on this way"
        if unmet.startswith("without")
        else "lead this way elsewhere"
    )
    return replace(BROKEN_RULE, id=f"rule-{rule.id}").found(
        node.place,
        f"{node.kind} {shown(node.name)} is reached {unmet}",
        ("nodes", node.name),
        f"the rule to hold: {rule.title}. {rule.because}",
        f"{mend} (the rule stands at {line})",
        told_way(tree, way),
    )


def meets(condition: models.Condition, node: Node, exit_: Exit | None, *, surely: bool) -> bool:
    """Whether leaving `node` by `exit_` meets the condition; surely, or at least possibly.

    With no exit only what the node itself says counts.
    """
    has = vars(node.spec)  # a shape looks long for a field that it does not have
    return (
        condition.node_kind in (None, node.kind)
        and (condition.hazard is None or condition.hazard in has.get("hazards", ()))
        and (condition.does is None or condition.does in has.get("does", ()))
        and (condition.priority is None or condition.priority == has.get("priority"))
        and (condition.outcome_closes is None or condition.outcome_closes == has.get("closes"))
        and (condition.node is None or condition.node == node.name)
        and (
            condition.answer is None or exit_ is None or exit_.label.casefold() == condition.answer.casefold()
        )
        and (condition.reading is None or _read(condition.reading, node, exit_, surely))
        and (condition.question is None or _answered(condition.question, node, exit_, surely))
        and (not condition.any_of or any(meets(one, node, exit_, surely=surely) for one in condition.any_of))
    )


def _answered(wanted: models.QuestionCondition, node: Node, exit_: Exit | None, surely: bool) -> bool:
    """An answer that stands for no word (`not sure`) may be any of them."""
    spec = node.spec
    return (
        isinstance(spec, models.Question)
        and wanted.fact in (None, spec.fact)
        and wanted.remember in (None, spec.remember)
        and (
            wanted.is_ is None
            or exit_ is None
            or exit_.is_ == wanted.is_
            or (exit_.is_ is None and not surely)
        )
    )


def _read(wanted: models.ReadingCondition, node: Node, exit_: Exit | None, surely: bool) -> bool:
    spec = node.spec
    return (
        isinstance(spec, models.Reading)
        and spec.instrument == wanted.instrument
        and (wanted.on is None or set(wanted.on) == set(spec.on))
        and wanted.change == (spec.change_from is not None)
        and (exit_ is None or _shown(wanted, exit_, surely))
    )


def _shown(wanted: models.ReadingCondition, exit_: Exit, surely: bool) -> bool:
    """Whether the figure behind an exit meets the bounds. One that is not steady may be any figure, and is
    no figure taken; over range is above every bound."""
    if exit_.kind == "not_taken" or (surely and exit_.kind == "not_steady"):
        return False
    return _in_named_range(wanted, exit_, surely) and _in_bounds(wanted, exit_, surely)


def _in_named_range(wanted: models.ReadingCondition, exit_: Exit, surely: bool) -> bool:
    may_be_any = exit_.kind == "not_steady" and not surely
    label = exit_.label.casefold()
    return (wanted.answered is None or label == wanted.answered.casefold() or may_be_any) and (
        wanted.not_answered is None or label != wanted.not_answered.casefold()
    )


def _in_bounds(wanted: models.ReadingCondition, exit_: Exit, surely: bool) -> bool:
    if exit_.kind == "over_range":
        return wanted.below is None
    above = wanted.at_least is None or (
        exit_.low >= wanted.at_least if surely else exit_.high > wanted.at_least
    )
    below = wanted.below is None or (exit_.high <= wanted.below if surely else exit_.low < wanted.below)
    return above and below


def said(condition: models.Condition) -> str:
    """The condition in words."""
    parts = []
    if condition.node_kind:
        parts.append(f"a {condition.node_kind}")
    if condition.node:
        parts.append(
            f"the node {condition.node}" + (f' left by "{condition.answer}"' if condition.answer else "")
        )
    if condition.hazard:
        parts.append(f"a step tagged {condition.hazard}")
    if condition.does:
        parts.append(f"a step that does {condition.does}")
    if condition.priority:
        parts.append(f"an outcome of priority {condition.priority}")
    if condition.outcome_closes is not None:
        parts.append(f"an outcome that {'closes' if condition.outcome_closes else 'does not close'} the job")
    if condition.reading:
        parts.append(_said_reading(condition.reading))
    if asked := condition.question:
        words = f"the question about {asked.fact or asked.remember}"
        parts.append(f'{words} answered "{asked.is_}"' if asked.is_ else words)
    if condition.any_of:
        parts.append(" or ".join(said(one) for one in condition.any_of))
    return " that is ".join(parts)


def _said_reading(wanted: models.ReadingCondition) -> str:
    words = f"{'the change of ' if wanted.change else ''}the reading with the {wanted.instrument}"
    if wanted.on:
        words += f" on {' + '.join(wanted.on)}"
    if wanted.answered:
        words += f' in "{wanted.answered}"'
    if wanted.not_answered:
        words += f' other than in "{wanted.not_answered}"'
    if wanted.at_least is not None:
        words += f" of {wanted.at_least:g} or more"
    if wanted.below is not None:
        words += f" below {wanted.below:g}"
    return words


def _same_ids(guide: Guide) -> Iterator[Finding]:
    seen: set[str] = set()
    for i, rule in enumerate(guide.rules):
        if rule.id in seen:
            place = guide.files["rules.yaml"].place((i, "id"))
            what = f"two rules are called {shown(rule.id)}"
            yield SAME_NAME.found(place, what, told((i, "id")), "a name for each", "rename one of them")
        seen.add(rule.id)


UNKNOWN_LABEL = Demand(
    "unknown-label", "the label of a range, as the trees have it", "correct the label here, or in the tree"
)


def _unknown_labels(guide: Guide) -> Iterator[Finding]:
    """Ranges that a rule names and no reading has: such a rule would forbid nothing, without a word."""
    labels: dict[str, set[str]] = {}
    for file in guide.tree_files.values():
        for node in file.spec.nodes.values():
            if isinstance(node, models.Reading):
                labels.setdefault(node.instrument, set()).update(range_.label for range_ in node.ranges)
    source = guide.files["rules.yaml"]
    for i, rule in enumerate(guide.rules):
        for keys, reading in readings_of(rule, source.value((i,))):
            known = labels.get(reading.instrument)
            for key in ("answered", "not_answered"):
                label = getattr(reading, key)
                if label and known and label.casefold() not in (one.casefold() for one in known):
                    path = (i, *keys, "reading", key)
                    what = f"no reading with the {reading.instrument} has a range called {shown(label)}"
                    yield UNKNOWN_LABEL.found(source.place(path), what + nearest(label, known), told(path))


UNKNOWN_ANSWER = Demand(
    "unknown-answer",
    "a node of a tree and one of its answers: such a rule would hold for nothing",
    "correct the name here, or in the tree",
)


def _unknown_nodes(guide: Guide) -> Iterator[Finding]:
    """Nodes that a rule names and no tree has, and answers that no such node has."""
    exits: dict[str, set[str]] = {}
    for tree in guide.trees.values():
        for node in tree.nodes.values():
            exits.setdefault(node.name, set()).update(exit_.label.casefold() for exit_ in node.exits)
    source = guide.files["rules.yaml"]
    for i, rule in enumerate(guide.rules):
        for keys, condition in conditions_of(rule, source.value((i,))):
            known = exits.get(condition.node or "")
            answer = (condition.answer or "").casefold()
            if condition.node and (known is None or (answer and answer not in known)):
                key = "node" if known is None else "answer"
                name = getattr(condition, key)
                yield {"node": UNKNOWN_NODE, "answer": UNKNOWN_ANSWER}[key].found(
                    source.place((i, *keys, key)),
                    f"no {key} is called {shown(name)}{nearest(name, exits if known is None else known)}",
                    told((i, *keys, key)),
                )


def readings_of(
    rule: models.Rule, written: Any
) -> Iterator[tuple[tuple[str | int, ...], models.ReadingCondition]]:
    """Every reading that a rule speaks of, with the keys that lead to it in the rule as `written`."""
    for keys, condition in conditions_of(rule, written):
        if condition.reading:
            yield keys, condition.reading


def conditions_of(
    rule: models.Rule, written: Any
) -> Iterator[tuple[tuple[str | int, ...], models.Condition]]:
    """Every condition of a rule, those in `any_of` too, with the keys that lead to it as `written`."""
    conditions: list[tuple[tuple[str | int, ...], models.Condition]] = [(("every",), rule.every)]
    for key in ("needs_earlier", "never_after"):
        one_alone = isinstance(written.get(key), dict)
        conditions += [((key,) if one_alone else (key, i), one) for i, one in enumerate(getattr(rule, key))]
    if rule.unless:
        conditions.append((("unless",), rule.unless))
    while conditions:
        keys, condition = conditions.pop()
        yield keys, condition
        conditions += [((*keys, "any_of", i), one) for i, one in enumerate(condition.any_of)]
