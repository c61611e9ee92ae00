"""A calculator asked from the terminal: the words become the form's values, the answer text, JSON or CSV."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass

from build_tools.guide.findings import nearest
from build_tools.guide.trees import Guide
from build_tools.pages.sections import calculator_data
from calc.calculator import Answer, Calculator
from calc.calculators import CALCULATORS
from calc.form import default_raw, parse, shown

__all__ = ["AskedCalculator", "as_csv", "as_json", "as_text", "ask"]


@dataclass(frozen=True, slots=True)
class AskedCalculator:
    """A calculator, what its inputs hold as a person reads it, and the answer."""

    calculator: Calculator
    inputs: tuple[tuple[str, str], ...]
    answer: Answer


def ask(name: str, words: Sequence[str], guide: Guide) -> AskedCalculator:
    """The answer to `key=value` words; inputs that are not named are as the form opens.

    A home or a fault that is not named is the first of the street that is. Raises ValueError with a sentence
    for each word that cannot be used.
    """
    calculator = CALCULATORS.get(name)
    if calculator is None:
        near = nearest(name, CALCULATORS)
        raise ValueError(f"no calculator is called {name}{near}; there are: {', '.join(CALCULATORS)}")
    given, data = _given(calculator, words), calculator_data(guide, calculator)
    raw = default_raw(calculator, data, given) | given
    values, problems = parse(calculator, raw, data)
    if problems:
        raise ValueError("\n".join(f"{key}: {sentence}" for key, sentence in problems.items()))
    inputs = tuple((shape.label, shown(shape, raw[shape.name], data, raw)) for shape in calculator.inputs)
    return AskedCalculator(calculator, inputs, calculator.run(values, data))


def _given(calculator: Calculator, words: Sequence[str]) -> dict[str, str]:
    names = [shape.name for shape in calculator.inputs]
    given: dict[str, str] = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals:
            raise ValueError(f"{word}: write key=value; {calculator.id} asks for {', '.join(names)}")
        if name not in names:
            asks = f"{nearest(name, names)}; it asks for {', '.join(names)}"
            raise ValueError(f"{calculator.id} does not ask for {name}{asks}")
        if name in given:
            raise ValueError(f"{name} is given twice")
        given[name] = value
    return given


def as_text(asked: AskedCalculator) -> str:
    """For a person: what was given, the sentences, the tables, and what to beware of."""
    return "\n".join(_lines(asked))


def _lines(asked: AskedCalculator) -> Iterator[str]:
    calculator, answer = asked.calculator, asked.answer
    yield from (calculator.title, "", *(f"  {label}: {value}" for label, value in asked.inputs), "")
    yield from (*answer.summary, "")
    for table in answer.tables:
        rows = [table.columns, *((row.label, *row.cells) for row in table.rows)]
        widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
        yield table.title
        for row in rows:
            yield (
                "  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
            )
        yield ""
    yield from (f"Beware: {line}" for line in answer.warnings)
    yield from (f"Caution: {line}" for line in calculator.cautions)
    yield from (f"Source: {line}" for line in calculator.sources)


def as_json(asked: AskedCalculator) -> str:
    """The whole answer, its drawing included, with the inputs."""
    whole = {"calculator": asked.calculator.id, "inputs": dict(asked.inputs), **asdict(asked.answer)}
    return json.dumps(whole, ensure_ascii=False, indent=2)


def as_csv(asked: AskedCalculator) -> str:
    """A line for each figure (part, row, column, value), as a calculator's page saves it."""
    written = io.StringIO()
    lines = csv.writer(written)
    lines.writerow(("part", "row", "column", "value"))
    lines.writerows(("Input", label, "", value) for label, value in asked.inputs)
    lines.writerows(("Summary", "", "", line) for line in asked.answer.summary)
    lines.writerows(("Warning", "", "", line) for line in asked.answer.warnings)
    for table in asked.answer.tables:
        for row in table.rows:
            cells = zip(table.columns[1:], row.cells, strict=True)
            lines.writerows((table.title, row.label, column, cell) for column, cell in cells)
    return written.getvalue()
