"""What loads take and what generation gives at their own volts.

A load is known by its impedance at 230 V, a source of generation by its current there. What they come to
depends on the volts that they help to make, so it is approached in rounds: the circuit is solved once with
every load at its rated ohms and all generation off, and seen from the loads' terminals alone. Each round
drives into those terminals what a load takes less than its rated ohms would, and what generation gives. An
equilibrium that such a round moves away from is none that a street stays in. The answer is handed over as
impedances and sources, so that everything else meets an ordinary circuit.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import reduce
from operator import add
from typing import Any

from calc.circuit import OPEN, OPENED_OHM, Branch, CircuitError, solve
from calc.many import bounded, in_rows, is_many, most, of_rows, some, through, total, where

__all__ = [
    "GENERATION_WINDOW",
    "LAWS",
    "LOAD_WINDOW",
    "MOST_ROUNDS",
    "NOMINAL_VOLTS",
    "OHMS",
    "SOURCE_OHM",
    "STEPS",
    "WITHIN",
    "WITHIN_OF_MANY",
    "Settled",
    "law_of",
    "settle",
]

NOMINAL_VOLTS = 230.0
"""Volts at which a load of so many kilowatts takes them."""

LAWS: dict[str, float] = {"ohms": 2.0, "amperes": 1.0, "watts": 0.0}
"""Law of loads -> the power of the volts that a load's power goes with: a heater keeps its ohms, a charger
its watts, and much stands between. The exponential load model of power-flow studies; common practice, no
source."""

OHMS = LAWS["ohms"]

LOAD_WINDOW = (0.85, 1.1)
"""Volts over NOMINAL_VOLTS between which a load keeps its law; above it keeps the ohms of the upper end,
below it goes over to RATED_FROM. EN 50160: every ten-minute mean lies within +10 % and -15 % (public
summaries, read)."""

RATED_FROM = 0.5
"""Volts over NOMINAL_VOLTS below which every load is its rated ohms; from there the current goes on a
straight line to that of the law at the lower end of LOAD_WINDOW. So OpenDSS does, with Vlowpu, Vminpu and
Vmaxpu (its help page on load models that nearly always converge, read; Vlowpu's 0.5 as the program has
it)."""

GENERATION_WINDOW = (0.8, 1.14)
"""Volts over NOMINAL_VOLTS between which generation stays connected: the under-voltage stage and the first
over-voltage stage of ENA EREC G98 (184 V after 2.5 s, 262.2 V after 1 s); from memory. EN 50549-1 leaves the
figures to each country; from memory."""

SOURCE_OHM = 1e9
"""Ohms behind which a source of current stands: far above any insulation."""

WITHIN, WITHIN_OF_MANY = 1e-10, 1e-7
"""How near the volts of one round come to those of the last, over NOMINAL_VOLTS, once loads have settled: in
a single circuit, and in each of many, of which one would keep all the others waiting."""

MOST_ROUNDS = 400
ROUNDS_OF_GENERATION = 50
"""Rounds within which a circuit comes to rest with its generation on, or some of it trips. Project choice: an
inverter does not wait for a street to make up its mind."""

STEPS = (1 / 16, 4.0)
"""A round goes the whole way to the next volts, unless the one before it turned back or came hardly nearer:
then half as far as that, or half as far again, within these shares of the way."""


def law_of(law: Any) -> Any:
    """The power that a law of LAWS stands for; a power itself (or an array of them) as it is. Raises
    ValueError for a name that is not known."""
    if not isinstance(law, str):
        return law
    if law not in LAWS:
        raise ValueError(f"no law of loads is called {law!r} (known: {', '.join(LAWS)})")
    return LAWS[law]


@dataclass(frozen=True, slots=True)
class Settled:
    """A circuit whose loads and generation have come to rest.

    `branches` are the given ones, loads with the impedance that they come to and generation as what it gives
    or open. `tripped` holds the generation that is there and disconnected itself, `found` whether an answer
    was reached: in which circuits, where there are many.
    """

    branches: Mapping[str, Branch]
    tripped: Mapping[str, Any] = field(default_factory=dict)
    found: Any = True
    rounds: int = 0


def settle(branches: Mapping[str, Branch], law: Any = OHMS) -> Settled:
    """What the loads (`HOME/load.LINE`) and generation (`HOME/generation.LINE`) of a circuit come to.

    `law` is a power as in LAWS, or an array of one for each circuit. Generation gives its rated power at
    unity power factor. It joins only a supply that is within its window without it, and what then leaves the
    window trips, the farthest outside first, and stays off: no island lives on. Raises CircuitError when a
    single circuit does not settle within MOST_ROUNDS; of many, `found` says which did.
    """
    loads = _named("load.", branches) if some(law != OHMS) else []
    sources = _named("generation.", branches)
    if not loads and not sources:
        return Settled(branches)
    terminals = _Terminals(branches, loads, sources, law)
    on: dict[str, Any] = dict.fromkeys((source.name for source in sources), False)
    terminals.approach(on, MOST_ROUNDS)
    if sources:
        on = {source.name: _rated_watts(source) * (terminals.outside(source) <= 0) > 0 for source in sources}
        terminals.approach(on, ROUNDS_OF_GENERATION)
    for _ in sources:
        outside = {source.name: where(on[source.name], terminals.outside(source), 0.0) for source in sources}
        worst = reduce(_larger, outside.values())
        if not some(worst > 0):
            break
        on = {name: on[name] & ((outside[name] < worst) | (worst <= 0)) for name in on}
        terminals.approach(on, ROUNDS_OF_GENERATION)
    if sources and some(terminals.found ^ True):
        terminals.approach(on, MOST_ROUNDS)
    if not is_many(terminals.found) and not terminals.found:
        raise CircuitError(
            f"the loads do not settle within {MOST_ROUNDS} rounds: {', '.join(load.name for load in loads)}"
        )
    off = {source.name: (_rated_watts(source) > 1e-6) & (on[source.name] ^ True) for source in sources}
    return Settled(
        {**branches, **{branch.name: branch for branch in terminals.as_branches(on)}},
        {name: tripped for name, tripped in off.items() if some(tripped)},
        terminals.found,
        terminals.rounds,
    )


def _named(part: str, branches: Mapping[str, Branch]) -> list[Branch]:
    """The branches of homes that are so called and not open."""
    return [
        branch
        for name, branch in branches.items()
        if name.partition("/")[2].startswith(part) and (is_many(branch.impedance) or branch.impedance != OPEN)
    ]


def _line_and_neutral(branch: Branch) -> tuple[str, str]:
    """A load is driven through from its line, a source drives into its line."""
    return (branch.start, branch.end) if "/load." in branch.name else (branch.end, branch.start)


def _rated_watts(source: Branch) -> Any:
    return abs(source.emf * source.admittance) * NOMINAL_VOLTS


def _larger(one: Any, other: Any) -> Any:
    return where(one > other, one, other)


def _conductance_share(volts: Any, law: Any) -> Any:
    """The admittance of a load at these volts over its rated one."""
    low, high = LOAD_WINDOW
    per_unit = abs(volts) / NOMINAL_VOLTS
    near, at_edge = bounded(per_unit, RATED_FROM, low), low ** (law - 1)
    rising = RATED_FROM + (at_edge - RATED_FROM) * (near - RATED_FROM) / (low - RATED_FROM)
    return where(per_unit < low, rising / near, bounded(per_unit, low, high) ** (law - 2))


def _siemens_given(watts: Any, volts: Any) -> Any:
    """What generation's current is over its volts; no more than at the lower end of its window."""
    return watts / bounded(abs(volts), GENERATION_WINDOW[0] * NOMINAL_VOLTS, math.inf) ** 2


