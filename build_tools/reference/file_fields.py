"""Every field of every kind of file, told from its schema: what it is, holds and is left out for."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import TypeAdapter

from build_tools.checks.ranges import NO_WAY_ON
from build_tools.guide import models, schemas
from build_tools.reference import example
from build_tools.reference.entries import Entry, ReferencePart, link
from build_tools.reference.meanings import ACTIONS, FACTS, HAZARDS
from calc.conductor import CABLES, PIPES
from calc.faults import KINDS
from calc.instruments import INSTRUMENTS
from calc.sampling import SPREADS

__all__ = ["OPTIONAL", "UNITS", "files"]

OPTIONAL = ("minutes", "promises", "sampling", "signed", "synonyms")
"""Kinds of file that a guide need not have."""

_WHERE = {"tree": "`trees/call/NAME.yaml` and `trees/site/NAME.yaml`", "street": "`streets/NAME.yaml`"}

UNITS = {
    "a": "A", "ma": "mA", "kva": "kVA", "kw": "kW", "m": "m", "metres": "m", "mm2": "mm²", "ohm": "Ω",
    "percent": "%", "volts": "V",
}  # fmt: skip
"""Last part of a field's name -> the unit of its figures."""

_UNIT = re.compile(rf"(?:^|[_-])({'|'.join(UNITS)})(?:_each)?$")


def files() -> Iterator[ReferencePart]:
    """Each kind of file, then the shapes in it that no kind before it had."""
    told: set[str] = set()
    for kind in schemas.FILES:
        whole = schemas.schema(kind)
        inner = {name: shape for name, shape in whole.get("$defs", {}).items() if name not in told}
        told |= inner.keys()
        yield ReferencePart(kind, _where(kind), tuple(_fields(whole)), _of_file(kind, whole))
        order = sorted(inner, key=_first_named(whole).index)
        for name in order:
            yield ReferencePart(_id(name), _said(name), tuple(_fields(inner[name])), _prose(inner[name]))
            if spreads := inner[name].get("properties", {}).get("spreads"):
                yield _spreads(spreads)
        if spreads := whole.get("properties", {}).get("spreads"):
            yield _spreads(spreads)


def _where(kind: str) -> str:
    return _WHERE.get(kind, f"`{kind}.yaml`")


def _of_file(kind: str, whole: Mapping[str, Any]) -> str:
    """What the file is, as a whole."""
    needed = "A guide need not have it. " if kind in OPTIONAL else ""
    return needed + (_prose(whole) if "properties" in whole else f"It holds {_held(whole)}.")


def _first_named(whole: Mapping[str, Any]) -> list[str]:
    """The names of shapes in the order in which the file comes to them."""
    order: list[str] = []

    def follow(schema: Any) -> None:
        if isinstance(schema, dict):
            if name := schema.get("$ref", "").rpartition("/")[2]:
                if name not in order:
                    order.append(name)
                    follow(whole["$defs"][name])
                return
            for key, inner in sorted(schema.items(), key=lambda one: one[0] == "else"):
                if key not in ("$defs", "default", "enum"):
                    follow(inner)
        elif isinstance(schema, list):
            for inner in schema:
                follow(inner)

    follow(whole)
    return order


def _prose(schema: Mapping[str, Any]) -> str:
    """The description without what only programmers need."""
    paragraphs = str(schema.get("description", "")).split("\n\n")
    return "\n\n".join(one for one in paragraphs if "ValueError" not in one)


def _id(name: str) -> str:
    return _said(name).replace(" ", "-").lower()


def _said(name: str) -> str:
    """`ReadingCondition` as it is said: Reading condition."""
    return re.sub(r"(?<=[a-z])([A-Z])", lambda found: f" {found[1].lower()}", name)


def _fields(shape: Mapping[str, Any]) -> Iterator[Entry]:
    for name, schema in shape.get("properties", {}).items():
        yield _field(shape["title"], name, schema, needed=name in shape.get("required", ()))


def _field(shape: str, name: str, schema: Mapping[str, Any], *, needed: bool) -> Entry:
    unit = _UNIT.search(name)
    held = _held(schema).replace("text", _POINTS) if name == "on" else _held(schema)
    if demand := _DEMANDED.get((shape, name)):
        without = f"yes, by the check: {link(f'`{demand.id}`', 'finding-ranges')}"
    else:
        without = "yes" if needed else f"no{_default(schema.get('default'))}"
    facts = [("holds", held), ("unit", UNITS[unit[1]] if unit else ""), ("needed", without)]
    value = example.found().get((shape, name))
    written = "" if value is None else example.written(name, value)
    return Entry(name, _prose(schema), tuple((key, said) for key, said in facts if said), written)


