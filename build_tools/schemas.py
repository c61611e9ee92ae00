"""JSON Schemas of a guide's files, for editors: completion, and a mark under what cannot be.

They are made from the very shapes that the check goes by, so they cannot drift from it. A schema describes
what an author writes: a number in digits or between quotes, `true`, `12` where a text is wanted. It sees one
value at a time and is never stricter than the check; what hangs together across a file (an answer that
leads nowhere, a home that is not fed) only the check can see.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode, JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from build_tools import shapes
from calc.bands import Sampling
from calc.conductor import CABLES, PIPES
from calc.street import Street

__all__ = ["DIALECT", "FILES", "schema", "write"]

DIALECT = GenerateJsonSchema.schema_dialect

FILES: Mapping[str, Any] = {
    "tree": shapes.Tree,
    "street": Street,
    "rules": shapes.Rules,
    "glossary": shapes.Glossary,
    "sources": shapes.References,
    "guide": shapes.Settings,
    "operator": shapes.Operator,
    "promises": shapes.Promises,
    "synonyms": shapes.Synonyms,
    "sampling": Sampling,
}
"""Kind of file -> its shape."""

_DAY = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"
_NUMBER = f"^{shapes.NUMBER.pattern}$"
_NAMES: Mapping[str, Mapping[str, Any]] = {"cable": CABLES, "pipe": PIPES}
"""Fields of a street that name an entry of a table in `calc`, which knows nothing of schemas."""


def schema(kind: str) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of one kind of file in FILES."""
    return TypeAdapter(FILES[kind]).json_schema(schema_generator=_AsWritten)


def write(folder: Path) -> list[Path]:
    """Write every schema into `folder` as KIND.json; gives the files."""
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for kind in FILES:
        file = folder / f"{kind}.json"
        file.write_text(json.dumps(schema(kind), indent=2, ensure_ascii=False) + "\n", "utf-8")
        files.append(file)
    return files


class _AsWritten(GenerateJsonSchema):
    """Describes a value as it is written in YAML, before a shape makes a number, a day or a flag of it."""

    def generate(self, schema: CoreSchema, mode: JsonSchemaMode = "validation") -> JsonSchemaValue:
        made: JsonSchemaValue = _with_bounds(super().generate(schema, mode))
        return {"$schema": self.schema_dialect, **made}

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def str_schema(self, schema: core_schema.StringSchema) -> JsonSchemaValue:
        """A text; without quotes an editor takes `12` for a number and `true` for a flag."""
        made = super().str_schema(schema)
        if schema.get("strip_whitespace"):
            made["pattern"] = r"\S"
        return {**made, "type": ["string", "number", "boolean"]}

    def float_schema(self, schema: core_schema.FloatSchema) -> JsonSchemaValue:
        return {**super().float_schema(schema), "type": ["number", "string"], "pattern": _NUMBER}

    def int_schema(self, schema: core_schema.IntSchema) -> JsonSchemaValue:
        return {**super().int_schema(schema), "type": ["integer", "string"], "pattern": _NUMBER}

    def bool_schema(self, schema: core_schema.BoolSchema) -> JsonSchemaValue:
        return {"enum": [True, False, "true", "false"]}

    def date_schema(self, schema: core_schema.DateSchema) -> JsonSchemaValue:
        return {**super().date_schema(schema), "pattern": _DAY}

    def dict_schema(self, schema: core_schema.DictSchema) -> JsonSchemaValue:
        """Every key must fit, not only those that happen to."""
        made = super().dict_schema(schema)
        if patterns := made.pop("patternProperties", None):
            (made["additionalProperties"],) = patterns.values()
            made["propertyNames"] = self.generate_inner(schema["keys_schema"])
        return made

    def dataclass_field_schema(self, schema: core_schema.DataclassField) -> JsonSchemaValue:
        made = super().dataclass_field_schema(schema)
        names = _NAMES.get(schema["name"])
        return {**made, "type": "string", "enum": list(names)} if names else made


_BOUNDS = {"gt": "exclusiveMinimum", "ge": "minimum", "lt": "exclusiveMaximum", "le": "maximum"}


def _with_bounds(made: Any) -> Any:
    """Bounds of a number that may be absent, which pydantic leaves under its own names."""
    if isinstance(made, list):
        return [_with_bounds(one) for one in made]
    if not isinstance(made, dict):
        return made
    return {
        _BOUNDS.get(key, key) if isinstance(value, int | float) else key: _with_bounds(value)
        for key, value in made.items()
    }
