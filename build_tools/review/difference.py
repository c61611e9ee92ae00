"""What a change to a guide does to behaviour: which walks now end elsewhere, close a job or hurt."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any

from pydantic import BaseModel

from build_tools.guide.models import Outcome
from build_tools.guide.trees import Guide, Tree
from build_tools.proof import evidence
from build_tools.review.alterations import alterations
from build_tools.walks.ends import Case, Ends, acts, ends_on
from build_tools.walks.oracle import Oracle
from calc.faults import catalogue, parse
from calc.street import Street

__all__ = ["Difference", "Moved", "TreeChange", "differ", "unreadable"]

_WORDS = (
    *("title", "about", "review_by", "sources", "heard_as", "cautions", "because"),
    *("question", "reading", "step", "outcome", "help", "why", "label", "answer", "proved_by"),
    *("say", "advice", "next", "hand_over", "not_proven"),
)
"""Keys whose values are words: no walk depends on them. `priority` is not among them."""

_ABOUT_THE_EDITION = ("title", "version", "reviewed", "review_by", "stands_on")
"""Settings that are new in every edition, or that say nothing to readers."""


@dataclass(frozen=True, slots=True)
class Moved:
    """One walk (a street, a fault, a home) that behaves otherwise. `gone` and `come`: outcomes of what is
    found; `gone_besides` and `come_besides`: outcomes that it takes something not taken or not known to
    reach. `closes`: newly (True), no longer (False), as before (None). `in_danger`: the fault endangers the
    visited home. `new_wrong` and `mended`: kind, node and words."""

    street: str
    fault: str
    home: str
    gone: frozenset[str]
    come: frozenset[str]
    gone_besides: frozenset[str]
    come_besides: frozenset[str]
    closes: bool | None
    in_danger: bool
    new_wrong: frozenset[tuple[str, str, str]]
    mended: frozenset[tuple[str, str, str]]

    @property
    def ends_elsewhere(self) -> bool:
        """Whether any outcome came or went."""
        return bool(self.gone | self.come | self.gone_besides | self.come_besides)


@dataclass(frozen=True, slots=True)
class TreeChange:
    """What became of one tree's walks; `walks` were compared."""

    tree: str
    title: str
    walks: int
    moved: tuple[Moved, ...]


@dataclass(frozen=True, slots=True)
class Difference:
    """Between two guides: behaviour in `trees`, and what came, went and changed by kind of thing (`trees`,
    `nodes`, `streets`, `rules`, `settings`), each name once. `reworded`: changed in words alone. `altered`:
    by kind and name, a line for each value that is another, old and new. `meaning`: outcomes whose priority,
    or what they hold or return, changed. `promises`: shares in the kept evidence that moved. `unread`: trees
    that could not be compared."""

    trees: tuple[TreeChange, ...]
    added: dict[str, list[str]] = field(default_factory=dict)
    removed: dict[str, list[str]] = field(default_factory=dict)
    changed: dict[str, list[str]] = field(default_factory=dict)
    reworded: dict[str, list[str]] = field(default_factory=dict)
    altered: dict[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)
    meaning: tuple[str, ...] = ()
    promises: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()


def differ(old: Guide, new: Guide) -> Difference:
    """Walk what changed in both guides, and compare."""
    difference = Difference(
        tuple(_trees(old, new)),
        meaning=tuple(_meaning(old, new)),
        promises=tuple(_promises(old, new)),
        unread=tuple(
            f"{name} ({which})" for which, g in (("old", old), ("new", new)) for name in unreadable(g)
        ),
    )
    for kind, before, after in _things(old, new):
        _sort(difference, kind, before, after)
    return difference


def unreadable(guide: Guide) -> list[str]:
    """Trees whose files are there and could not be read whole."""
    return sorted({path.stem for path in guide.folder.glob("trees/*/*.yaml")} - set(guide.trees))


def _trees(old: Guide, new: Guide) -> Iterator[TreeChange]:
    """The changed site trees, and all of them on changed streets."""
    both = [id_ for id_ in new.trees if id_ in old.trees and new.trees[id_].audience == "site"]
    walks = dict.fromkeys(both, 0)
    moved: dict[str, list[Moved]] = {id_: [] for id_ in both}
    for name in sorted(set(old.streets) & set(new.streets)):
        was, street = old.streets[name], new.streets[name]
        same = [id_ for id_ in both if was == street and acts(old.trees[id_]) == acts(new.trees[id_])]
        for id_ in same:
            walks[id_] += len(catalogue(street)) * len(street.premises)
        before = ends_on(was, [old.trees[id_] for id_ in both if id_ not in same])
        after = ends_on(street, [new.trees[id_] for id_ in both if id_ not in same])
        for id_ in before.keys() & after.keys():
            shared = [case for case in after[id_] if case in before[id_]]
            walks[id_] += len(shared)
            compared = _Compared(old.trees[id_], new.trees[id_])
            for case in shared:
                one = compared.moved(street, name, case, before[id_][case], after[id_][case])
                moved[id_] += [one] if one else []
    for id_ in both:
        yield TreeChange(id_, new.trees[id_].title, walks[id_], tuple(moved[id_]))