_POINTS = f"{link('a conductor', 'conductors')} or {link('a point', 'points')}"


_DEMANDED = {("Reading", name): NO_WAY_ON for name in ("not_taken", "over_range", "not_steady")}
"""Fields that a model can do without, and no guide."""


def _default(value: Any) -> str:
    """What holds where the field is left out; nothing where nothing does."""
    if value in (None, [], {}, ""):
        return ""
    if isinstance(value, dict):
        return f"; without it `{{{', '.join(f'{key}: {inner}' for key, inner in value.items())}}}`"
    said = (
        str(value).lower() if isinstance(value, bool) else f"{value:g}" if isinstance(value, float) else value
    )
    return f"; without it `{said}`"


def _spreads(schema: Mapping[str, Any]) -> ReferencePart:
    """The parameters of a sampling, each a key of its own."""
    entries = tuple(_field("spreads", name, one, needed=True) for name, one in schema["properties"].items())
    return ReferencePart(
        "spreads", "Spreads", entries, "The parameters that a sampling states, each by its name."
    )


def _pattern(kind: Any) -> str:
    return str(TypeAdapter(kind).json_schema()["pattern"])


_PATTERNS = {
    schemas.DAY: "a day, as year-month-day",
    _pattern(models.Id): "a name: small letters, digits and hyphens",
    _pattern(models.Colour): "a colour, in six hex digits between quotes",
}


def _held(schema: Mapping[str, Any]) -> str:
    """What a value may be, in words."""
    if "$ref" in schema:
        return _a(schema["$ref"].rpartition("/")[2])
    if "enum" in schema:
        return _one_of([one for one in schema["enum"] if one is not None])
    if "if" in schema:
        return _one_or_other(schema)
    types = schema.get("type", [])
    if "array" in types:
        return _list(schema)
    if "object" in types:
        return _mapping(schema)
    if "integer" in types or ("number" in types and "boolean" not in types):
        return _number(schema, "a whole number" if "integer" in types else "a number")
    return _PATTERNS.get(schema.get("pattern", ""), "text")


_NAMES: Mapping[str, Mapping[str, Any]] = {
    "instruments": INSTRUMENTS,
    "actions": ACTIONS,
    "hazards": HAZARDS,
    "facts": FACTS,
    "faults": KINDS,
    "cables": CABLES,
    "pipes": PIPES,
}
_TABLES = {frozenset(known): link(f"the {table}", table) for table, known in _NAMES.items()}
"""Names that a field may hold -> where they are told."""


def _a(name: str) -> str:
    said = _said(name).lower()
    return f"{'an' if said[0] in 'aeio' else 'a'} {link(said, _id(name))}"


def _one_of(names: list[Any]) -> str:
    if True in names:
        return "`true` or `false`"
    table = next((f"{words}: " for known, words in _TABLES.items() if known <= set(names)), "")
    return f"{'one of ' if len(names) > 1 else ''}{table}{', '.join(f'`{one}`' for one in names)}"


def _one_or_other(schema: Mapping[str, Any]) -> str:
    condition = schema["if"]
    if "required" in condition:
        kinds = [_a(shape.__name__) for shape in models.NODE_SHAPES.values()]
        return f"{', '.join(kinds[:-1])} or {kinds[-1]}"
    if condition["type"] == "array":
        return f"{_held(schema['else'])}, or a list of them"
    return _held(schema["else"])


def _list(schema: Mapping[str, Any]) -> str:
    if several := schema.get("prefixItems"):
        return f"a list of {len(several)}, each {_held(several[0])}"
    least = ", at least one" if schema.get("minItems") else ""
    return f"a list{least}, each {_held(schema['items'])}"


def _mapping(schema: Mapping[str, Any]) -> str:
    if "if" in schema:
        return _one_or_other(schema)
    if schema.get("properties", {}).keys() == SPREADS.keys():
        return (
            link("every parameter", "spreads")
            + ", each with "
            + _held(next(iter(schema["properties"].values())))
        )
    names = schema.get("propertyNames", {})
    which = _one_of(names["enum"]) if "enum" in names else "names"
    return f"{which}, each with {_held(schema['additionalProperties'])}"


_BOUNDS = {"exclusiveMinimum": "above {:g}", "minimum": "{:g} or more", "maximum": "at most {:g}"}


def _number(schema: Mapping[str, Any], kind: str) -> str:
    bounds = [words.format(schema[key]) for key, words in _BOUNDS.items() if key in schema]
    return ", ".join([kind, *bounds])
