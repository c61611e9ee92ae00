"""Findings as an editor marks them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from lsprotocol.types import (
    Diagnostic,
    DiagnosticRelatedInformation,
    DiagnosticSeverity,
    Location,
)

from build_tools.checks.content import OVERDUE
from build_tools.guide.findings import Finding, Place
from build_tools.language_server.positions import Text
from build_tools.proof import evidence

__all__ = ["SOURCE", "by_file", "diagnostic", "location", "path_of"]

SOURCE = "lost-neutral"
"""Who an editor says has found it."""

_FORGIVEN = (OVERDUE.id, evidence.STALE.id)
"""Findings that a draft is shown with."""

Texts = Callable[[Path], Text]
"""A file's text, as the editor holds it or as it was saved."""
Address = Callable[[Path], str]
"""A file's URI, as the editor writes it."""


def path_of(place: Place) -> Path:
    """The file of a place, whole."""
    return Path.cwd() / place.file


def by_file(findings: Iterable[Finding]) -> dict[Path, list[Finding]]:
    """The findings of each file that has any."""
    found: dict[Path, list[Finding]] = {}
    for finding in findings:
        found.setdefault(path_of(finding.place), []).append(finding)
    return found


def diagnostic(finding: Finding, texts: Texts, address: Address) -> Diagnostic:
    """One finding: what was found, what was expected, the mend; the way there as places to go to."""
    said = [finding.what]
    if finding.expected:
        said.append(f"expected: {finding.expected}")
    if finding.mend:
        said.append(f"mend: {finding.mend}")
    severity = DiagnosticSeverity.Warning if finding.check in _FORGIVEN else DiagnosticSeverity.Error
    return Diagnostic(
        texts(path_of(finding.place)).range_at(finding.place),
        "\n".join(said),
        severity=severity,
        code=finding.check,
        source=SOURCE,
        related_information=[
            DiagnosticRelatedInformation(location(hop.place, texts, address), hop.what)
            for hop in finding.hops
        ],
    )


def location(place: Place, texts: Texts, address: Address) -> Location:
    """Where a place is for an editor."""
    return Location(address(path_of(place)), texts(path_of(place)).range_at(place))