class _Terminals:
    """A circuit as seen from between line and neutral of each load and each source, in rows of calc.many."""

    def __init__(
        self, branches: Mapping[str, Branch], loads: Sequence[Branch], sources: Sequence[Branch], law: Any
    ) -> None:
        self._loads, self._sources, self._law = loads, sources, law
        quiet = {source.name: replace(source, impedance=OPEN) for source in sources}
        passive = solve({**branches, **quiet}.values())
        pairs = list(dict.fromkeys(map(_line_and_neutral, (*loads, *sources))))
        self._place = {each.name: pairs.index(_line_and_neutral(each)) for each in (*loads, *sources)}
        volts = [passive.volts(*pair) for pair in pairs]
        ohms = passive.impedances_between(pairs)
        alike = 0 * reduce(add, [*volts, *(each.admittance for each in loads), law])
        self._nothing = [alike] * len(pairs)
        self._unchanged = in_rows([each + alike for each in volts])
        self._ohms = in_rows([in_rows([each + alike for each in row]) for row in ohms])
        self._siemens = self._at_terminals({load.name: load.admittance for load in loads})
        self._volts = self._unchanged
        self.found: Any = True
        self.rounds = 0

    def _at_terminals(self, figures: Mapping[str, Any]) -> Any:
        """The figures of loads or sources, those between the same points together."""
        found = list(self._nothing)
        for name, figure in figures.items():
            found[self._place[name]] = found[self._place[name]] + figure
        return in_rows(found)

    def approach(self, on: Mapping[str, Any], most_rounds: int) -> None:
        """Come to rest with this generation on, from where the circuit stands, within so many rounds."""
        giving = {each.name: where(on[each.name], _rated_watts(each), 0.0) for each in self._sources}
        watts = of_rows(_real, self._at_terminals(giving))
        steps, off = self._steps(watts), math.inf
        share: Any = 1.0
        for _ in range(most_rounds):
            last, before = steps, off
            self._volts = of_rows(lambda here, step, share=share: here + share * step, self._volts, steps)
            self.rounds += 1
            steps = self._steps(watts)
            off = most(of_rows(abs, steps))
            self.found = off <= NOMINAL_VOLTS * (WITHIN_OF_MANY if is_many(off) else WITHIN)
            if not some(self.found ^ True):
                break
            turns = total(of_rows(_along, last, steps)) < 0
            slow = off > before / 2
            share = where(slow, bounded(where(turns, share / 2, share * 1.5), *STEPS), share)

    def _steps(self, watts: Any) -> Any:
        """From the volts at each pair of terminals to those that what is driven there would make."""
        amperes = of_rows(self._driven, self._volts, self._siemens, watts)
        return of_rows(_step, self._unchanged, through(self._ohms, amperes), self._volts)

    def _driven(self, volts: Any, siemens: Any, watts: Any) -> Any:
        """Amperes into a line and out of its neutral, beside the loads at their rated ohms."""
        less = siemens * (1 - _conductance_share(volts, self._law)) if self._loads else 0.0
        given = _siemens_given(watts, volts) if self._sources else 0.0
        return volts * (less + given)

    def outside(self, source: Branch) -> Any:
        """How far outside its window a source's volts are, over NOMINAL_VOLTS; below zero inside. Where they
        come to no rest they are outside."""
        low, high = GENERATION_WINDOW
        per_unit = abs(self._volts[self._place[source.name]]) / NOMINAL_VOLTS
        return _larger(low - per_unit, per_unit - high) + where(self.found, 0.0, 1.0)

    def as_branches(self, on: Mapping[str, Any]) -> list[Branch]:
        """Each load as the impedance and each source as the current that it has come to."""
        settled = []
        for load in self._loads:
            share = _conductance_share(self._volts[self._place[load.name]], self._law)
            settled.append(replace(load, impedance=load.impedance / share))
        for source in self._sources:
            volts, gives = self._volts[self._place[source.name]], on[source.name]
            emf = volts * (1 + SOURCE_OHM * _siemens_given(_rated_watts(source), volts))
            away = OPENED_OHM if is_many(gives) else OPEN
            settled.append(
                replace(source, impedance=where(gives, SOURCE_OHM, away), emf=where(gives, emf, 0j))
            )
        return settled


def _step(unchanged: Any, driven: Any, here: Any) -> Any:
    return unchanged + driven - here


def _real(value: Any) -> Any:
    return value.real


def _along(one: Any, other: Any) -> Any:
    return one.real * other.real + one.imag * other.imag
