"""JSON Schemas of a guide's files, for editors: completion, and a mark under what cannot be.

They are made from the very shapes that the check goes by, so they cannot drift from it. A schema describes
what an author writes: a number in digits or between quotes, `true`, `12` where a text is wanted. It sees one
value at a time and is never stricter than the check; what hangs together across a file (an answer that
leads nowhere, a home that is not fed) only the check can see.

Every property is described in the words under its field. Where a value may be one thing or another, what is
written decides which is meant (`if`), so that an error names the field that is wrong.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode, JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from build_tools.guide import models
from build_tools.setup.whole import write_whole
from calc.conductor import CABLES, PIPES
from calc.minutes import Minutes
from calc.sampling import SPREADS, Sampling
from calc.street import Street

__all__ = ["DAY", "DIALECT", "FILES", "schema", "write"]

DIALECT = GenerateJsonSchema.schema_dialect

FILES: Mapping[str, Any] = {
    "tree": models.Tree,
    "street": Street,
    "rules": models.Rules,
    "glossary": models.Glossary,
    "sources": models.References,
    "guide": models.Settings,
    "operator": models.Operator,
    "promises": models.Promises,
    "synonyms": models.Synonyms,
    "sampling": Sampling,
    "minutes": Minutes,
    "signed": models.Signatures,
}
"""Kind of file -> its shape."""

DAY = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"
_NUMBER = f"^{models.NUMBER.pattern}$"
_NAMES: Mapping[str, Mapping[str, Any]] = {"cable": CABLES, "pipe": PIPES}
"""Fields of a street that name an entry of a table in `calc`, which knows nothing of schemas."""


def schema(kind: str) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of one kind of file in FILES."""
    return TypeAdapter(FILES[kind]).json_schema(schema_generator=_AsWritten)


def write(folder: Path) -> list[Path]:
    """Write every schema into `folder` as KIND.json; gives the files."""
    files = []
    for kind in FILES:
        file = folder / f"{kind}.json"
        write_whole(file, json.dumps(schema(kind), indent=2, ensure_ascii=False) + "\n")
        files.append(file)
    return files


class _AsWritten(GenerateJsonSchema):
    """Describes a value as it is written in YAML, before a shape makes a number, a day or a flag of it."""

    def generate(self, schema: CoreSchema, mode: JsonSchemaMode = "validation") -> JsonSchemaValue:
        made: JsonSchemaValue = _in_one_line(_with_bounds(super().generate(schema, mode)))
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
        return {**super().date_schema(schema), "pattern": DAY}

    def dict_schema(self, schema: core_schema.DictSchema) -> JsonSchemaValue:
        """Every key must fit, not only those that happen to."""
        made = super().dict_schema(schema)
        if patterns := made.pop("patternProperties", None):
            (made["additionalProperties"],) = patterns.values()
            made["propertyNames"] = self.generate_inner(schema["keys_schema"])
        return made

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        """A value, or nothing after the colon."""
        inner = self.generate_inner(schema["schema"])
        if "enum" in inner:
            inner = {**inner, "enum": [*inner["enum"], None]}
        if "$ref" in inner:
            return {"if": {"type": "null"}, "else": inner}
        types = inner.get("type", [])
        return (
            {**inner, "type": [*([types] if isinstance(types, str) else types), "null"]} if types else inner
        )

    def union_schema(self, schema: core_schema.UnionSchema) -> JsonSchemaValue:
        """One thing alone, or a list of them."""
        choices: Any = schema["choices"]
        alone, several = map(self.generate_inner, choices)
        return {"if": {"type": "array"}, "then": several, "else": alone}

    def tagged_union_schema(self, schema: core_schema.TaggedUnionSchema) -> JsonSchemaValue:
        """A node: the key that is there says which kind it is, the first of shapes.KINDS as in the check."""
        kinds = {kind: schema["choices"][models.tag(kind)] for kind in models.KINDS}
        made = _of_no_kind()
        for kind, choice in reversed(kinds.items()):
            made = {"if": {"required": [kind]}, "then": self.generate_inner(choice), "else": made}
        offered = {kind: {"description": shape.__doc__ or ""} for kind, shape in models.NODE_SHAPES.items()}
        return {"type": "object", "minProperties": 1, "properties": offered, **made}

    def dataclass_field_schema(self, schema: core_schema.DataclassField) -> JsonSchemaValue:
        made = super().dataclass_field_schema(schema)
        if schema["name"] == "spreads":
            return _by_name(made, SPREADS)
        names = _NAMES.get(schema["name"])
        return {**made, "type": "string", "enum": list(names)} if names else made


def _of_no_kind() -> JsonSchemaValue:
    """Refuses a node without a kind: by the key that is no node's, or by the kind that a key belongs to."""
    kind_of: dict[str, str] = {}
    for kind, shape in models.NODE_SHAPES.items():
        for name, field in shape.model_fields.items():
            kind_of.setdefault(field.alias or name, kind)
    return {
        "propertyNames": {"enum": list(kind_of)},
        "dependentRequired": {name: [kind] for name, kind in kind_of.items() if name != kind},
    }


def _by_name(made: JsonSchemaValue, described: Mapping[str, str]) -> JsonSchemaValue:
    """A mapping whose every key is known beforehand, and needed."""
    each = made["additionalProperties"]
    properties = {name: {**each, "description": words} for name, words in described.items()}
    return {**made, "properties": properties, "required": list(properties), "additionalProperties": False}


def _in_one_line(made: Any) -> Any:
    """Descriptions without the line breaks of the source; paragraphs stay."""
    if isinstance(made, list):
        return [_in_one_line(one) for one in made]
    if not isinstance(made, dict):
        return made
    return {
        key: re.sub(r"(?<!\n)\n(?!\n)", " ", value)
        if key == "description" and isinstance(value, str)
        else _in_one_line(value)
        for key, value in made.items()
    }


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
