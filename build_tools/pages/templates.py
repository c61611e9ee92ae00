"""The page templates, escaped by default."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from build_tools.guide import wording
from build_tools.setup.environment import COMMAND

__all__ = ["render"]


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("build_tools.pages", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["words"] = wording
    environment.globals["program"] = COMMAND
    environment.filters["units_kept"] = wording.units_kept
    return environment


def render(template: str, **values: Any) -> Markup:
    """HTML of a template in this folder."""
    return Markup(_environment().get_template(template).render(values))
