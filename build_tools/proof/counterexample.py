"""A counterexample: one street on which a promise is not kept, and the file that keeps it.

`walk` tells such a file, and the street calculator opens its link.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import yaml

from build_tools.guide import source
from build_tools.guide.findings import Refused
from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.guide.validation import conform
from build_tools.proof.cases import Case
from build_tools.proof.counting import cases
from build_tools.proof.street_batch import StreetBatch, stacked
from build_tools.setup.environment import COMMAND
from build_tools.setup.whole import write_whole
from calc import faults
from calc.address import fragment
from calc.drawn_streets import Drawn
from calc.faults import KINDS
from calc.shaped import plain
from calc.street import Street, network

__all__ = ["Counterexample", "batch_of", "failing", "fails", "link", "read", "write"]


@dataclass(frozen=True)
class Counterexample:
    """One street on which a promise fails, with everything else that the failure needs.

    `seed` and `number` say which drawn street it was cut down from (and, with the tree, which answers of a
    caller are wrong). The other fields are as calc.drawn_streets.Drawn has them; `home` is the one that is
    visited.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}
    promise: str
    tree: str
    fault: str
    home: str
    seed: int
    number: int
    meters: dict[str, float]
    caller: dict[str, float]
    known_load_kw: float
    later_kw: dict[str, tuple[float, ...]]
    street: Street

    def __post_init__(self) -> None:
        fault = faults.parse_one(self.fault)
        if fault.at not in tuple(KINDS[fault.kind].places(self.street)):
            raise ValueError(f"fault: {fault} cannot be on this street")
        if self.home not in self.street.premises:
            raise ValueError(f"home: {self.home!r} is not on this street")
        if self.later_kw.keys() != self.street.premises.keys():
            raise ValueError("later_kw must give the loads of every home of the street, and of no other")
        for home, premises in self.street.premises.items():
            if len(self.later_kw[home]) != len(premises.phases):
                raise ValueError(f"later_kw: {home} needs a figure for each of {len(premises.phases)} lines")

    @property
    def kind(self) -> str:
        """The kind of its fault."""
        return faults.parse_one(self.fault).kind

    @property
    def drawn(self) -> Drawn:
        """It as a draw that comes to this home and this fault."""
        fault = faults.parse_one(self.fault)
        places = tuple(KINDS[fault.kind].places(self.street))
        homes = tuple(self.street.premises)
        shares = (
            (homes.index(self.home) + 0.5) / len(homes),
            (places.index(fault.at) + 0.5) / len(places),
        )
        return Drawn(
            self.number,
            "cut-down",
            self.street,
            self.later_kw,
            self.meters,
            self.known_load_kw,
            self.home,
            shares,
            fault.ohm or KINDS[fault.kind].ohm or 1.0,
            self.caller,
        )

    @property
    def with_perfect_meters(self) -> Counterexample:
        """The same with meters that do not err."""
        return replace(self, meters=dict.fromkeys(self.meters, 0.0))


def batch_of(worst: Counterexample) -> StreetBatch:
    """The one street, with its fault."""
    drawn = worst.drawn
    (batch,) = StreetBatch((drawn,), stacked([network(drawn.street)])).with_fault(worst.kind)
    return batch


def fails(guide: Guide, worst: Counterexample) -> bool:
    """Whether the promise fails on the street."""
    return bool(failing(guide, worst.promise, worst.tree, batch_of(worst)).any())


def failing(guide: Guide, promise_id: str, tree: str, batch: StreetBatch) -> Any:
    """The streets of a batch on which a promise is not kept by a tree."""
    (promise,) = (each for each in guide.promises if each.id == promise_id)
    alone = replace(guide, promises=(promise.model_copy(update={"trees": (tree,)}),))
    for case, asked, happened in cases(alone, batch):
        if case == Case(promise.id, tree, batch.kind):
            return asked & (happened if promise.is_upper else ~happened)
    return np.zeros(batch.size, bool)


def write(worst: Counterexample, promise: Promise, folder: Path) -> Path:
    """Keep it in a file of its own, whole or not at all."""
    path = folder / f"{worst.kind}-{worst.tree}-{promise.id}.yaml"
    head = textwrap.wrap(
        f"Not so on this street: {promise.title}. {promise.words.strip()} "
        f"Told by: {COMMAND} walk {worst.tree} --street {source.as_given(path)}",
        108,
        break_on_hyphens=False,
        break_long_words=False,
    )
    text = yaml.safe_dump(
        plain(worst), sort_keys=False, allow_unicode=True, width=110, default_flow_style=None
    )
    write_whole(path, "".join(f"# {line}\n" for line in head) + text)
    return path


def read(path: Path) -> Counterexample:
    """The street of such a file. Raises findings.Refused for one that is damaged."""
    read = source.read(path)
    worst, findings = (None, []) if read.findings else conform(Counterexample, read)
    if worst is None:
        raise Refused((*read.findings, *findings))
    return worst  # type: ignore[no-any-return]


def link(worst: Counterexample) -> str:
    """Where the site's street calculator opens it. Raises ValueError for a street too large to travel."""
    return f"calculators/one-street.html#{fragment(worst.street, home=worst.home, fault=worst.fault)}"
