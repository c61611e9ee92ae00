"""The guide in `example/`, in which every field stands once or more: what each field's example is taken from.

It is checked like any other guide, and shipped nowhere.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from build_tools.guide import schemas, source
from build_tools.guide.source import Data

__all__ = ["FOLDER", "file_kinds", "found", "written"]

FOLDER = Path(__file__).parent / "example"


def file_kinds() -> dict[str, tuple[Path, ...]]:
    """Each kind of file -> the files of that kind."""
    folders = {"tree": "trees/*", "street": "streets"}
    return {
        kind: tuple(sorted(FOLDER.glob(f"{folders[kind]}/*.yaml" if kind in folders else f"{kind}.yaml")))
        for kind in schemas.FILES
    }


@cache
def found() -> dict[tuple[str, str], Data]:
    """The shortest value that each field of each shape has there."""
    shortest: dict[tuple[str, str], Data] = {}
    for kind, files in file_kinds().items():
        schema = schemas.schema(kind)
        for file in files:
            for field, value in _values(schema, schema, source.read(file).data):
                if field not in shortest or len(str(value)) < len(str(shortest[field])):
                    shortest[field] = value
    return shortest


def _values(whole: Any, schema: Any, data: Data, name: str = "") -> Iterator[tuple[tuple[str, str], Data]]:
    """Every value in `data` with the shape and the field that it is of, as its schema has them."""
    schema = _meant(whole, schema, data)
    shape = schema.get("title", name)
    if isinstance(data, list):
        each = schema.get("prefixItems") or [schema.get("items")] * len(data)
        for inner, value in zip(each, data, strict=True):
            yield from _values(whole, inner, value)
    elif isinstance(data, dict):
        fields = schema.get("properties", {})
        for key, value in data.items():
            if key in fields:
                yield (shape, key), value
            yield from _values(whole, fields.get(key) or schema["additionalProperties"], value, key)


def _meant(whole: Any, schema: Any, data: Data) -> Any:
    """The schema of this value: references followed, and of several the one that what is written decides."""
    while "$ref" in schema or "if" in schema:
        if "$ref" in schema:
            schema = whole["$defs"][schema["$ref"].rpartition("/")[2]]
        else:
            schema = schema["then" if _holds(schema["if"], data) else "else"]
    return schema


def _holds(condition: Any, data: Data) -> bool:
    if "required" in condition:
        return isinstance(data, dict) and set(condition["required"]) <= data.keys()
    return data is None if condition["type"] == "null" else isinstance(data, list)


class _Plain(yaml.SafeDumper):
    """Writes every text bare where YAML allows it: a guide's texts are what they look like."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012 - pyyaml's own name for it


def written(name: str, value: Data) -> str:
    """A field as it is written in a file; what is short stands on one line."""
    node: Any = _Plain(io.StringIO(), sort_keys=False).represent_data({name: value})
    _lay_out(node)
    node.flow_style = False
    return str(yaml.serialize(node, Dumper=_Plain, allow_unicode=True, width=_WIDE)).strip()


_WIDE = 76


def _lay_out(node: yaml.Node) -> int:
    """Put each list or mapping on one line where it fits; gives the letters that it takes."""
    if not isinstance(node, yaml.CollectionNode):
        return len(node.value)
    inner = [one for part in node.value for one in (part if isinstance(part, tuple) else (part,))]
    letters = sum(_lay_out(one) + 2 for one in inner)
    node.flow_style = letters < _WIDE - 16
    return letters
