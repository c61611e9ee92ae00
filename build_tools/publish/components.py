"""What a built site carries that others have made, with licences; and the list of it in CycloneDX.

What there can be stands in `components.yaml`. A file of the site that nobody is known to have made, and a
package that a source map names and the list does not, are refused.
"""

from __future__ import annotations

import hashlib
import json
import re
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import yaml

from build_tools.guide.models import Settings

__all__ = ["LICENCES", "Component", "Unlicensed", "bill_of_materials", "bundled"]

LICENCES = Path(__file__).parent / "licences"
"""The text of each component's licence, NAME.txt."""

_HERE = Path(__file__).parent
_OURS = (
    "*.html", "**/*.html", "*.json", "build.js", "service-worker.js", "manifest.webmanifest",
    "assets/*", "assets/inline/*", "assets/walks/*", "schemas/*",
)  # fmt: skip
"""Files that the build makes, by their names; `assets/inline/` holds what stood in pages."""


class Unlicensed(Exception):
    """Something is carried whose licence is not known here."""


@dataclass(frozen=True, slots=True, order=True)
class Component:
    """Something made by others. `kind`: npm, pypi or generic, as in a package URL; `version` may be unknown,
    since what is joined into another's files does not say it. `licence`: an SPDX expression; `within`: the
    component whose files hold it, or nothing; `files`: those of the site that it is, each with the SHA-256
    of what is shipped, in hex."""

    name: str
    version: str
    kind: str
    licence: str
    within: str
    known: str
    files: tuple[tuple[str, str], ...]

    @property
    def short(self) -> str:
        """The name without its maker's scope: under that its licence is kept."""
        return self.name.rpartition("/")[2]

    @property
    def purl(self) -> str:
        """Its package URL."""
        at = f"@{self.version}" if self.version else ""
        return f"pkg:{self.kind}/{self.name.replace('@', '%40')}{at}"


def bundled(site: Path, node_modules: Path, own: Iterable[str] = ()) -> list[Component]:
    """Every component that a site carries, told by its files and by the maps of what is joined in them.

    `own`: files that the guide's author brought. Raises Unlicensed for what components.yaml does not know.
    """
    files = sorted(path.relative_to(site).as_posix() for path in site.rglob("*") if path.is_file())
    found: dict[str, Component] = {}
    for row in yaml.safe_load((_HERE / "components.yaml").read_text("utf-8")):
        held = tuple(file for file in files if _fits(file, row.get("files", ())))
        if held or row.get("within") in found:
            sums = tuple((file, hashlib.sha256((site / file).read_bytes()).hexdigest()) for file in held)
            found[row["name"]] = _component(row, sums, node_modules)
    claimed = {*own, *(file for one in found.values() for file, _ in one.files)}
    nobodys = [file for file in files if file not in claimed and not _fits(file, _OURS)]
    for name in [*nobodys, *sorted(_in_maps(site) - found.keys())]:
        raise Unlicensed(
            f"the site carries {name}, whose licence is not known; say in components.yaml whose it is, and "
            f"put the licence's text into {LICENCES.name}/NAME.txt"
        )
    return sorted(found.values())


def _component(row: dict[str, Any], held: tuple[tuple[str, str], ...], node_modules: Path) -> Component:
    name, kind, told = row["name"], row.get("from", "generic"), row.get("version", "")
    if kind == "npm":
        told = _read(node_modules / name / "package.json")["version"]
    elif kind == "pypi":
        told = version(name)
    elif name == "cpython":
        told = _read(node_modules / "pyodide" / "pyodide-lock.json")["info"]["python"]
    within = row.get("within", "") if not held else ""
    return Component(name, told, kind, row["licence"], within, row["known"], held)


def _in_maps(site: Path) -> set[str]:
    """The packages that source maps name."""
    sources = (source for path in site.rglob("*.map") for source in _read(path)["sources"])
    named = (re.search(r"node_modules/((?:@[^/]+/)?[^/]+)/", source) for source in sources)
    return {match[1] for match in named if match}


def _read(path: Path) -> Any:
    return json.loads(path.read_text("utf-8"))


def _fits(file: str, patterns: Iterable[str]) -> bool:
    """`*` is anything within a folder, `**` across folders."""
    return any(
        re.fullmatch(re.escape(one).replace(r"\*\*", ".*").replace(r"\*", "[^/]*"), file) for one in patterns
    )


def bill_of_materials(
    components: list[Component],
    settings: Settings,
    publisher: str,
    commit: str,
    when: datetime,
    compiler: str,
) -> dict[str, Any]:
    """CycloneDX 1.6: the guide at `commit`, made of these by the compiler at its own."""
    digest = hashlib.sha256(f"{commit} {settings.title} {settings.version}".encode()).digest()
    return {
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "serialNumber": f"urn:uuid:{uuid.UUID(bytes=digest[:16], version=4)}",
        "version": 1,
        "metadata": {
            "timestamp": when.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "component": {
                "type": "application",
                "bom-ref": "guide",
                "name": settings.title,
                "version": settings.version,
                "publisher": publisher,
                "properties": [{"name": "commit", "value": commit}],
            },
        },
        "components": [
            {
                "type": "library",
                "bom-ref": "compiler",
                "name": "lost-neutral",
                "version": version("lost-neutral"),
                "properties": [{"name": "commit", "value": compiler}],
            },
            *map(_entry, components),
        ],
        "dependencies": [
            {"ref": "guide", "dependsOn": ["compiler", *(one.purl for one in components if not one.within)]},
            *(_holds(one, components) for one in components),
        ],
    }


def _entry(one: Component) -> dict[str, Any]:
    files = [
        {"type": "file", "name": f"site/{file}", "hashes": [{"alg": "SHA-256", "content": sha256}]}
        for file, sha256 in one.files
    ]
    return {
        "type": "library",
        "bom-ref": one.purl,
        "name": one.name,
        **({"version": one.version} if one.version else {}),
        "licenses": [_licence(one.licence)],
        "purl": one.purl,
        "properties": [{"name": "known by", "value": one.known}],
        **({"components": files} if files else {}),
    }


def _licence(expression: str) -> dict[str, Any]:
    return {"expression": expression} if " " in expression else {"license": {"id": expression}}


def _holds(one: Component, components: list[Component]) -> dict[str, Any]:
    inside = [other.purl for other in components if other.within == one.name]
    return {"ref": one.purl, **({"dependsOn": inside} if inside else {})}
