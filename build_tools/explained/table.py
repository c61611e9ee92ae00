"""What each test shows on drawn streets with each fault of calc.explain: the table behind Explain."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from build_tools.proof.flock import Flock, Many, faulty_flocks
from build_tools.proof.sight import places
from calc.bands import Sampling
from calc.explain import ASKED, NO_READING, PRIORS, Asked, Sampled, code_of
from calc.instruments import TWO_POLE_STEPS
from calc.readings import TESTS
from calc.symptoms import BRIGHT_ABOVE_VOLTS, DIM_BELOW_VOLTS, OFF_BELOW_VOLTS
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
    flocks: dict[str, list[Flock]] = {kind: [] for kind in kinds}
    for flock in faulty_flocks(sampling, numbers, kinds):
        flocks[flock.kind].append(flock)
    for kind, where in PRIORS:
        parts = [part for flock in flocks[kind] for part in _at_homes(flock, where)]
        taken = _spread(parts, streets)
        if not sum(taken):
            raise ValueError(f"no drawn street has {kind} {where}: draw more")
        counts.append(sum(taken))
        for (flock, home, mask), many in zip(parts, taken, strict=True):
            chosen = np.flatnonzero(mask)[:many]
            if many:
                for name, one in ASKED.items():
                    columns[name].append(_codes(one, flock, home)[chosen].tobytes())
                for action in hurts:
                    hurts[action].append(_hurt(action, flock, home)[chosen].tobytes())
    return Sampled(
        tuple(counts),
        {name: b"".join(parts) for name, parts in columns.items()},
        {name: b"".join(parts) for name, parts in hurts.items()},
    )


def _at_homes(flock: Flock, where: str) -> Iterator[tuple[Flock, str, Many]]:
    """The homes that are visited, each with its streets."""
    at = places(flock)
    for number, home in enumerate(flock.street.premises):
        mask = np.logical_or.reduce([at[one] == number for one in (_HERE if where == "here" else (where,))])
        if mask.any():
            yield flock, home, mask


def _spread(parts: list[tuple[Flock, str, Many]], streets: int) -> list[int]:
    """How many streets of each part, in proportion."""
    sizes = [int(mask.sum()) for _, _, mask in parts]
    share = min(1.0, streets / max(1, sum(sizes)))
    return [round(size * share) for size in sizes]


def _codes(one: Asked, flock: Flock, home: str) -> Many:
    """The code of what is seen in each street."""
    if one.id not in _TESTS:
        words = _words(one.id, flock, home)
        return np.array([code_of(one, str(word)) for word in words], np.uint8)
    test = _TESTS[one.id]
    conditions = frozenset(Condition(ACTIONS[action][0], home) for action in test.after)
    shown = flock.readings(home, conditions, test.instrument, test.on)
    match test.instrument:
        case "contact" | "non-contact":
            return np.asarray(shown > 0, np.uint8)
        case "two-pole":
            lamps = (0.85 * np.array(TWO_POLE_STEPS))[:, None] <= shown
            return np.asarray(lamps.sum(axis=0), np.uint8)
    codes = [NO_READING if np.isnan(value) else code_of(one, float(value)) for value in shown]
    return np.array(codes, np.uint8)


def _words(name: str, flock: Flock, home: str) -> Many:
    if name == "lights":
        volts = _volts(flock, home)
        return np.select(
            [volts < OFF_BELOW_VOLTS, volts < DIM_BELOW_VOLTS, volts > BRIGHT_ABOVE_VOLTS],
            ["off", "dim", "bright"],
            "normal",
        )
    if name == "neighbour-off":
        homes = list(flock.street.premises)
        here = homes.index(home)
        near = {*homes[max(0, here - 1) : here + 2]} - {home}
        off = np.zeros(flock.size, bool)
        for other in homes:
            if other != home:
                beside = np.array([other in near or other in sharing[home] for sharing in flock.sharing])
                off |= beside & (_volts(flock, other) < OFF_BELOW_VOLTS)
        return np.where(off, "yes", "no")
    return flock.words(name, home, frozenset())


def _volts(flock: Flock, home: str) -> Many:
    (phase,) = flock.street.premises[home].phases
    volts = abs(flock.worked(frozenset()).solution.volts(f"{home}.{phase}", f"{home}.N"))
    return np.broadcast_to(volts, (flock.size,))


def _hurt(action: str, flock: Flock, home: str) -> Many:
    """1 in each street where the action raises a harm that did not stand before."""
    after = frozenset({Condition(ACTIONS[action][0], home)})
    harms = flock.new_harms(frozenset(), after)
    return np.asarray(np.logical_or.reduce(list(harms.values())), np.uint8)
