"""What a built site carries that others have made, with licences; and the list of it in CycloneDX."""

from __future__ import annotations

import hashlib
import json
import re
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from build_tools.shapes import Settings

__all__ = ["LICENCES", "Component", "Unlicensed", "bill_of_materials", "bundled"]

LICENCES = Path(__file__).parent / "licences"
"""The text of each component's licence, NAME.txt."""

_LICENCE = {
    "clipboard": "MIT",
    "cpython": "PSF-2.0",
    "escape-html": "MIT",
    "focus-visible": "W3C",
    "iframe-worker": "MIT",
    "json-schema": "MIT",
    "lunr": "MIT",
    "material-design-color": "MIT",
    "material-icons": "Apache-2.0",
    "mkdocs-material": "MIT",
    "pyodide": "MPL-2.0",
    "rxjs": "Apache-2.0",
    "tslib": "0BSD",
}
"""Component -> SPDX identifier, as its maker declares it."""

_OURS = {"jobs.js": ("@cfworker/json-schema",), "search-shim.js": ("iframe-worker",)}
"""Our script -> the packages that are joined into it."""


class Unlicensed(Exception):
    """Something is carried whose licence is not known here."""


@dataclass(frozen=True, slots=True, order=True)
class Component:
    """Something made by others. `kind`: npm, pypi or generic, as in a package URL; `version` may be unknown,
    since what the theme has joined into its own files does not say it."""

    name: str
    version: str
    kind: str

    @property
    def short(self) -> str:
        """The name without its maker's scope: under that its licence is kept."""
        return self.name.rpartition("/")[2]

    @property
    def licence(self) -> str:
        """Raises Unlicensed."""
        if self.short not in _LICENCE or not (LICENCES / f"{self.short}.txt").is_file():
            raise Unlicensed(
                f"the site carries {self.name}, whose licence is not known; put its text into "
                f"{LICENCES.name}/{self.short}.txt and its SPDX identifier into {Path(__file__).name}"
            )
        return _LICENCE[self.short]

    @property
    def purl(self) -> str:
        """Its package URL."""
        at = f"@{self.version}" if self.version else ""
        return f"pkg:{self.kind}/{self.name.replace('@', '%40')}{at}"


def bundled(site: Path, node_modules: Path) -> list[Component]:
    """Every component that a site carries, found by its files and by the theme's own maps of them."""
    return sorted(set(_found(site, node_modules)))


def _found(site: Path, node_modules: Path) -> Iterator[Component]:
    for script, names in _OURS.items():
        if (site / "assets" / script).exists():
            yield from (Component(name, _npm(node_modules, name)["version"], "npm") for name in names)
    if (site / "assets" / "python").exists():
        yield Component("pyodide", _npm(node_modules, "pyodide")["version"], "npm")
        lock = json.loads((node_modules / "pyodide" / "pyodide-lock.json").read_text("utf-8"))
        yield Component("cpython", lock["info"]["python"], "generic")
    if list(site.glob("assets/javascripts/bundle.*.js")):
        yield Component("mkdocs-material", version("mkdocs-material"), "pypi")
        yield Component("material-icons", "", "generic")
    for path in site.rglob("*.map"):
        for source in json.loads(path.read_text("utf-8"))["sources"]:
            if match := re.search(r"node_modules/((?:@[^/]+/)?[^/]+)/", source):
                yield Component(match[1], "", "npm")


def _npm(node_modules: Path, name: str) -> Any:
    return json.loads((node_modules / name / "package.json").read_text("utf-8"))


def bill_of_materials(
    components: list[Component], settings: Settings, commit: str, when: datetime
) -> dict[str, Any]:
    """CycloneDX 1.6: the guide, made of these. Raises Unlicensed."""
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
                "publisher": settings.operator,
                "properties": [{"name": "commit", "value": commit}],
            },
        },
        "components": [
            {
                "type": "library",
                "bom-ref": one.purl,
                "name": one.name,
                **({"version": one.version} if one.version else {}),
                "licenses": [{"license": {"id": one.licence}}],
                "purl": one.purl,
            }
            for one in components
        ],
        "dependencies": [
            {"ref": "guide", "dependsOn": [one.purl for one in components]},
            *({"ref": one.purl} for one in components),
        ],
    }
