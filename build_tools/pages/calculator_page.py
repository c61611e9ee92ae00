"""A calculator's page: the form with the values it starts from, and the answer to them."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from markupsafe import Markup

from build_tools.pages import templates
from build_tools.pages.page import Book, Page
from calc.calculator import Example
from calc.calculators import (
    Calculator,
    Choice,
    Input,
    Number,
    default_answer,
    default_raw,
    example_raw,
    options,
    parse,
)
from calc.figures import shown_unit
from calc.form import shown
from calc.results import RESULTS

__all__ = ["calculator_page", "render"]

Data = Mapping[str, Any]
"""What calculators are given beside values: `{"streets": {id: Street.to_data()}}`, and `bands` besides, the
low and high of each test by id, where the guide has a sampling."""


def calculator_page(book: Book, calculator: Calculator, data: Data) -> Page:
    """The page of a calculator in a guide, with the guide's cautions besides its own. The first of both is
    always in sight."""
    own, guides = calculator.cautions, book.settings.cautions
    return book.page(
        "calculator.html",
        f"calculators/{calculator.id}.html",
        calculator.title,
        about=calculator.about,
        cautions=(*own[:1], *guides[:1]),
        more_cautions=(*own[1:], *guides[1:], book.operator.local_rules),
        **_shown(calculator, data),
    )


def render(calculator: Calculator, data: Data) -> Markup:
    """The same without a guide and its cautions, for a page one folder below the site's."""
    return templates.render(
        "calculator.html",
        title=calculator.title,
        about=calculator.about,
        cautions=(),
        link=lambda address: f"../{address}",
        **_shown(calculator, data),
    )


def _shown(calculator: Calculator, data: Data) -> dict[str, Any]:
    raw = default_raw(calculator, data)
    answer = default_answer(calculator, data)
    return {
        "id": calculator.id,
        "fields": [_field(calculator.id, shape, raw, data) for shape in calculator.inputs],
        "answer": answer,
        "results": RESULTS,
        "examples": [
            _example(calculator, example, filled, data)
            for example in calculator.examples
            if (filled := example_raw(calculator, example, data)) is not None
        ],
        "drawing": Markup(answer.drawing),
        "sources": calculator.sources,
        "data": _inside_script(data),
    }


def _example(calculator: Calculator, example: Example, raw: Mapping[str, str], data: Data) -> dict[str, Any]:
    """A worked example as the build prints it. Raises ValueError for one whose values are refused."""
    values, problems = parse(calculator, raw, data)
    if problems or not example.values.keys() <= raw.keys():
        raise ValueError(f"{calculator.id}: the example {example.title!r} is refused: {problems}")
    answer = calculator.run(values, data)
    results = [row for table in answer.tables if table.title == RESULTS for row in table.rows]
    return {
        "title": example.title,
        "fragment": urlencode({name: raw[name] for name in example.values}),
        "given": [
            f"{shape.label}: {shown(shape, raw[shape.name], data, raw)}"
            for shape in calculator.inputs
            if shape.name in example.values
        ],
        "figures": [(row.label, row.cells[0]) for row in results],
        "summary": answer.summary[0],
    }


def _field(calculator: str, shape: Input, raw: Mapping[str, str], data: Data) -> dict[str, Any]:
    """What the form needs of an input; `value` is text, as the page sends it."""
    field = {
        "id": f"{calculator}-{shape.name}",
        "name": shape.name,
        "label": shape.label,
        "value": raw[shape.name],
        "help": shape.help,
    }
    if isinstance(shape, Number):
        unit = shown_unit(shape.unit)
        limits = f"{shape.low:g} to {shape.high:g} {unit}".rstrip()
        words = f"{shape.help} ({limits})" if shape.help else f"From {limits}."
        slider = _slider(shape) if shape.slider else None
        return field | {"kind": "number", "unit": unit, "help": words, "slider": slider}
    if isinstance(shape, Choice):
        return field | {"kind": "choice", "options": options(shape, data, raw)}
    return field | {"kind": "tick"}


def _slider(shape: Number) -> dict[str, Any]:
    """The ends, step and first place of a number's slider: in decades where they are three or more."""
    ends = {"low": shape.low, "high": shape.high, "value": shape.default}
    if shape.low <= 0 or shape.high / shape.low < 1000:
        return ends | {"step": shape.step, "decades": False}
    decades = {name: round(math.log10(value), 2) for name, value in ends.items()}
    return decades | {"step": 0.01, "decades": True}


def _inside_script(data: Data) -> Markup:
    """JSON that cannot end the script element it stands in."""
    return Markup(json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c"))
