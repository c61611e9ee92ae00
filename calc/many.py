"""One number, or an array of many circuits' numbers: the same words for both.

An array answers by its own methods and its own namespace (the Python array API standard), so that nothing
here knows whose array it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

__all__ = [
    "bounded",
    "every",
    "in_rows",
    "is_many",
    "most",
    "of_rows",
    "one_in_each_row",
    "rounded",
    "some",
    "through",
    "total",
    "where",
]


def is_many(value: Any) -> bool:
    """Whether it is an array."""
    return bool(getattr(value, "shape", ()))


def some(answer: Any) -> bool:
    """Whether a comparison holds, in any circuit where there are many."""
    return bool(answer.any()) if hasattr(answer, "any") else bool(answer)


def every(answer: Any) -> bool:
    """Whether a comparison holds, in each circuit where there are many."""
    return bool(answer.all()) if hasattr(answer, "all") else bool(answer)


def where(answer: Any, then: Any, otherwise: Any) -> Any:
    """What a comparison decides between, circuit by circuit where there are many."""
    if not is_many(answer):
        return then if answer else otherwise
    return answer.__array_namespace__().where(answer, then, otherwise)


def rounded(value: Any, decimals: int = 0) -> Any:
    """The nearest figure with so many decimals, halves to the even one."""
    return value.round(decimals) if is_many(value) else round(value, decimals)


def bounded(value: Any, low: float, high: float) -> Any:
    """The value, or the end of the range that it lies beyond."""
    return value.clip(low, high) if is_many(value) else min(max(value, low), high)


def in_rows(values: list[Any]) -> Any:
    """Several numbers as they are; of arrays, all alike in shape, one array with a row for each."""
    return values[0].__array_namespace__().stack(values) if is_many(values[0]) else values


def one_in_each_row(rows: int, like: Iterable[Any]) -> list[Any]:
    """So many columns of so many rows: each a 1 in a row of its own, and nothing in the others. Arrays as the
    first of `like` is one; nothing where none of them is an array."""
    for value in like:
        if is_many(value):
            return list(value.__array_namespace__().eye(rows)[:, :, None])
    return []


def of_rows(function: Callable[..., Any], *rows: Any) -> Any:
    """What a function makes of each row, in rows."""
    return list(map(function, *rows)) if isinstance(rows[0], list) else function(*rows)


def through(matrix: Any, rows: Any) -> Any:
    """A matrix, in rows of rows, times the numbers of rows."""
    if not isinstance(matrix, list):
        return (matrix * rows).sum(1)
    return [sum(one * other for one, other in zip(row, rows, strict=True)) for row in matrix]


def total(rows: Any) -> Any:
    """The sum of rows."""
    return sum(rows) if isinstance(rows, list) else rows.sum(0)


def most(rows: Any) -> Any:
    """The largest of rows."""
    return max(rows) if isinstance(rows, list) else rows.max(0)
