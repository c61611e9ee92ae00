"""Findings as SARIF 2.1.0, which code hosts show beside the line (OASIS standard of 27 March 2020).

A rule is one check; a result's id is the check and the finding (`ranges/range-gap`), a hierarchical id as in
section 3.27.5. The way through the tree that shows a fault is a code flow. Columns count characters.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote

from build_tools.guide.findings import Finding, Place, in_order

__all__ = ["sarif_report"]

_LINE_ENDS = ["\r\n", "\n", "\r", "\x85", "\u2028", "\u2029"]  # as YAML counts lines, and Place with it


def sarif_report(found: Mapping[str, Iterable[Finding]], demands: Mapping[str, str]) -> str:
    """One run: what each check found, and what each check demands, by the check's name."""
    names = list(demands)
    by_finding = {id(finding): name for name, findings in found.items() for finding in findings}
    ordered = in_order(finding for findings in found.values() for finding in findings)
    run = {
        "tool": {"driver": {"name": "lost-neutral", "rules": [_rule(n, demands[n]) for n in names]}},
        "columnKind": "unicodeCodePoints",
        "newlineSequences": _LINE_ENDS,
        "results": [_result(f, by_finding[id(f)], names.index(by_finding[id(f)])) for f in ordered],
    }
    return json.dumps({"version": "2.1.0", "runs": [run]}, indent=2, ensure_ascii=False)


def _rule(name: str, demand: str) -> dict[str, Any]:
    return {
        "id": name,
        "shortDescription": {"text": demand.partition("\n")[0]},
        "fullDescription": {"text": demand},
        "defaultConfiguration": {"level": "error"},
    }


def _result(finding: Finding, check: str, index: int) -> dict[str, Any]:
    where: dict[str, Any] = _location(finding.place)
    if finding.path:
        where["logicalLocations"] = [{"fullyQualifiedName": " > ".join(finding.path)}]
    result = {
        "ruleId": f"{check}/{finding.check}",
        "ruleIndex": index,
        "level": "error",
        "message": {"text": _words(finding)},
        "locations": [where],
    }
    if finding.hops:
        steps = [{"location": _location(hop.place, hop.what)} for hop in finding.hops]
        result["codeFlows"] = [{"threadFlows": [{"locations": steps}]}]
    return result


def _words(finding: Finding) -> str:
    expected = f"; expected {finding.expected}" if finding.expected else ""
    return f"{finding.what}{expected}" + (f"\nmend: {finding.mend}" if finding.mend else "")


def _location(place: Place, words: str = "") -> dict[str, Any]:
    location: dict[str, Any] = {
        "physicalLocation": {
            "artifactLocation": {"uri": _uri(place.file)},
            "region": {"startLine": place.line, "startColumn": place.column},
        }
    }
    if words:
        location["message"] = {"text": words}
    return location


def _uri(file: str) -> str:
    """Relative to where the check ran, as a code host wants it; a `file:` address for anything outside."""
    path = Path(file)
    return path.as_uri() if path.is_absolute() else quote(path.as_posix())
