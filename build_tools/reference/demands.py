"""Every demand that a finding can be raised for, by the module that raises it."""

from __future__ import annotations

import inspect
from types import ModuleType

from build_tools import mutate
from build_tools.checks import CHECKS
from build_tools.guide import (
    calls,
    findings,
    folder,
    loading,
    site_settings,
    source,
    unknown_names,
    validation,
)
from build_tools.guide.findings import Demand
from build_tools.proof import evidence, promises

__all__ = ["MODULES", "declared", "demands", "title"]

MODULES: tuple[ModuleType, ...] = (
    source,
    validation,
    folder,
    loading,
    unknown_names,
    calls,
    *(module for check in CHECKS if (module := inspect.getmodule(check))),
    promises,
    evidence,
    site_settings,
    mutate,
    findings,
)
"""Each after those whose demands it raises as well."""


def demands() -> dict[ModuleType, tuple[Demand, ...]]:
    """Each module with the demands that it declares, in the order in which they stand there."""
    seen: set[str] = set()
    by_module: dict[ModuleType, tuple[Demand, ...]] = {}
    for module in MODULES:
        own = tuple(one for one in vars(module).values() if isinstance(one, Demand) and one.id not in seen)
        seen.update(one.id for one in own)
        if own:
            by_module[module] = own
    return by_module


def declared() -> dict[str, Demand]:
    """Every demand by its id."""
    return {one.id: one for own in demands().values() for one in own}


def title(module: ModuleType) -> str:
    """What a module asks of a guide, in the first sentence of its docstring."""
    first, _, _ = (inspect.getdoc(module) or "").partition("\n\n")
    return " ".join(first.split())
