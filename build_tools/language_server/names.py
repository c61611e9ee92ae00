"""Names that one place of a guide gives and another uses: nodes, trees, sources, rules, dangers, terms, and
the words of the model."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from build_tools.guide import wording
from build_tools.guide.findings import Place
from build_tools.guide.models import KINDS
from build_tools.guide.source import Data
from build_tools.language_server.cursor import Keys, Spot, inside_of
from build_tools.language_server.known import File, Known, merged
from build_tools.walks.walkable import places as held_to
from calc.faults import KINDS as FAULTS
from calc.instruments import INSTRUMENTS

__all__ = ["Name", "Named", "named_at", "names", "nodes_of", "terms"]

Named: TypeAlias = Literal[
    "node", "reading", "tree", "return", "source", "rule", "danger", "point", "unit", "instrument", "fault",
    "hazard",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Name:
    """A name, what it stands for, and where it is given; the model's own words stand in no file."""

    name: str
    words: str
    places: tuple[Place, ...] = ()


def named_at(kind: str | None, keys: Keys, *, is_key: bool) -> Named | None:
    """What the text at a place of a file names, by the kind of file; None for a text that names nothing."""
    match (kind, is_key, *keys):
        case ("tree", True, "nodes", _):
            return "node"
        case ("tree", True, "nodes", _, "back", _):
            return "return"
        case ("guide", True, "stands_on", "rules", _):
            return "rule"
        case (_, True, *_):
            return None
        case ("tree", _, "start") | ("tree", _, *_, "go") | ("rules", _, *_, "node"):
            return "node"
        case ("tree", _, "loops", _, "through") | ("tree", _, "nodes", _, "back", _):
            return "node"
        case ("tree", _, "nodes", _, "same_as" | "change_from"):
            return "reading"
        case ("tree", _, "nodes", _, "call") | ("guide", _, "first", _) | ("promises", _, _, "trees", _):
            return "tree"
        case (_, _, *_, "sources", int()) | ("guide", _, "reading_ease", "source"):
            return "source"
        case ("guide", _, "stands_on", "dangers", _):
            return "danger"
        case ("tree" | "rules", _, *_, "on", int()):
            return "point"
        case ("tree", _, "nodes", _, "unit"):
            return "unit"
        case ("tree" | "rules", _, *_, "instrument"):
            return "instrument"
        case ("tree", _, "nodes", _, "holds", _):
            return "fault"
        case ("tree", _, "nodes", _, "hazards", _) | ("rules", _, *_, "hazard"):
            return "hazard"
    return None


def names(named: Named, known: Known, file: File, spot: Spot) -> Iterator[Name]:
    """Every name that may stand at a place which names that."""
    match named:
        case "node" | "reading":
            nodes = nodes_of(known, file, spot.data) if file.kind == "tree" else _nodes_of_all(known)
            yield from (node for node in nodes if named == "node" or node.words.startswith("reading"))
        case "tree":
            yield from _trees(known, file)
        case "return":
            yield from _returns(known, inside_of(spot.data, *spot.keys[:-2], "call"))
        case "source":
            yield from _in_mapping(known, "sources.yaml", (), "title")
        case "danger":
            yield from _in_mapping(known, "guide.yaml", ("dangers",), "title")
        case "rule":
            yield from _rules(known)
        case "point":
            yield from _points(inside_of(spot.data, *spot.keys[:-2], "instrument"))
        case "unit":
            tester = INSTRUMENTS.get(str(inside_of(spot.data, *spot.keys[:-1], "instrument")))
            yield from [Name(tester.unit, f"what the {tester.title.lower()} shows")] if tester else []
        case "instrument":
            yield from (
                Name(one.id, f"{one.title}: up to {one.high:g} {one.unit}") for one in INSTRUMENTS.values()
            )
        case "fault":
            yield from (Name(one.id, one.title) for one in FAULTS.values())
        case "hazard":
            yield from (Name(tag, wording.hazard(tag)) for tag in wording.HAZARDS)


