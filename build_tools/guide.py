"""A whole guide folder -> Guide: every file read and given its shape, every called tree written out.

Mistakes of an author never raise: they are collected in `Guide.findings`, and what could not be made of
the files is left out. A tree in `Guide.trees` is whole: everything it leads to is there.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any, Literal

import networkx as nx

from build_tools import shapes, source
from build_tools.conform import conform, told
from build_tools.findings import Finding, Hop, Place, few, in_order, nearest, nearest_names, shown
from build_tools.source import Source
from calc.bands import Sampling
from calc.street import Street, network

__all__ = ["Exit", "Guide", "Node", "Tree", "TreeFile", "load"]

NodeKind = Literal["question", "reading", "step", "outcome"]
ExitKind = Literal["answer", "range", "not_taken", "over_range", "not_steady", "go"]

MOST_NODES = 5_000
_ID = re.compile(r"[a-z0-9][a-z0-9-]*")


@dataclass(frozen=True, slots=True)
class Exit:
    """One way out of a node. `low` and `high` bound a range (high excluded, infinite when open);
    `is_` is the word of a fact that an answer stands for."""

    label: str
    go: str
    kind: ExitKind
    place: Place
    low: float = 0.0
    high: float = math.inf
    is_: str | None = None


@dataclass(frozen=True, slots=True)
class Node:
    """One node of an expanded tree. `spec` is what the author wrote for it."""

    id: str
    kind: NodeKind
    place: Place
    exits: tuple[Exit, ...]
    spec: shapes.Question | shapes.Reading | shapes.Step | shapes.Outcome

    @property
    def name(self) -> str:
        """Its id in its own file, without the calls that led there."""
        return self.id.rpartition(".")[2]

    @property
    def words(self) -> str:
        """What it asks, or tells to read, do or conclude."""
        return str(getattr(self.spec, self.kind))


@dataclass(frozen=True, slots=True)
class TreeFile:
    """One tree as it was written, calls and all."""

    id: str
    spec: shapes.Tree
    source: Source

    def place(self, *path: str | int, key: bool = False) -> Place:
        """Where something in the file stands; list positions count from 0."""
        return self.source.place(path, key=key)


@dataclass(frozen=True, slots=True)
class Tree:
    """One tree with every called tree written out: one flat graph. Ids of a called tree's nodes begin
    with the id of the node that calls it and a full stop."""

    id: str
    title: str
    audience: shapes.Audience
    about: str
    review_by: date
    start: str
    nodes: dict[str, Node]
    loops: dict[str, int]  # node that a stated loop passes through -> how often at most
    file: TreeFile = field(repr=False, compare=False)

    @property
    def spec(self) -> shapes.Tree:
        """The tree as its author wrote it."""
        return self.file.spec

    @property
    def graph(self) -> nx.MultiDiGraph:
        """The nodes' ids, with one edge for each exit (`exit` on the edge)."""
        graph = nx.MultiDiGraph()
        graph.add_nodes_from(self.nodes)
        for node in self.nodes.values():
            graph.add_edges_from((node.id, exit_.go, {"exit": exit_}) for exit_ in node.exits)
        return graph


@dataclass(frozen=True, slots=True)
class Guide:
    """Everything in a guide's folder. `files` holds every YAML file by its path inside the folder, for
    the places of its values; `tree_files` the trees as written, `trees` the whole ones, expanded."""

    folder: Path
    today: date
    settings: shapes.Settings | None
    operator: shapes.Operator | None
    rules: tuple[shapes.Rule, ...]
    glossary: dict[str, shapes.Term]
    sources: dict[str, shapes.Reference]
    sampling: Sampling | None
    promises: tuple[shapes.Promise, ...]
    synonyms: shapes.Synonyms
    tree_files: dict[str, TreeFile]
    trees: dict[str, Tree]
    streets: dict[str, Street]
    files: dict[str, Source] = field(repr=False)
    findings: tuple[Finding, ...] = ()


def load(folder: Path | str, today: date | None = None, operator: Path | None = None) -> Guide:
    """The guide in `folder`; review dates are held against `today` (now, when not given).

    `operator`: a file to take in place of the folder's own operator.yaml.
    """
    reader = _Reader(Path(folder))
    whose = reader.operator(operator)
    settings = reader.file("guide.yaml", shapes.Settings)
    rules = reader.file("rules.yaml", shapes.Rules)
    glossary = reader.file("glossary.yaml", shapes.Glossary)
    sources = reader.file("sources.yaml", shapes.References)
    sampling = reader.optional("sampling.yaml", Sampling)
    promises = reader.optional("promises.yaml", shapes.Promises)
    synonyms = reader.optional("synonyms.yaml", shapes.Synonyms)
    tree_files = reader.tree_files()
    streets = {path.stem: street for path, street in reader.streets()}
    reader.misplaced()
    trees, findings = _expanded(tree_files)
    return Guide(
        Path(folder),
        today or date.today(),
        settings,
        whose,
        rules or (),
        glossary or {},
        sources or {},
        sampling,
        promises or (),
        synonyms or shapes.Synonyms(),
        tree_files,
        trees,
        streets,
        reader.files,
        tuple(in_order([*reader.findings, *findings])),
    )


