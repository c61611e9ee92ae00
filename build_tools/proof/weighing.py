"""The drawn streets counted as if they had been drawn at each end of each spread: by weights, with no street
solved or walked twice. Sums of parts add up to the same numbers, whatever the parts."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from build_tools.proof.cases import Case
from build_tools.proof.detection_table import Seen
from build_tools.proof.doubts import OHMS, End, ends_of, size, weight
from build_tools.proof.street_batch import Mask, StreetBatch
from calc.drawn_streets import Drawn
from calc.sampling import Sampling

__all__ = ["Sums", "Weighing"]

Whole = NDArray[np.int64]
Sums = dict[Case | Seen, Whole]
"""For each case and cell three rows: the weights of the streets asked, of those where it happened, and the
squares of the weights of those asked. A column for each end (`doubts.ends_of`), then one for each part
between doubts.OHMS, where a street weighs 1 or nothing."""


class Weighing:
    """Adds up weighed streets, batch by batch."""

    def __init__(self, sampling: Sampling) -> None:
        self.sampling = sampling
        self.ends = ends_of(sampling)
        self.sums: Sums = defaultdict(lambda: np.zeros((3, len(self.ends) + len(OHMS) - 1), np.int64))
        self._weights: dict[int, NDArray[np.float64]] = {}
        self._waiting: list[tuple[Case | Seen, Mask, Mask]] = []

    def add(self, key: Case | Seen, asked: Mask, happened: Mask) -> None:
        """One case or cell of the batch that is counted next."""
        self._waiting.append((key, asked, asked & happened))

    def count(self, batch: StreetBatch) -> None:
        """Count what was added, which is of this batch."""
        if not self._waiting:
            return
        weights = np.array([self._of(each) for each in batch.drawn]).T
        asked, happened = (np.array([each[place] for each in self._waiting], np.float64) for place in (1, 2))
        # whole numbers below 2**53 throughout, so that a product of matrices is exact in any order
        sums = [weights @ asked.T, weights @ happened.T, weights**2 @ asked.T]
        for place, (key, _, _) in enumerate(self._waiting):
            self.sums[key] += np.array([each[:, place] for each in sums]).astype(np.int64)
        self._waiting.clear()

    def anew(self, key: Case | Seen, end: End, asked: Mask, happened: Mask) -> None:
        """A case at an end that no weights tell of, walked anew: its streets count as 1 each."""
        streets, so = int(asked.sum()), int((asked & happened).sum())
        self.sums[key][:, self.ends.index(end)] += np.array([streets, so, streets])

    def _of(self, drawn: Drawn) -> NDArray[np.float64]:
        """The weights of a street, the same with every kind of fault."""
        if drawn.number not in self._weights:
            part = size(drawn)
            weights = [
                *(0 if end.is_walked_anew else weight(self.sampling, end, drawn) for end in self.ends),
                *(int(place == part) for place in range(len(OHMS) - 1)),
            ]
            self._weights[drawn.number] = np.array(weights, np.float64)
        return self._weights[drawn.number]
