"""The table of results: each figure of an answer beside the limit that it is held to."""

from __future__ import annotations

from collections.abc import Mapping

from calc.calculator import Output, Row, Table
from calc.figures import figure
from calc.limits import LIMITS, Limit

__all__ = ["RESULTS", "cited", "results"]

RESULTS = "Results"
"""The title of the table, by which a page and a command find it."""

_NONE = "–"


def cited(limit: Limit) -> str:
    """A limit and where it is from, as the sources of a page say it.

    >>> cited(LIMITS["volts-high"]).partition("V.")[0]
    'Highest permitted supply voltage, 230 V plus 10 %: 253.0 '
    """
    what = limit.what[:1].upper() + limit.what[1:]
    return f"{what}: {figure(limit.value, 1, limit.unit)}. {limit.source}."


def results(
    outputs: tuple[Output, ...],
    values: Mapping[str, float | None],
    bands: Mapping[str, tuple[float, float]] | None = None,
) -> Table:
    """One row for each output. `values` by name, None where it does not apply; `bands` the 5 to 95 % range of
    some of them. Where no figure has a limit there are no columns for limits. Raises KeyError for an output
    without a value.

    >>> volts = Output("volts", "Line to neutral", "V", 1, limit="volts-high", side="at-most")
    >>> results((volts,), {"volts": 254.31}).rows[0].cells
    ('254.3 V', 'at most 253.0 V', 'no')
    """
    bands = bands or {}
    limited = any(output.limit for output in outputs)
    columns = ("What", "Figure", *(("5 to 95 %",) if bands else ()), *(("Limit", "Kept") if limited else ()))
    rows = (
        Row(
            output.label,
            (
                _shown(output, values[output.name]),
                *((_band(output, bands.get(output.name)),) if bands else ()),
                *(_held(output, values[output.name]) if limited else ()),
            ),
        )
        for output in outputs
    )
    return Table(RESULTS, columns, tuple(rows))


def _shown(output: Output, value: float | None) -> str:
    return _NONE if value is None else figure(value, output.digits, output.unit)


def _band(output: Output, band: tuple[float, float] | None) -> str:
    if band is None:
        return _NONE
    low, high = band
    return f"{figure(low, output.digits)} to {figure(high, output.digits, output.unit)}"


def _held(output: Output, value: float | None) -> tuple[str, str]:
    """The limit in words, and whether it is kept."""
    if not output.limit:
        return _NONE, _NONE
    limit = LIMITS[output.limit].value
    words = f"{output.side.replace('-', ' ')} {figure(limit, output.digits, output.unit)}".strip()
    if value is None or not output.side:
        return words, _NONE
    kept = value <= limit if output.side == "at-most" else value >= limit
    return words, "yes" if kept else "no"
