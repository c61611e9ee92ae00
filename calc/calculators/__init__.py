"""The calculators, each a module of this package with a `CALCULATOR`, and how a page asks them.

A page sends the text of its form and gets the answer, or a sentence for each input that cannot be used.
Build and browser ask through the same functions, and every figure in an answer is already text.
"""

from __future__ import annotations

import importlib
import json
import pkgutil
from collections.abc import Mapping
from dataclasses import asdict
from functools import lru_cache
from typing import Any

from calc.address import with_addressed
from calc.calculator import Answer, Calculator, Choice, Input, Number, Row, Table, Tick
from calc.figures import figure
from calc.form import default_raw, example_raw, options, parse

__all__ = [
    "CALCULATORS",
    "Answer",
    "Calculator",
    "Choice",
    "Input",
    "Number",
    "Row",
    "Table",
    "Tick",
    "answer_json",
    "default_answer",
    "default_raw",
    "example_raw",
    "figure",
    "found",
    "options",
    "parse",
]


def found(path: list[str], package: str) -> dict[str, Calculator]:
    """The calculators of a package's modules, by id, in order of module name.

    `path` is the package's `__path__`. Raises AttributeError for a module without `CALCULATOR`.
    """
    modules = sorted(module.name for module in pkgutil.iter_modules(path))
    calculators = [importlib.import_module(f"{package}.{name}").CALCULATOR for name in modules]
    return {calculator.id: calculator for calculator in calculators}


CALCULATORS: dict[str, Calculator] = found(__path__, __name__)
"""Every calculator, by id."""


def default_answer(calculator: Calculator, data: Mapping[str, Any]) -> Answer:
    """The answer to what the form holds when it opens.

    Raises ValueError when those values are not valid: a mistake in the calculator, or no street.
    """
    values, problems = parse(calculator, default_raw(calculator, data), data)
    if problems:
        raise ValueError(f"{calculator.id}: the values it opens with are refused: {problems}")
    return calculator.run(values, data)


@lru_cache(maxsize=2)
def _shipped(data_json: str) -> Mapping[str, Any]:
    """What the build shipped with a page: read once, asked of at every input, changed by nobody."""
    data: Mapping[str, Any] = json.loads(data_json)
    return data


def answer_json(calculator_id: str, raw_json: str, data_json: str) -> str:
    """The reply to a page, as JSON.

    `{"ok": Answer}` or `{"problems": {input: sentence}}`, both with `"options": {input: [[value, words]]}`
    for the choices that depend on the street, so that the page can fill them anew. `raw_json` is the
    form as text by input name, `data_json` what the build shipped. In place of a street's id there may be an
    address of calc.address. Never raises for what is in `raw_json`.
    """
    calculator, data = CALCULATORS[calculator_id], _shipped(data_json)
    try:
        raw = json.loads(raw_json)
    except (ValueError, RecursionError):
        raw = None
    if not isinstance(raw, dict):
        return json.dumps({"problems": {"": "The form did not arrive whole. Load the page again."}})
    raw = {name: value if isinstance(value, str) else json.dumps(value) for name, value in raw.items()}
    shipped = data
    try:
        data = with_addressed(shipped, raw.get("street", ""))
    except ValueError as damaged:
        return json.dumps({"problems": {"street": str(damaged)}}, ensure_ascii=False)
    changing = ("homes", "faults") if data is shipped else ("streets", "homes", "faults")
    filled = {
        choice.name: options(choice, data, raw)
        for choice in calculator.inputs
        if isinstance(choice, Choice) and choice.options_from in changing
    }
    values, problems = parse(calculator, raw, data)
    reply: dict[str, Any] = (
        {"problems": problems} if problems else {"ok": asdict(calculator.run(values, data))}
    )
    return json.dumps(reply | {"options": filled}, ensure_ascii=False, allow_nan=False)