class _Reader:
    """Reads the files of one folder, and keeps what was found wrong with them."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.files: dict[str, Source] = {}
        self.findings: list[Finding] = []
        self.names: dict[str, str] | None = None

    def operator(self, other: Path | None) -> shapes.Operator | None:
        """Whose guide it is. Texts that are read after it may name what it holds."""
        read = source.read(other or self.root / "operator.yaml")
        self.files["operator.yaml"] = read
        self.findings += read.findings
        if read.data is None:
            return None
        operator, findings = conform(shapes.Operator, read)
        self.findings += findings
        self.names = operator.names if operator else None
        return operator if not read.findings else None

    def file(self, name: str, shape: Any) -> Any:
        """The value that one file makes, or None."""
        path = self.root / name
        read = source.read(path)
        self.files[name] = read
        self.findings += read.findings
        if read.data is None:
            return None
        value, findings = conform(shape, read, self.names)
        self.findings += findings
        return value if not read.findings else None

    def optional(self, name: str, shape: Any) -> Any:
        """The value that a file makes which a guide need not have."""
        return self.file(name, shape) if (self.root / name).exists() else None

    def folder(self, name: str, shape: Any) -> Iterator[tuple[Path, Any]]:
        """Every value in the YAML files of a folder, with the file's path."""
        for path in sorted((self.root / name).glob("*.yaml")):
            if not path.is_file():
                self._found(path, "unreadable", "this is not a file", "remove it")
            elif not _ID.fullmatch(path.stem):
                self._found(path, "name", f"the file name {shown(path.name)} does not fit", "rename the file")
            elif (value := self.file(path.relative_to(self.root).as_posix(), shape)) is not None:
                yield path, value

    def streets(self) -> Iterator[tuple[Path, Street]]:
        """The streets whose circuit can be solved."""
        for path, street in self.folder("streets", Street):
            try:
                _ = network(street).solution
            except (ValueError, ArithmeticError) as error:
                why = f"this street cannot be solved: {error}"
                self._found(path, "unsolvable", why, "correct the figure", "figures that a real street has")
            else:
                yield path, street

    def tree_files(self) -> dict[str, TreeFile]:
        trees: dict[str, TreeFile] = {}
        for audience in ("call", "site"):
            for path, spec in self.folder(f"trees/{audience}", shapes.Tree):
                tree = TreeFile(path.stem, spec, self.files[f"trees/{audience}/{path.name}"])
                if spec.audience != audience:
                    self._wrong_audience(tree, audience)
                elif path.stem in trees:
                    what = f"two trees are called {path.stem}; the other is {trees[path.stem].source.file}"
                    self._found(path, "same-name", what, "rename one of the files")
                else:
                    trees[path.stem] = tree
        return trees

    def misplaced(self) -> None:
        """YAML files that nothing reads: a wrong folder or ending would drop them without a word."""
        for path in sorted([*self.root.rglob("*.yaml"), *self.root.rglob("*.yml")]):
            inside = path.relative_to(self.root)
            if (
                inside.parts[0] == "pages"
                or inside.as_posix() in self.files
                or not _ID.fullmatch(inside.stem)
            ):
                continue
            folders = ("streets", "trees/call", "trees/site")
            near = nearest(inside.parent.as_posix(), folders)
            what = f"nothing reads this file{near if inside.parent.as_posix() not in folders else ''}"
            expected = "files that end in .yaml, in trees/call, trees/site or streets"
            self._found(path, "misplaced", what, "move or rename the file", expected)

    def _wrong_audience(self, tree: TreeFile, folder: str) -> None:
        self.findings.append(
            Finding(
                "audience",
                tree.place("audience"),
                f"this tree is for `{tree.spec.audience}` and lies in trees/{folder}",
                ("audience",),
                f"`{folder}`, as the folder says",
                "move the file, or correct the audience",
            )
        )

    def _found(self, path: Path, check: str, what: str, mend: str, expected: str = "") -> None:
        place = source.Source(source.as_given(path), None).place()
        self.findings.append(Finding(check, place, what, (), expected, mend))


