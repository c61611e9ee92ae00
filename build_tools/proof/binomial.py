"""How sure a counted share is."""

from __future__ import annotations

__all__ = ["bounds", "is_beyond"]


def bounds(asked: int, happened: int, tail: float) -> tuple[float, float]:
    """Clopper and Pearson's exact bounds of a share, with a chance of `tail` (0 to 1) beyond each of them.

    Both together hold with 1 - 2 `tail`, each alone with 1 - `tail`. `asked` must be above 0.
    """
    from scipy.stats import beta

    low = 0.0 if happened == 0 else float(beta.ppf(tail, happened, asked - happened + 1))
    high = 1.0 if happened == asked else float(beta.ppf(1 - tail, happened + 1, asked - happened))
    return low, high


def is_beyond(share: float, asked: float, happened: float, tail: float) -> bool:
    """Whether a share lies outside those bounds. Of weighed streets the numbers are effective ones, and need
    not be whole."""
    from scipy.special import betainc, betaincc

    below = happened > 0 and betainc(happened, asked - happened + 1, share) < tail
    above = happened < asked and betaincc(happened + 1, asked - happened, share) < tail
    return bool(below or above)
