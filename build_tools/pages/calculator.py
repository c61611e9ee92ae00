"""A calculator's page: the form with the values it starts from, and the answer to them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from build_tools.pages import templates
from calc.calculators import Calculator, Choice, Number, Tick, parse

__all__ = ["render"]


def render(
    calculator: Calculator, data: Mapping[str, object], *, cautions: str = "", sources: str = ""
) -> Markup:
    """HTML of a calculator with its answer to the default values.

    `data` is what its `run` is given; the page carries it as JSON. `cautions` and `sources` are HTML.
    Raises ValueError when the default values are not valid: a mistake in the calculator.
    """
    fields = [_field(calculator.id, shape, data) for shape in calculator.inputs]
    values = parse(calculator, {field["name"]: field["value"] for field in fields})
    answer = calculator.run(values, data)
    return templates.render(
        "calculator.html",
        id=calculator.id,
        title=calculator.title,
        about=calculator.about,
        fields=fields,
        answer=answer,
        drawing=Markup(answer.drawing),
        data=_as_script_data(data),
        cautions=Markup(cautions),
        sources=Markup(sources),
    )


def _field(calculator: str, shape: Number | Choice | Tick, data: Mapping[str, object]) -> dict[str, Any]:
    """What the form needs of an input: `value` is text, as the page would send it, but for a tick."""
    common = {"id": f"{calculator}-{shape.name}", "name": shape.name, "label": shape.label, "help": shape.help}
    if isinstance(shape, Number):
        limits = f"{shape.low:g} to {shape.high:g} {shape.unit}".strip()
        words = f"{shape.help} ({limits})" if shape.help else f"From {limits}."
        return common | {"kind": "number", "value": f"{shape.default:g}", "unit": shape.unit, "help": words}
    if isinstance(shape, Tick):
        return common | {"kind": "tick", "value": "yes" if shape.default else "no"}
    options = shape.options or _titles(data[shape.options_from])
    return common | {"kind": "choice", "value": shape.default, "options": options}


def _titles(entries: Any) -> tuple[tuple[str, str], ...]:
    """Ids and titles of what the build ships, such as streets."""
    return tuple((name, entry.get("title", name)) for name, entry in entries.items())


def _as_script_data(data: Mapping[str, object]) -> Markup:
    """JSON that cannot end the script element it stands in."""
    return Markup(json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c"))