def _expanded(files: Mapping[str, TreeFile]) -> tuple[dict[str, Tree], list[Finding]]:
    """Every whole tree with its calls written out, the called before the calling."""
    findings: list[Finding] = []
    for file in files.values():
        findings += few(_unknown_names(file, files), file.place())
    calls = nx.DiGraph()
    calls.add_nodes_from(files)
    for file in files.values():
        calls.add_edges_from((file.id, call.call) for _, call in _calls(file) if call.call in files)
    for ring in nx.strongly_connected_components(calls):
        if len(ring) > 1 or calls.has_edge(*(list(ring) * 2)):
            findings.append(_call_ring(files, nx.find_cycle(calls.subgraph(ring))))
            calls.remove_edges_from(list(calls.subgraph(ring).edges))
    broken = {finding.place.file for finding in findings}
    trees: dict[str, Tree] = {}
    for id_ in reversed(list(nx.topological_sort(calls))):
        file = files[id_]
        if file.source.file in broken or any(call.call not in trees for _, call in _calls(file)):
            continue
        size = len(file.spec.nodes) + sum(len(trees[call.call].nodes) for _, call in _calls(file))
        if size > MOST_NODES:
            findings.append(_too_many(file, size))
        else:
            trees[id_] = _expand(file, trees)
    return {id_: trees[id_] for id_ in files if id_ in trees}, findings


def _calls(file: TreeFile) -> list[tuple[str, shapes.Call]]:
    return [(name, node) for name, node in file.spec.nodes.items() if isinstance(node, shapes.Call)]


def ways(node: shapes.Node) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Every place in a node that names another node: the keys that lead there, and the name."""
    if isinstance(node, shapes.Question):
        yield from ((("answers", i, "go"), answer.go) for i, answer in enumerate(node.answers))
    elif isinstance(node, shapes.Reading):
        yield from ((("ranges", i, "go"), range_.go) for i, range_ in enumerate(node.ranges))
        for kind in ("not_taken", "over_range", "not_steady"):
            if exit_ := getattr(node, kind):
                yield (kind, "go"), exit_.go
    elif isinstance(node, shapes.Step):
        yield ("go",), node.go
    elif isinstance(node, shapes.Call):
        yield from ((("back", name), go) for name, go in node.back.items())


def _unknown_names(file: TreeFile, files: Mapping[str, TreeFile]) -> Iterator[Finding]:
    """Names of nodes, trees and ways back that lead nowhere."""
    nodes = file.spec.nodes
    if file.spec.start not in nodes:
        yield _unknown(file, ("start",), "node", file.spec.start, nodes)
    elif isinstance(nodes[file.spec.start], shapes.Outcome):
        yield _starts_with_its_end(file)
    for i, loop in enumerate(file.spec.loops):
        if loop.through not in nodes:
            yield _unknown(file, ("loops", i, "through"), "node", loop.through, nodes)
    for name, node in nodes.items():
        for path, go in ways(node):
            if go not in nodes:
                yield _unknown(file, ("nodes", name, *path), "node", go, nodes)
    for name, call in _calls(file):
        alike = [id_ for id_, other in files.items() if other.spec.audience == file.spec.audience]
        if call.call not in alike:
            yield _unknown(file, ("nodes", name, "call"), "tree", call.call, alike)
        else:
            returned = _returned(files[call.call])
            yield from (
                _unknown_return(file, name, back, returned) for back in call.back if back not in returned
            )


def _returned(file: TreeFile) -> list[str]:
    outcomes = (node for node in file.spec.nodes.values() if isinstance(node, shapes.Outcome))
    return sorted({outcome.returns for outcome in outcomes if outcome.returns})


def _unknown(
    file: TreeFile, path: tuple[str | int, ...], what: str, name: str, known: Iterable[str]
) -> Finding:
    near = nearest_names(name, known := sorted(known))
    return Finding(
        f"unknown-{what}",
        file.place(*path),
        f"no {what} is called {shown(name)}{nearest(name, known)}",
        told(path),
        "the name of a node" if what == "node" else "the name of another tree for the same audience",
        f"write `{near[0]}`, or add the {what}" if near else f"add the {what}, or write {_some(known)}",
    )


def _unknown_return(file: TreeFile, node: str, back: str, returned: list[str]) -> Finding:
    path = ("nodes", node, "back", back)
    return Finding(
        "unknown-return",
        file.place(*path, key=True),
        f"the called tree never returns {shown(back)}{nearest(back, returned)}",
        path,
        f"a name that one of its outcomes `returns`: {_some(returned)}",
        f"correct the name, or write `returns: {back}` in an outcome of the called tree",
    )


def _starts_with_its_end(file: TreeFile) -> Finding:
    return Finding(
        "start",
        file.place("start"),
        f"the tree starts with its end: {shown(file.spec.start)} is an outcome",
        ("start",),
        "a question, reading or step: an outcome follows from something",
        "start with what must be asked or done first",
    )


def _some(names: list[str]) -> str:
    few = ", ".join(names[:8])
    return f"{few}, ..." if len(names) > 8 else few or "none yet"


def _call_ring(files: Mapping[str, TreeFile], ring: list[tuple[str, str]]) -> Finding:
    hops = []
    for caller, called in ring:
        name = next(name for name, call in _calls(files[caller]) if call.call == called)
        place = files[caller].place("nodes", name, "call")
        hops.append(Hop(place, f"{caller} calls {called} in its node {name}"))
    at = hops[0]
    return Finding(
        "call-ring",
        at.place,
        "these trees call each other in a ring" if len(hops) > 1 else "this tree calls itself",
        ("nodes",),
        "calls that come back",
        "end one of the trees with an outcome that `returns`, and loop in the calling tree",
        tuple(hops),
    )


def _too_many(file: TreeFile, size: int) -> Finding:
    return Finding(
        "too-many-nodes",
        file.place("nodes", key=True),
        f"with its calls written out this tree has {size:,} nodes",
        ("nodes",),
        f"at most {MOST_NODES:,}",
        "call fewer trees, or call them from fewer nodes",
    )


def _expand(file: TreeFile, trees: Mapping[str, Tree]) -> Tree:
    """One flat tree: each call gives way to the called tree's nodes, and its returns to what comes next."""
    spec = file.spec
    calls = dict(_calls(file))
    moved = {name: _entry(file, name, trees) for name in spec.nodes}
    nodes: dict[str, Node] = {}
    loops = {moved[loop.through]: loop.at_most for loop in spec.loops}
    for name, node in spec.nodes.items():
        if not isinstance(node, shapes.Call):
            nodes[name] = _node(file, name, node, moved)
            continue
        called = trees[calls[name].call]
        instead = {
            id_: moved[node.back[inner.spec.returns]]
            for id_, inner in called.nodes.items()
            if isinstance(inner.spec, shapes.Outcome)
            and inner.name == id_
            and inner.spec.returns in node.back
        }
        nodes.update(_inlined(name, called, instead))
        loops.update({f"{name}.{through}": at_most for through, at_most in called.loops.items()})
    return Tree(
        file.id,
        spec.title,
        spec.audience,
        spec.about,
        spec.review_by,
        moved[spec.start],
        nodes,
        loops,
        file,
    )


