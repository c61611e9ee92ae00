"""One drawn street as a witness: meters err, loads change once the known load is on, and the known load is
the crew's own. It answers by the same arrays that the promises are measured with."""

from __future__ import annotations

import math

from build_tools.proof.flock import Flock
from build_tools.witness import Conditions, Witness
from calc.danger import Harm
from calc.faults import Fault
from calc.instruments import INSTRUMENTS, LIGHTS_FROM, Display

__all__ = ["DrawnWitness"]


class DrawnWitness(Witness):
    """Answers for the only street of a flock, which has `fault`."""

    def __init__(self, flock: Flock, fault: Fault) -> None:
        super().__init__(flock.drawn[0].street, fault)
        self.flock = flock

    def reading(self, home: str, conditions: Conditions, instrument: str, on: tuple[str, ...]) -> Display:
        """What an instrument with its errors shows at a home."""
        tester = INSTRUMENTS[instrument]
        value = float(self.flock.readings(home, conditions, instrument, on)[0])
        if math.isnan(value):
            return Display(tester, None, "no test: supply too low", "no-test")
        if instrument in LIGHTS_FROM:
            return Display(tester, value, "lit" if value else "dark")
        return tester.shown(value)

    def fact(self, name: str, home: str, conditions: Conditions) -> str:
        """The word for a fact of calc.symptoms at a home."""
        return str(self.flock.words(name, home, conditions)[0])

    def touch_volts(self, home: str, conditions: Conditions) -> float:
        """Volts across a body from a home's earthed metalwork to true earth."""
        return float(self.flock.touch_volts(home, conditions)[0])

    def harms_of(self, before: Conditions, after: Conditions) -> tuple[Harm, ...]:
        """Harms that stand after something was done and did not stand before it."""
        later = any(condition.name == "known-load-on" for condition in before | after)
        return tuple(
            Harm(home, what, float(self.flock.measure(after, later, home, what)[0]))
            for (home, what), new in self.flock.new_harms(before, after).items()
            if new[0]
        )
