"""Cables and pipes in words, for the choices of a form."""

from __future__ import annotations

from calc.conductor import CABLES, PIPES

__all__ = ["cable_name", "pipe_name"]

_PLACES = {"mains": "main", "overhead": "overhead line", "service": "service"}
_MAKES = {
    "al": "aluminium",
    "cu": "copper",
    "4c": "four-core",
    "abc": "bundled aluminium",
    "open": "open wires",
}
_KINDS = {"cne": "PEN", "sne": "earth apart"}


def cable_name(key: str) -> str:
    """A cable of CABLES in words. Raises KeyError for one that is not there.

    >>> cable_name("mains-185-al-cne"), cable_name("service-16-cu-sne")
    ('main, 185 mm² aluminium, PEN', 'service, 16 mm² copper, earth apart')
    >>> cable_name("overhead-open-35-cu")
    'overhead line, 35 mm² open wires, copper, PEN'
    """
    place, *parts = key.split("-")
    size = next(part for part in parts if part.isdigit())
    makes = ", ".join(_MAKES[part] for part in parts if part in _MAKES)
    return f"{_PLACES[place]}, {size} mm² {makes}, {_KINDS[CABLES[key].kind]}"


def pipe_name(key: str) -> str:
    """A pipe of PIPES in words. Raises KeyError for one that is not there.

    >>> pipe_name("copper-22"), pipe_name("steel-1-inch"), pipe_name("lead")
    ('copper, 22.0 mm outside', 'steel, 33.7 mm outside', 'lead, 23.5 mm outside')
    """
    return f"{key.split('-')[0]}, {PIPES[key].outside_mm:.1f} mm outside"
