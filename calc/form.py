"""What a person typed into a calculator, made into values, or into a kind sentence for each mistake."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from typing import Any

from calc.calculator import Calculator, Choice, Example, Number, Tick
from calc.faults import catalogue
from calc.figures import shown_unit
from calc.shaped import shaped
from calc.street import Street
from calc.typed_figure import Unreadable, typed_figure

__all__ = ["default_raw", "example_raw", "options", "parse", "shown"]

_UNITS = {
    "ohm": {"ω", "ohm", "ohms"},
    "V": {"v", "volt", "volts"},
    "A": {"a", "amp", "amps", "ampere", "amperes"},
    "W": {"w", "watt", "watts"},
    "m": {"m", "metre", "metres"},
}
_PREFIXES = {"": 1.0, "m": 1e-3, "k": 1e3, "K": 1e3, "M": 1e6}
_NOTHING = 1e-9
"""A figure nearer to 0 than this is 0: no meter shows it, and one over it may have no end."""

_YES, _NO = ("yes", "true", "on", "1"), ("no", "false", "off", "0", "")


def parse(
    calculator: Calculator, raw: Mapping[str, str], data: Mapping[str, Any]
) -> tuple[dict[str, Any], dict[str, str]]:
    """Values by input name, and for each input that has none a sentence that says how to mend it.

    `raw` is text by input name; a tick is `yes` or `no`. Numbers are read as calc.typed_figure says, and may
    carry their unit. Never raises for what is in `raw`.
    """
    values: dict[str, Any] = {}
    problems: dict[str, str] = {}
    for shape in calculator.inputs:
        typed = str(raw.get(shape.name, "")).strip()
        try:
            values[shape.name] = _value(shape, typed, data, values)
        except _Problem as problem:
            problems[shape.name] = str(problem)
    return values, problems


def options(choice: Choice, data: Mapping[str, Any], raw: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """The options of a choice, each a value and its words.

    Those filled from a street are empty while `raw["street"]` names none.
    """
    if not choice.options_from:
        return choice.options
    streets = data.get("streets", {})
    if choice.options_from == "streets":
        return tuple((name, str(street.get("title", name))) for name, street in streets.items())
    street = streets.get(raw.get("street", ""))
    if street is None:
        return ()
    if choice.options_from == "homes":
        return tuple((home, home) for home in street["premises"])
    return tuple((str(fault), fault.title) for fault in catalogue(shaped(Street, street)))


def default_raw(
    calculator: Calculator, data: Mapping[str, Any], given: Mapping[str, str] | None = None
) -> dict[str, str]:
    """What the form holds when it opens, as text by input name; homes and faults are of a street `given`."""
    raw: dict[str, str] = {}
    for shape in calculator.inputs:
        match shape:
            case Number():
                raw[shape.name] = "" if shape.optional else f"{shape.default:g}"
            case Tick():
                raw[shape.name] = "yes" if shape.default else "no"
            case Choice(options_from=""):
                raw[shape.name] = shape.default
            case Choice():
                known = [value for value, _ in options(shape, data, {**raw, **(given or {})})]
                fitting = [value for value in known if value.startswith(shape.default)] or known or [""]
                raw[shape.name] = fitting[min(shape.after, len(fitting) - 1)]
    return raw


def example_raw(calculator: Calculator, example: Example, data: Mapping[str, Any]) -> dict[str, str] | None:
    """What the form holds for a worked example; None where the first street has nothing that it speaks of."""
    raw = default_raw(calculator, data)
    for shape in calculator.inputs:
        if (said := example.values.get(shape.name)) is not None:
            if isinstance(shape, Choice) and shape.options_from:
                known = (value for value, _ in options(shape, data, raw) if value.startswith(said))
                if (said := next(known, None)) is None:
                    return None
            raw[shape.name] = said
    return raw


def shown(shape: Number | Choice | Tick, typed: str, data: Mapping[str, Any], raw: Mapping[str, str]) -> str:
    """What was typed into one input, as a person reads it: with its unit, or the option's words."""
    match shape:
        case Number():
            return f"{typed} {shown_unit(shape.unit)}".rstrip() if typed else "not given"
        case Choice():
            return dict(options(shape, data, raw)).get(typed, typed)
        case Tick():
            return typed


