"""What a form may hold: for tests that ask every calculator."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from typing import Any

from hypothesis import strategies as st

from calc.calculators import Answer, Calculator, Choice, Number, Tick, default_raw, example_raw, options

__all__ = ["any_raw", "any_values", "figures", "limits", "questions"]

Data = Mapping[str, Any]


def questions(calculator: Calculator, data: Data, count: int) -> Iterator[dict[str, str]]:
    """The form as it opens, each limit of each number, each example, and `count` random ones (seeded)."""
    first = default_raw(calculator, data)
    yield first
    yield from limits(calculator, data)
    yield from filter(None, (example_raw(calculator, one, data) for one in calculator.examples))
    chance = random.Random(calculator.id)
    yield from (any_raw(calculator, data, chance) for _ in range(count))


def limits(calculator: Calculator, data: Data) -> Iterator[dict[str, str]]:
    """The form as it opens, with one number at its lowest or its highest."""
    for shape in calculator.inputs:
        if isinstance(shape, Number):
            for typed in (shape.low, shape.high):
                yield default_raw(calculator, data) | {shape.name: repr(typed)}


def any_raw(calculator: Calculator, data: Data, chance: random.Random) -> dict[str, str]:
    """Any values within the limits."""
    raw: dict[str, str] = {}
    for shape in calculator.inputs:
        raw[shape.name] = _any_value(shape, data, chance, raw)
    return raw


def _any_value(
    shape: Number | Choice | Tick, data: Data, chance: random.Random, raw: Mapping[str, str]
) -> str:
    match shape:
        case Number():
            if shape.optional and chance.random() < 0.5:
                return ""
            middle = chance.uniform(shape.low, shape.high)
            return repr(chance.choice((shape.low, shape.high, shape.default, middle, middle, middle)))
        case Tick():
            return chance.choice(("yes", "no"))
    return chance.choice(options(shape, data, raw))[0]


def any_values(calculator: Calculator, **fixed: Any) -> st.SearchStrategy[dict[str, Any]]:
    """Any values of a calculator without streets, over the ranges that it declares, some held `fixed`."""

    def one(shape: Number | Choice | Tick) -> st.SearchStrategy[Any]:
        match shape:
            case Number():
                number = st.floats(shape.low, shape.high).map(
                    lambda typed: typed if abs(typed) >= 1e-9 else 0.0  # as the form takes it
                ) | st.sampled_from((shape.low, shape.high, shape.default))
                return st.none() | number if shape.optional else number
            case Tick():
                return st.booleans()
        return st.sampled_from([value for value, _ in shape.options])

    return st.fixed_dictionaries(
        {shape.name: one(shape) for shape in calculator.inputs}
        | {name: st.just(value) for name, value in fixed.items()}
    )


def figures(calculator: Calculator, answer: Answer) -> dict[str, float | None]:
    """The figures of an answer as they are shown, by the name of their output; None for a dash."""
    rows = zip(calculator.outputs, answer.tables[0].rows, strict=True)
    shown = {output.name: row.cells[0] for output, row in rows}
    return {
        name: None if cell == "–" else float(cell.split()[0].replace("−", "-"))
        for name, cell in shown.items()
    }
