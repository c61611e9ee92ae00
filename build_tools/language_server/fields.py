"""What an author may write at one place of a file, and what it means: from the schemas, as every editor has
them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import PurePosixPath
from typing import Any

from build_tools.guide import schemas
from build_tools.guide.source import Data
from build_tools.language_server.cursor import Keys, inside_of

__all__ = ["Schema", "choices", "field_at", "keys_of", "kind_of"]

Schema = Mapping[str, Any]


def kind_of(inside: str) -> str | None:
    """The kind of a file (a key of schemas.FILES) by its path inside the guide; None for any other file."""
    path = PurePosixPath(inside)
    match path.suffix, path.parent.parts:
        case ".yaml", ("trees", _):
            return "tree"
        case ".yaml", ("streets",):
            return "street"
        case ".yaml", () if path.stem in schemas.FILES:
            return path.stem
    return None


def field_at(kind: str, keys: Keys, data: Data) -> Schema:
    """The schema of what stands at `keys` in a file that holds `data`; empty where nothing may."""
    whole = _schema(kind)
    here = _settled(whole, whole, data)
    for step in keys:
        inner = here.get("items" if isinstance(step, int) else "properties", {})
        if not isinstance(step, int):
            inner = inner.get(step) or here.get("additionalProperties") or {}
        data = inside_of(data, step)
        here = _settled(whole, inner if isinstance(inner, dict) else {}, data)
    return here


def keys_of(field: Schema) -> Mapping[str, Schema]:
    """Each key that a mapping may have, in the order in which authors write them."""
    properties: Mapping[str, Schema] = field.get("properties", {})
    return properties


def choices(field: Schema) -> list[str]:
    """The words that a value may be one of; none when it may be anything."""
    return [word for word in field.get("enum", ()) if isinstance(word, str)]


@cache
def _schema(kind: str) -> Schema:
    return schemas.schema(kind)


def _settled(whole: Schema, schema: Schema, data: Data) -> Schema:
    """The schema with its references followed, and of what it may be the one that `data` is."""
    if "$ref" in schema:
        meant = whole["$defs"][schema["$ref"].rpartition("/")[2]]
        return {**_settled(whole, meant, data), **schema}
    if "if" in schema:
        meant = schema.get("then" if _is_meant(schema["if"], data) else "else", {})
        return {**schema, **_settled(whole, meant, data)}
    return schema


def _is_meant(condition: Schema, data: Data) -> bool:
    """Whether a schema's `if` holds: a list, or a mapping with the key that says its kind."""
    if "required" in condition:
        return isinstance(data, dict) and all(key in data for key in condition["required"])
    return condition.get("type") == "array" and isinstance(data, list)
