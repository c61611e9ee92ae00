"""Systematic damage to a guide, and which check refuses it.

What nothing refuses is a survivor: either `harmless.yaml` says why it may stand, or a check is missing.
"""

from __future__ import annotations

import json
import random
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from pydantic import BaseModel, ConfigDict, TypeAdapter

from build_tools.guide.findings import Demand, Finding, Refused
from build_tools.guide.loading import load
from build_tools.guide.source import Source, read
from build_tools.guide.validation import conform
from build_tools.mutate.slips import KINDS, Mutant, mutants
from build_tools.mutate.trial import Verdict, judge
from build_tools.setup import progress
from build_tools.setup.stopping import workers

__all__ = ["Report", "run"]

HARMLESS = Path(__file__).parent / "harmless.yaml"
Key = tuple[str, str, str]


class Harmless(BaseModel):
    """Why every mutant of one kind in one node of a file may stand, though nothing refuses it."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    kind: str
    file: str
    node: str
    because: str

    @property
    def key(self) -> Key:
        return self.kind, self.file, self.node


@dataclass(frozen=True, slots=True)
class Report:
    """The verdicts in the order of the guide, of how many mutants there are, and what was said of them."""

    verdicts: tuple[Verdict, ...]
    of: int
    reasons: dict[Key, str]
    stale: tuple[Finding, ...]

    @property
    def survivors(self) -> tuple[Verdict, ...]:
        return tuple(verdict for verdict in self.verdicts if verdict.survived)

    @property
    def unexplained(self) -> tuple[Verdict, ...]:
        return tuple(one for one in self.survivors if _key(one.mutant) not in self.reasons)

    @property
    def refused(self) -> int:
        return len(self.verdicts) - len(self.survivors)

    @property
    def by_kind(self) -> tuple[tuple[str, int, int], ...]:
        """Each kind of damage that was tried, how many of it were refused, and how many made."""
        made = Counter(one.mutant.kind for one in self.verdicts)
        left = Counter(one.mutant.kind for one in self.survivors)
        return tuple((kind, made[kind] - left[kind], made[kind]) for kind in KINDS if made[kind])

    def as_text(self) -> str:
        """The share by kind and by check, then each survivor."""
        return "\n".join(self._lines())

    def _lines(self) -> Iterator[str]:
        total = len(self.verdicts)
        share = _share(self.refused, total)
        yield f"{self.refused} of {total} mutants refused ({share}); there are {self.of}"
        yield ""
        yield f"{'kind of damage':<24}{'made':>6}{'refused':>9}  share"
        for kind, refused, made in self.by_kind:
            yield f"{kind:<24}{made:>6}{refused:>9}  {_share(refused, made)}"
        yield ""
        yield f"{'check':<24}{'refused':>8}   (the first that does, those that take long asked last)"
        first = Counter(one.refused_by for one in self.verdicts if one.refused_by)
        for check, times in sorted(first.items(), key=lambda entry: (-entry[1], entry[0])):
            yield f"{check:<24}{times:>8}"
        for title, left in (("survivors", self.unexplained), ("survivors, with the reason", self._told())):
            if left:
                yield ""
                yield f"{title}: {len(left)}"
            for one in left:
                yield f"  {one.mutant}"
                if reason := self.reasons.get(_key(one.mutant)):
                    yield f"    {reason}"

    def _told(self) -> tuple[Verdict, ...]:
        return tuple(one for one in self.survivors if _key(one.mutant) in self.reasons)

    def as_json(self) -> str:
        """The same as an object: totals, and every mutant with what refused it."""
        rows = [
            {
                "kind": one.mutant.kind,
                "file": one.mutant.file,
                "line": one.mutant.line,
                "node": one.mutant.node,
                "what": one.mutant.what,
                "refused_by": one.refused_by,
                "finding": one.finding,
                "harmless": self.reasons.get(_key(one.mutant)) if one.survived else None,
            }
            for one in self.verdicts
        ]
        return json.dumps(
            {"mutants": self.of, "tried": len(rows), "refused": self.refused, "verdicts": rows},
            indent=1,
            ensure_ascii=False,
        )


def run(folder: Path, sample: int | None = None, seed: int = 1, processes: int = 2) -> Report:
    """Try every mutant of the guide in `folder`, or a seeded sample of them.

    The report is the same however the work is split. Raises Refused for a guide that has findings while it
    is read: damage to what is broken shows nothing.
    """
    guide = load(folder)
    if guide.findings:
        raise Refused(guide.findings)
    every = mutants(guide)
    chosen = every if sample is None or sample >= len(every) else _sampled(every, sample, seed)
    with tempfile.TemporaryDirectory() as work:
        trial = partial(judge, str(folder.resolve()), work)
        tried = "damaging the guide"
        if processes == 1:
            verdicts = tuple(progress.each(map(trial, chosen), tried, len(chosen)))
        else:
            with workers(processes) as pool:
                asked = pool.map(trial, chosen, chunksize=2)
                verdicts = tuple(progress.each(asked, tried, len(chosen)))
    source = read(HARMLESS)
    reasons = _reasons(source)
    return Report(
        verdicts,
        len(every),
        {one.key: one.because for one in reasons},
        tuple(_stale(source, reasons, every, verdicts)),
    )


def _sampled(every: Sequence[Mutant], size: int, seed: int) -> tuple[Mutant, ...]:
    """A part of the mutants, the same on every machine, in their order."""
    places = random.Random(seed).sample(range(len(every)), size)
    return tuple(every[place] for place in sorted(places))


def _reasons(source: Source) -> tuple[Harmless, ...]:
    value, findings = conform(tuple[Harmless, ...], source)
    if source.findings or findings:
        raise Refused((*source.findings, *findings))
    return TypeAdapter(tuple[Harmless, ...]).validate_python(value)


STALE_REASON = Demand(
    "stale-reason",
    "reasons for survivors only: a stale one would hide the next",
    "delete this entry, or correct its kind, file and node",
)


def _stale(
    source: Source, reasons: Sequence[Harmless], every: Iterable[Mutant], verdicts: Iterable[Verdict]
) -> Iterator[Finding]:
    """Reasons for what is not there, or is refused by now."""
    there = Counter(_key(mutant) for mutant in every)
    refused = Counter(_key(one.mutant) for one in verdicts if not one.survived)
    for i, reason in enumerate(reasons):
        if refused[reason.key] == there[reason.key]:
            yield STALE_REASON.found(
                source.place((i, "node")),
                f"no {reason.kind} in {reason.node} of {reason.file} survives",
                (str(i + 1),),
            )


def _key(mutant: Mutant) -> Key:
    return mutant.kind, mutant.file, mutant.node


def _share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.1f} %" if whole else "none"