def terms(known: Known) -> Iterator[Name]:
    """Every spelling of every term of the glossary."""
    for term in _in_mapping(known, "glossary.yaml", (), "meaning"):
        yield term
        also = inside_of(known.data("glossary.yaml"), term.name, "also")
        yield from (
            Name(str(spelling), term.words, term.places) for spelling in also or () if isinstance(also, list)
        )


def nodes_of(known: Known, file: File, data: Data = None) -> Iterator[Name]:
    """The nodes of one tree file; `data` is what of it can be read now."""
    held = merged(known.data(file.inside), data)
    source = known.readable.get(file.inside)
    for name, node in _mapping(held, "nodes").items():
        kind = next((kind for kind in KINDS if isinstance(node, dict) and kind in node), "node")
        said = f"{kind}: {inside_of(node, kind) or ''}"
        keys = ("nodes", name)
        yield Name(name, said, (source.place(keys, key=True),) if source and source.value(keys) else ())


def _nodes_of_all(known: Known) -> Iterator[Name]:
    trees = (File(inside, "tree") for inside in known.trees().values())
    yield from _together(node for tree in trees for node in nodes_of(known, tree))


def _trees(known: Known, file: File) -> Iterator[Name]:
    """Every tree; in a tree those that it can call."""
    beside = file.inside.rpartition("/")[0] if file.kind == "tree" else ""
    for id_, inside in known.trees().items():
        if inside.startswith(beside) and inside != file.inside:
            title = inside_of(known.data(inside), "title")
            yield Name(id_, str(title or ""), (_start(known, inside),))


def _start(known: Known, inside: str) -> Place:
    """Where a tree's first node is written, or else its file begins."""
    source = known.readable[inside]
    start = source.value(("start",))
    keys: Keys = ("nodes", start) if isinstance(start, str) else ()
    return source.place(keys, key=True) if keys and source.value(keys) else source.place()


def _returns(known: Known, tree: Data) -> Iterator[Name]:
    """What the outcomes of a called tree return."""
    if inside := known.trees().get(str(tree)):
        yield from _together(_returned(known, inside))


def _returned(known: Known, inside: str) -> Iterator[Name]:
    for name, node in _mapping(known.data(inside), "nodes").items():
        if isinstance(returned := inside_of(node, "returns"), str):
            place = known.readable[inside].place(("nodes", name), key=True)
            yield Name(returned, f"outcome: {inside_of(node, 'outcome')}", (place,))


def _together(given: Iterable[Name]) -> Iterator[Name]:
    """Each name once, with every place that gives it."""
    found: dict[str, Name] = {}
    for one in given:
        others = found[one.name].places if one.name in found else ()
        found[one.name] = Name(one.name, one.words, (*others, *one.places))
    yield from found.values()


def _rules(known: Known) -> Iterator[Name]:
    rules = known.data("rules.yaml")
    for number, rule in enumerate(rules if isinstance(rules, list) else ()):
        place = known.readable["rules.yaml"].place((number, "id"))
        yield Name(str(inside_of(rule, "id")), str(inside_of(rule, "title") or ""), (place,))


def _points(instrument: Data) -> Iterator[Name]:
    if instrument in INSTRUMENTS:
        known, _ = held_to(str(instrument))
        yield from (Name(point, wording.place(point)) for point in known)


def _in_mapping(known: Known, inside: str, keys: Keys, said: str) -> Iterator[Name]:
    """The keys of a mapping in one file, each with what it says of itself."""
    for name, entry in _mapping(known.data(inside), *keys).items():
        place = known.readable[inside].place((*keys, name), key=True)
        yield Name(name, str(inside_of(entry, said) or ""), (place,))


def _mapping(data: Data, *keys: str | int) -> dict[str, Any]:
    found = inside_of(data, *keys)
    return found if isinstance(found, dict) else {}
