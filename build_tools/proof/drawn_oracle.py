"""One drawn street as an oracle: meters err, loads change once the known load is on, and the known load is
the crew's own. It answers by the same arrays that the promises are measured with."""

from __future__ import annotations

import numpy as np

from build_tools.proof.street_batch import StreetBatch
from build_tools.walks.oracle import Conditions, Oracle
from calc.danger import Harm, new_harms
from calc.faults import Fault

__all__ = ["DrawnOracle"]


class DrawnOracle(Oracle):
    """Answers for the only street of a batch, which has `fault`."""

    def __init__(self, batch: StreetBatch, fault: Fault) -> None:
        super().__init__(batch.drawn[0].street, fault)
        self.batch = batch

    def reading(self, home: str, conditions: Conditions, instrument: str, on: tuple[str, ...]) -> float:
        """What an instrument with its errors shows at a home."""
        return float(self.batch.readings(home, conditions, instrument, on)[0])

    def fact(self, name: str, home: str, conditions: Conditions) -> str:
        """The word for a fact of calc.symptoms at a home."""
        return str(self.batch.words(name, home, conditions)[0])

    def metalwork_volts(self, home: str, conditions: Conditions) -> float:
        """Volts from a home's earthed metalwork to true earth."""
        return float(self.batch.metalwork_volts(home, conditions)[0])

    def harms_of(self, before: Conditions, after: Conditions) -> tuple[Harm, ...]:
        """Harms that stand after something was done and did not stand before it."""
        harms = new_harms(*self.batch.before_and_after(before, after))
        return tuple(Harm(harm.home, harm.what, np.asarray(harm.volts).item()) for harm in harms)
