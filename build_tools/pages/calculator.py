"""A calculator's page: the form with the values it starts from, and the answer to them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from build_tools.pages import templates
from build_tools.pages.page import Book, Page
from calc.calculators import Calculator, Choice, Number, Tick, parse

__all__ = ["calculator_page", "render"]

Data = Mapping[str, Mapping[str, Any]]
"""What calculators are given beside values, such as {"streets": {id: street}}; JSON can hold it."""


def calculator_page(book: Book, calculator: Calculator, data: Data, sources: Sequence[str] = ()) -> Page:
    """The page of a calculator in a guide, with the guide's cautions; `sources` are ids of the guide's."""
    return book.page(
        "calculator.html",
        f"calculators/{calculator.id}.html",
        calculator.title,
        about=calculator.about,
        cautions=(*book.settings.cautions, book.settings.local_rules),
        sources={id_: book.guide.sources[id_] for id_ in sources},
        **_shown(calculator, data),
    )


def render(calculator: Calculator, data: Data) -> Markup:
    """The same without a guide: no cautions and no sources. The script is looked for in ../assets."""
    return templates.render(
        "calculator.html",
        title=calculator.title,
        about=calculator.about,
        cautions=(),
        sources={},
        link=lambda address: f"../{address}",
        **_shown(calculator, data),
    )


def _shown(calculator: Calculator, data: Data) -> dict[str, Any]:
    """The form and the answer. The values go the way that typed ones go."""
    fields = [_field(calculator.id, shape, data) for shape in calculator.inputs]
    values = parse(calculator, {field["name"]: field["value"] for field in fields})
    answer = calculator.run(values, data)
    return {
        "id": calculator.id,
        "fields": fields,
        "answer": answer,
        "drawing": Markup(answer.drawing),
        "data": _inside_script(data),
    }


def _field(calculator: str, shape: Number | Choice | Tick, data: Data) -> dict[str, Any]:
    """What the form needs of an input; `value` is text, as the page sends it."""
    field = {"id": f"{calculator}-{shape.name}", "name": shape.name, "label": shape.label, "help": shape.help}
    if isinstance(shape, Number):
        limits = f"{shape.low:g} to {shape.high:g} {shape.unit}".strip()
        words = f"{shape.help} ({limits})" if shape.help else f"From {limits}."
        return field | {"kind": "number", "value": f"{shape.default:g}", "unit": shape.unit, "help": words}
    if isinstance(shape, Tick):
        return field | {"kind": "tick", "value": "yes" if shape.default else "no"}
    offered = shape.options or _titles(data[shape.options_from])
    return field | {"kind": "choice", "value": shape.default, "options": offered}


def _titles(entries: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """Ids and titles of what the build ships, such as streets."""
    return tuple((name, entry.get("title", name)) for name, entry in entries.items())


def _inside_script(data: Data) -> Markup:
    """JSON that cannot end the script element it stands in."""
    return Markup(json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c"))
