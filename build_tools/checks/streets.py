"""A street that the trees are walked on is one that could be there: short enough, and healthy when nothing
is wrong.

No length exceeds what a low-voltage street has, and on the street without a fault every line of every home
has volts within the permitted band. A slip of the unit (kilometres, watts) shows here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from build_tools.guide.findings import Demand, Finding, few
from build_tools.guide.source import Data, Source
from build_tools.guide.trees import Guide, Tree
from build_tools.guide.validation import told
from calc.circuit import CircuitError
from calc.limits import LIMITS
from calc.street import Street, network

__all__ = ["LONGEST_M", "check"]

LONGEST_M = 2000.0
"""No main, service or pipe between two homes is longer. Engineering judgement: low voltage reaches some
hundreds of metres."""


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every street."""
    for id_, street in guide.streets.items():
        source = guide.files[f"streets/{id_}.yaml"]
        found = [*_too_long(source, source.data, ())] or [*_out_of_band(source, street)]
        yield from few(found, source.place())


IMPLAUSIBLE_LENGTH = Demand(
    "implausible-length", f"a length that a low-voltage street has, at most {LONGEST_M:g} m", "write metres"
)


def _too_long(source: Source, data: Data, keys: tuple[str | int, ...]) -> Iterator[Finding]:
    if keys and keys[-1] == "metres" and isinstance(data, str) and float(data) > LONGEST_M:
        yield IMPLAUSIBLE_LENGTH.found(
            source.place(keys),
            f"{data} m is no length of a low-voltage street",
            told(keys),
            f"at most {LONGEST_M:g} m",
        )
    children = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, inner in children:
        yield from _too_long(source, inner, (*keys, key))


HEALTHY_VOLTS = Demand(
    "healthy-volts",
    "volts within the permitted band on every line of every home, where nothing is wrong",
    "look for a slip in loads (kilowatts), lengths (metres) and the supply's volts",
)


def _out_of_band(source: Source, street: Street) -> Iterator[Finding]:
    low, high = LIMITS["volts-low"].value, LIMITS["volts-high"].value
    try:
        solution = network(street).solution
    except CircuitError:
        return  # told by who walks there
    for home, premises in street.premises.items():
        for phase in premises.phases:
            volts = float(abs(solution.volts(f"{home}.{phase}", f"{home}.N")))
            if not low <= volts <= high:
                keys = ("premises", home, "load_kw")
                yield HEALTHY_VOLTS.found(
                    source.place(keys),
                    f"with nothing wrong {home} has {volts:.1f} V on {phase}",
                    told(keys),
                    f"{low:g} to {high:g} V: the walks take this street as healthy",
                )
