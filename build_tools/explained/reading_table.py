"""What each test shows on drawn streets with each fault of calc.explain: the table behind Explain."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from build_tools.proof.detection_rates import places
from build_tools.proof.street_batch import Many, StreetBatch, faulty_batches
from calc.explain import ASKED, NO_READING, PRIORS, Asked, Sampled, code_of
from calc.instruments import TWO_POLE_STEPS
from calc.readings import TESTS
from calc.sampling import Sampling
from calc.work import ACTIONS, Condition

__all__ = ["drawn_table"]

_TESTS = {test.id: test for test in TESTS}
_HERE = ("alone", "sharing")


def drawn_table(sampling: Sampling, numbers: Iterable[int], streets: int) -> Sampled:
    """The table, from the drawn streets of these numbers, at most `streets` for each state.

    Raises ValueError for a state that none of them is in.
    """
    columns: dict[str, list[bytes]] = {name: [] for name in ASKED}
    hurts: dict[str, list[bytes]] = {one.needs: [] for one in ASKED.values() if one.needs}
    counts = []
    kinds = tuple(dict.fromkeys(kind for kind, _ in PRIORS))
    batches: dict[str, list[StreetBatch]] = {kind: [] for kind in kinds}
    for batch in faulty_batches(sampling, numbers, kinds):
        batches[batch.kind].append(batch)
    for kind, where in PRIORS:
        parts = [part for batch in batches[kind] for part in _at_homes(batch, where)]
        taken = _spread(parts, streets)
        if not sum(taken):
            raise ValueError(f"no drawn street has {kind} {where}: draw more")
        counts.append(sum(taken))
        for (batch, home, mask), many in zip(parts, taken, strict=True):
            chosen = np.flatnonzero(mask)[:many]
            if many:
                for name, one in ASKED.items():
                    columns[name].append(_codes(one, batch, home)[chosen].tobytes())
                for action in hurts:
                    hurts[action].append(_hurt(action, batch, home)[chosen].tobytes())
    return Sampled(
        tuple(counts),
        {name: b"".join(parts) for name, parts in columns.items()},
        {name: b"".join(parts) for name, parts in hurts.items()},
    )


def _at_homes(batch: StreetBatch, where: str) -> Iterator[tuple[StreetBatch, str, Many]]:
    """The homes that are visited, each with its streets."""
    at = places(batch)
    for number, home in enumerate(batch.street.premises):
        mask = np.logical_or.reduce([at[one] == number for one in (_HERE if where == "here" else (where,))])
        if mask.any():
            yield batch, home, mask


def _spread(parts: list[tuple[StreetBatch, str, Many]], streets: int) -> list[int]:
    """How many streets of each part, in proportion."""
    sizes = [int(mask.sum()) for _, _, mask in parts]
    share = min(1.0, streets / max(1, sum(sizes)))
    return [round(size * share) for size in sizes]


def _codes(one: Asked, batch: StreetBatch, home: str) -> Many:
    """The code of what is seen in each street."""
    if one.id not in _TESTS:
        words = batch.words(one.id, home, frozenset())
        return np.array([code_of(one, str(word)) for word in words], np.uint8)
    test = _TESTS[one.id]
    conditions = frozenset(Condition(ACTIONS[action][0], home) for action in test.after)
    shown = batch.readings(home, conditions, test.instrument, test.on)
    match test.instrument:
        case "contact" | "non-contact":
            return np.asarray(shown > 0, np.uint8)
        case "two-pole":
            return np.asarray(np.searchsorted(TWO_POLE_STEPS, shown, side="right"), np.uint8)
    codes = [NO_READING if np.isnan(value) else code_of(one, float(value)) for value in shown]
    return np.array(codes, np.uint8)


def _hurt(action: str, batch: StreetBatch, home: str) -> Many:
    """1 in each street where the action raises a harm that did not stand before."""
    after = frozenset({Condition(ACTIONS[action][0], home)})
    harms = batch.new_harms(frozenset(), after)
    return np.asarray(np.logical_or.reduce(list(harms.values())), np.uint8)
