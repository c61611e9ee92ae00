"""What a guide is: its trees, as written and with called trees written out, and all else in its folder."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Literal

import networkx as nx

from build_tools.guide import models
from build_tools.guide.findings import Finding, Place
from build_tools.guide.source import Source
from calc.minutes import Minutes
from calc.sampling import Sampling
from calc.street import Street

__all__ = ["Exit", "ExitKind", "Guide", "Node", "NodeKind", "Tree", "TreeFile", "names_in", "ways"]

NodeKind = Literal["question", "reading", "step", "outcome"]
ExitKind = Literal["answer", "range", "not_taken", "over_range", "not_steady", "go"]


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
    spec: models.Question | models.Reading | models.Step | models.Outcome

    @property
    def name(self) -> str:
        """Its id in its own file, without the calls that led there."""
        return self.id.rpartition(".")[2]

    @property
    def words(self) -> str:
        """What it asks, or tells to read, do or conclude."""
        return str(getattr(self.spec, self.kind))

    @property
    def does(self) -> tuple[str, ...]:
        """What the walks do to the street in it: of a step, what its `does` names."""
        return self.spec.does if isinstance(self.spec, models.Step) else ()


@dataclass(frozen=True, slots=True)
class TreeFile:
    """One tree as it was written, calls and all."""

    id: str
    spec: models.Tree
    source: Source

    def place(self, *path: str | int, key: bool = False) -> Place:
        """Where something in the file stands; list positions count from 0."""
        return self.source.place(path, key=key)

    @property
    def calls(self) -> list[tuple[str, models.Call]]:
        """Its nodes that call another tree, each with its name."""
        return [(name, node) for name, node in self.spec.nodes.items() if isinstance(node, models.Call)]


@dataclass(frozen=True, slots=True)
class Tree:
    """One tree with every called tree written out: one flat graph. Ids of a called tree's nodes begin
    with the id of the node that calls it and a full stop."""

    id: str
    title: str
    audience: models.Audience
    about: str
    review_by: date
    start: str
    nodes: dict[str, Node]
    loops: dict[str, int]  # node that a stated loop passes through -> how often at most
    file: TreeFile = field(repr=False, compare=False)

    @property
    def spec(self) -> models.Tree:
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
    the places of its values; `tree_files` the trees as written, `trees` the whole ones, expanded; `held` what
    an editor holds of them that was not saved."""

    folder: Path
    today: date
    settings: models.Settings | None
    operator: models.Operator | None
    rules: tuple[models.Rule, ...]
    glossary: dict[str, models.Term]
    sources: dict[str, models.Reference]
    sampling: Sampling | None
    promises: tuple[models.Promise, ...]
    synonyms: models.Synonyms
    minutes: Minutes | None
    signatures: tuple[models.Signature, ...] | None
    tree_files: dict[str, TreeFile]
    trees: dict[str, Tree]
    streets: dict[str, Street]
    files: dict[str, Source] = field(repr=False)
    findings: tuple[Finding, ...] = ()
    held: Mapping[Path, str] = field(default_factory=dict, repr=False)

    @property
    def is_whole(self) -> bool:
        """Whether something could be made of every file in `trees`: what they lack is lacking then."""
        return self.written("trees") == self.trees.keys()

    def written(self, folder: str) -> set[str]:
        """The names of the files in `streets` or `trees`, of those too that were refused: who names one of
        them made no slip."""
        return names_in(self.files, folder)


def names_in(files: Iterable[str], folder: str) -> set[str]:
    """The names, without their ending, of those of the files that lie in a folder of the guide's."""
    return {Path(name).stem for name in files if name.startswith(f"{folder}/")}


def ways(node: models.Node) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Every place in a node that names another node: the keys that lead there, and the name."""
    if isinstance(node, models.Question):
        yield from ((("answers", i, "go"), answer.go) for i, answer in enumerate(node.answers))
    elif isinstance(node, models.Reading):
        yield from ((("ranges", i, "go"), range_.go) for i, range_ in enumerate(node.ranges))
        for kind in ("not_taken", "over_range", "not_steady"):
            if exit_ := getattr(node, kind):
                yield (kind, "go"), exit_.go
    elif isinstance(node, models.Step):
        yield ("go",), node.go
    elif isinstance(node, models.Call):
        yield from ((("back", name), go) for name, go in node.back.items())