def _entry(file: TreeFile, name: str, trees: Mapping[str, Tree]) -> str:
    """The node of the expanded tree that a name in the file leads to."""
    node = file.spec.nodes[name]
    return f"{name}.{trees[node.call].start}" if isinstance(node, shapes.Call) else name


def _inlined(prefix: str, called: Tree, instead: Mapping[str, str]) -> dict[str, Node]:
    """The called tree's nodes under the calling node's name; outcomes that return are led back."""
    return {
        f"{prefix}.{id_}": replace(
            node,
            id=f"{prefix}.{id_}",
            exits=tuple(replace(e, go=instead.get(e.go, f"{prefix}.{e.go}")) for e in node.exits),
        )
        for id_, node in called.nodes.items()
        if id_ not in instead
    }


def _node(
    file: TreeFile,
    name: str,
    spec: shapes.Question | shapes.Reading | shapes.Step | shapes.Outcome,
    moved: Mapping[str, str],
) -> Node:
    kind: Any = type(spec).__name__.lower()
    exits = tuple(replace(e, go=moved[e.go]) for e in _exits(file, name, spec))
    return Node(name, kind, file.place("nodes", name, key=True), exits, spec)


_NO_FIGURE: dict[ExitKind, str] = {
    "not_taken": "could not take it",
    "over_range": "over range",
    "not_steady": "the display is not steady",
}


def _exits(file: TreeFile, name: str, spec: shapes.Node) -> Iterator[Exit]:
    if isinstance(spec, shapes.Question):
        for i, answer in enumerate(spec.answers):
            place = file.place("nodes", name, "answers", i)
            yield Exit(answer.answer, answer.go, "answer", place, is_=answer.is_)
    elif isinstance(spec, shapes.Reading):
        for i, r in enumerate(spec.ranges):
            place = file.place("nodes", name, "ranges", i)
            yield Exit(r.label, r.go, "range", place, r.low, math.inf if r.high is None else r.high)
        for kind, words in _NO_FIGURE.items():
            if way := getattr(spec, kind):
                yield Exit(way.label or words, way.go, kind, file.place("nodes", name, kind, key=True))
    elif isinstance(spec, shapes.Step):
        yield Exit("done", spec.go, "go", file.place("nodes", name, "go"))