class _Problem(Exception):
    """Its text is the sentence for the reader."""


def _value(shape: Number | Choice | Tick, typed: str, data: Mapping[str, Any], values: dict[str, Any]) -> Any:
    match shape:
        case Number():
            return _number(shape, typed)
        case Choice():
            return _choice(shape, typed, data, values)
        case Tick():
            if typed.lower() in _YES + _NO:
                return typed.lower() in _YES
            raise _Problem("Tick it or leave it.")


def _number(shape: Number, typed: str) -> float | None:
    unit = shown_unit(shape.unit)
    if not typed and shape.optional:
        return None
    if not typed:
        raise _Problem(f"Type a number{_limits(shape)}.")
    try:
        figure, written = typed_figure(typed)
    except Unreadable as problem:
        no_number = f"“{_short(typed)}” is not a number. Type one such as {shape.default:g},{_limits(shape)}."
        raise _Problem(str(problem) or no_number) from None
    scale = _scale(written, shape.unit)
    if scale is None:
        raise _Problem(
            f"“{_short(written)}” is not the unit here. Type the number in {unit or 'figures only'}."
        )
    value = figure * scale
    if abs(value) < _NOTHING:
        value = 0.0
    if value < 0 <= shape.low:
        raise _Problem(f"This cannot be below zero. Type a number{_limits(shape)}.")
    if not (math.isfinite(value) and shape.low <= value <= shape.high):
        side = "low" if value < shape.low else "high"
        raise _Problem(f"That is too {side}. Type a number{_limits(shape)}.")
    return value


def _scale(typed: str, unit: str) -> float | None:
    """How many of `unit` one of the typed unit is; None when it is another kind of unit."""
    if not typed or typed == unit:
        return 1.0
    typed = typed.replace("\N{OHM SIGN}", "Ω")
    wanted = _reading(unit)
    found = _reading(typed)
    if wanted is None or found is None or wanted[1] != found[1]:
        return None
    return found[0] / wanted[0]


def _reading(typed: str) -> tuple[float, str] | None:
    """The prefix, as a factor, and the unit it stands before."""
    for prefix in ("", *(p for p in _PREFIXES if p and typed.startswith(p))):
        for unit, names in _UNITS.items():
            if typed[len(prefix) :].strip().lower() in names:
                return _PREFIXES[prefix], unit
    return None


def _choice(shape: Choice, typed: str, data: Mapping[str, Any], values: dict[str, Any]) -> str:
    known = [value for value, _ in options(shape, data, values)]
    if typed in known:
        return typed
    if not known:
        raise _Problem("Choose a street first.")
    if not shape.options_from or shape.options_from == "streets":
        raise _Problem(f"Choose one of these: {', '.join(known)}.")
    title = data["streets"][values["street"]].get("title", values["street"])
    what, owns = ("Home", "It has") if shape.options_from == "homes" else ("Fault", "It can have")
    near = difflib.get_close_matches(typed, known, 6, 0.3) if len(known) > 24 else known
    rest = " and others" if len(near or known[:6]) < len(known) else ""
    named = ", ".join(near or known[:6])
    if not typed:
        raise _Problem(f"Choose a {what.lower()}. {title} {owns[3:]} {named}{rest}.")
    raise _Problem(f"{what} {_short(typed)} is not on {title}. {owns} {named}{rest}.")


def _limits(shape: Number) -> str:
    return f" from {shape.low:g} to {shape.high:g} {shown_unit(shape.unit)}".rstrip()


def _short(typed: str) -> str:
    return typed if len(typed) <= 24 else f"{typed[:23]}…"
