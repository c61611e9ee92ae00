"""The difference between two guides as Markdown, for a review."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from typing import TypeVar

from build_tools.review.difference import Difference, Moved, TreeChange
from calc.faults import KINDS

__all__ = ["markdown"]

_Key = TypeVar("_Key", bound=Hashable)


def markdown(difference: Difference, old: str, new: str) -> str:
    """A heading, what a reviewer must know first, then tree by tree; short when no behaviour changes."""
    return "\n".join(_lines(difference, old, new)).rstrip() + "\n"


def _lines(difference: Difference, old: str, new: str) -> Iterator[str]:
    yield f"# Behaviour of the guide: {old} -> {new}"
    yield ""
    yield from _summary(difference)
    for tree in difference.trees:
        if tree.moved:
            yield from _tree(tree)
    if difference.meaning:
        yield from ("", "## Outcomes that mean something else", "")
        yield from (f"- {line}" for line in difference.meaning)
    if difference.promises:
        yield from ("", "## Promises whose evidence moved", "")
        yield from (f"- {line}" for line in difference.promises)
    for title, names in (
        ("Added", difference.added),
        ("Removed", difference.removed),
        ("Changed in what they do", difference.changed),
        ("Changed in words only", difference.reworded),
    ):
        if names:
            yield from ("", f"## {title}", "")
            for kind, some in names.items():
                yield f"- {kind}: {_names(some)}"
                for name in some:
                    yield from _altered(name, difference.altered.get((kind, name), ()))


_MOST_TOLD = 12
"""Lines that a review has for what changed inside one thing."""


def _altered(name: str, lines: Sequence[str]) -> Iterator[str]:
    """What changed inside one thing, old and new."""
    for line in lines[:_MOST_TOLD]:
        yield f"  - `{name}`: {line}"
    if len(lines) > _MOST_TOLD:
        yield f"  - `{name}`: {len(lines) - _MOST_TOLD} more"


def _summary(difference: Difference) -> Iterator[str]:
    moved = [one for tree in difference.trees for one in tree.moved]
    walks = sum(tree.walks for tree in difference.trees)
    elsewhere = sum(one.ends_elsewhere for one in moved)
    closing = [one for one in moved if one.closes]
    trees = _counted(len(difference.trees), "tree", "trees")
    of_all = f"{walks:,} walks (one street, one fault, one home) of {trees} were compared"
    if not elsewhere:
        yield f"No walk ends elsewhere. {of_all}."
    else:
        yield f"**{_counted(elsewhere, 'walk ends', 'walks end')} elsewhere**. {of_all}."
    if moved:
        beside = sum(one.in_danger for one in closing)
        yield ""
        yield f"- newly close a job: {len(closing)}" + (
            f", **{beside} of them beside a danger**" * bool(beside)
        )
        yield f"- no longer close a job: {sum(one.closes is False for one in moved)}"
        yield f"- newly go wrong (a harm, or no answer fits): {sum(bool(one.new_wrong) for one in moved)}"
        yield f"- no longer go wrong: {sum(bool(one.mended) for one in moved)}"
    if difference.unread:
        yield ""
        yield f"Not compared, since they could not be read (see `check`): {_names(difference.unread)}."


def _tree(tree: TreeChange) -> Iterator[str]:
    elsewhere = [one for one in tree.moved if one.ends_elsewhere]
    yield from (
        "",
        f"## {tree.title} (`{tree.tree}`)",
        "",
        f"{len(elsewhere)} of {tree.walks:,} walks end elsewhere.",
    )
    if elsewhere:
        yield from (
            "",
            "| fault | walks | no longer ends at | now ends at | for example |",
            "| --- | ---: | --- | --- | --- |",
        )
        for (kind, gone, come), group in _grouped(
            elsewhere, lambda one: (_kind(one), _gone(one), _come(one))
        ):
            yield f"| {kind} | {len(group)} | {gone} | {come} | {_example(group)} |"
    yield from _list("Newly close a job", (one for one in tree.moved if one.closes))
    yield from _list("No longer close a job", (one for one in tree.moved if one.closes is False))
    yield from _wrong("Newly go wrong", tree.moved, lambda one: one.new_wrong)
    yield from _wrong("No longer go wrong", tree.moved, lambda one: one.mended)


def _list(title: str, moved: Iterable[Moved]) -> Iterator[str]:
    groups = _grouped(moved, lambda one: (_kind(one), one.in_danger))
    if groups:
        yield from ("", f"{title}:", "")
    for (kind, in_danger), group in groups:
        danger = ", **beside a danger**" if in_danger else ""
        yield f"- {kind}: {_counted(len(group), 'walk', 'walks')}{danger}, for example {_example(group)}"


def _wrong(
    title: str, moved: Iterable[Moved], which: Callable[[Moved], Iterable[tuple[str, str, str]]]
) -> Iterator[str]:
    met: dict[tuple[str, str, str], list[Moved]] = {}
    for one in moved:
        for wrong in sorted(which(one)):
            met.setdefault(wrong, []).append(one)
    if met:
        yield from ("", f"{title}:", "")
    for (_, node, what), group in sorted(met.items()):
        kinds = ", ".join(sorted({_kind(one) for one in group}))
        walks = _counted(len(group), "walk", "walks")
        yield f"- `{node}`: {what}: {walks} ({kinds}), for example {_example(group)}"


def _grouped(moved: Iterable[Moved], key: Callable[[Moved], _Key]) -> list[tuple[_Key, list[Moved]]]:
    """Alike ones together, in the order in which each kind is first met."""
    groups: dict[_Key, list[Moved]] = {}
    for one in moved:
        groups.setdefault(key(one), []).append(one)
    return list(groups.items())


def _kind(one: Moved) -> str:
    return KINDS[one.fault.partition("@")[0]].title


def _gone(one: Moved) -> str:
    return _outcomes(one.gone, one.gone_besides)


def _come(one: Moved) -> str:
    return _outcomes(one.come, one.come_besides)


def _outcomes(found: Iterable[str], besides: Iterable[str]) -> str:
    unsure = [f"`{id_}` (if something is not taken or not known)" for id_ in sorted(besides)]
    return ", ".join([*(f"`{id_}`" for id_ in sorted(found)), *unsure]) or "-"


def _example(group: list[Moved]) -> str:
    one = group[0]
    return f"`{one.fault}` on {one.street}, visiting {one.home}"


def _names(names: Iterable[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def _counted(number: int, one: str, many: str) -> str:
    return f"{number:,} {one if number == 1 else many}"