class _Compared:
    """Two versions of one tree; an outcome that only got another id counts as the same."""

    def __init__(self, old: Tree, new: Tree) -> None:
        self.old, self.new = old, new
        gone = [node for node in old.nodes.values() if node.kind == "outcome" and node.id not in new.nodes]
        come = [node for node in new.nodes.values() if node.kind == "outcome" and node.id not in old.nodes]
        self.renamed: dict[str, str] = {}
        for node in gone:
            if match := next((other for other in come if other.spec == node.spec), None):
                come.remove(match)
                self.renamed[node.id] = match.id

    def moved(self, street: Street, name: str, case: Case, before: Ends, after: Ends) -> Moved | None:
        """How one case changed; None where it did not."""
        found, all_ = self._now(before.found), self._now(before.found | before.besides)
        found_after, all_after = after.found, after.found | after.besides
        gone, come = found - found_after, found_after - found
        fault, home = case
        closed, closes = self._closes(self.old, before), self._closes(self.new, after)
        moved = Moved(
            name,
            fault,
            home,
            gone,
            come,
            all_ - all_after - gone,
            all_after - all_ - come,
            None if closed == closes else closes,
            home in Oracle(street, parse(fault)).endangered,
            after.wrong - before.wrong,
            before.wrong - after.wrong,
        )
        return (
            moved if moved.ends_elsewhere or moved.closes is not None or before.wrong != after.wrong else None
        )

    def _now(self, outcomes: Iterable[str]) -> frozenset[str]:
        return frozenset(self.renamed.get(id_, id_) for id_ in outcomes)

    @staticmethod
    def _closes(tree: Tree, ends: Ends) -> bool:
        specs = (tree.nodes[id_].spec for id_ in ends.found | ends.besides)
        return any(isinstance(spec, Outcome) and spec.closes for spec in specs)


def _things(old: Guide, new: Guide) -> Iterator[tuple[str, Mapping[str, Any], Mapping[str, Any]]]:
    """Everything that has a name, by kind, in both guides."""

    def nodes(guide: Guide, other: Guide) -> dict[str, Any]:
        both = [file for id_, file in guide.tree_files.items() if id_ in other.tree_files]
        return {f"{file.id}: {name}": node for file in both for name, node in file.spec.nodes.items()}

    def trees(guide: Guide) -> dict[str, Any]:
        return {id_: file.spec.model_copy(update={"nodes": {}}) for id_, file in guide.tree_files.items()}

    yield "trees", trees(old), trees(new)
    yield "nodes", nodes(old, new), nodes(new, old)
    yield "streets", old.streets, new.streets
    yield "rules", {rule.id: rule for rule in old.rules}, {rule.id: rule for rule in new.rules}
    yield "settings", _settings(old), _settings(new)


def _settings(guide: Guide) -> dict[str, Any]:
    """What holds for the whole guide and is read by those who work by it: numbers, cautions, priorities."""
    told = {key: value for of in (guide.settings, guide.operator) if of for key, value in of}
    return {key: value for key, value in told.items() if value and key not in _ABOUT_THE_EDITION}


def _sort(difference: Difference, kind: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> None:
    changed = [name for name in after if name in before and after[name] != before[name]]
    by_words = [name for name in changed if _without_words(before[name]) == _without_words(after[name])]
    for where, names in (
        (difference.added, [name for name in after if name not in before]),
        (difference.removed, [name for name in before if name not in after]),
        (difference.changed, [name for name in changed if name not in by_words]),
        (difference.reworded, by_words),
    ):
        if names:
            where[kind] = names
    for name in changed:
        if lines := tuple(alterations(before[name], after[name], _WORDS)):
            difference.altered[kind, name] = lines


def _without_words(value: Any) -> Any:
    if isinstance(value, BaseModel):
        return _without_words(dict(value))
    if is_dataclass(value):
        return _without_words({field.name: getattr(value, field.name) for field in fields(value)})
    if isinstance(value, Mapping):
        kept = {
            key: inner for key, inner in value.items() if key not in _WORDS or isinstance(inner, BaseModel)
        }
        return {key: _without_words(inner) for key, inner in kept.items()}
    if isinstance(value, tuple | list):
        return [_without_words(inner) for inner in value]
    return value


def _meaning(old: Guide, new: Guide) -> Iterator[str]:
    """Outcomes that keep their name and mean something else."""
    for id_, file in new.tree_files.items():
        before = old.tree_files[id_].spec.nodes if id_ in old.tree_files else {}
        for name, node in file.spec.nodes.items():
            was = before.get(name)
            if not isinstance(node, Outcome) or not isinstance(was, Outcome):
                continue
            for key in ("priority", "closes", "holds", "returns"):
                if getattr(was, key) != getattr(node, key):
                    yield f"`{id_}: {name}`: {key} {_said(getattr(was, key))} -> {_said(getattr(node, key))}"


def _promises(old: Guide, new: Guide) -> Iterator[str]:
    """What the evidence kept with each guide says otherwise; nothing where one of them has none."""
    was, now = evidence.read(old), evidence.read(new)
    if was is None or now is None:
        return
    before = {(row.promise, row.tree, row.fault): row for row in was.rows if not row.detail}
    for row in now.rows:
        one = before.get((row.promise, row.tree, row.fault))
        if one is not None and not row.detail and one.happened * row.asked != row.happened * one.asked:
            shares = " -> ".join(f"{each.happened:,} of {each.asked:,}" for each in (one, row))
            yield f"`{row.promise}`, `{row.tree}`, {row.fault}: {shares}"


def _said(value: Any) -> str:
    if isinstance(value, tuple):
        return ", ".join(value) or "nothing"
    return {None: "nothing", True: "yes", False: "no"}.get(value, str(value))
