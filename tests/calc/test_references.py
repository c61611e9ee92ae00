"""Every figure that someone outside the project gives: one file a case, in references/ (see its README)."""

from __future__ import annotations

import cmath
import importlib
import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
import yaml

FOLDER = Path(__file__).parents[1] / "references"
FIELDS = {"what", "source", "seen", "call", "rows", "gives", "within"}


def phasor(value: Any) -> Any:
    """A value from a case file: {size, angle} and text such as 3-4j become complex, the rest stays."""
    if isinstance(value, Mapping):
        if set(value) == {"size", "angle"}:
            return cmath.rect(value["size"], math.radians(value["angle"]))
        return {key: phasor(part) for key, part in value.items()}
    if isinstance(value, list):
        return [phasor(part) for part in value]
    is_complex = isinstance(value, str) and re.fullmatch(r"[-+0-9.]+j", value)
    return complex(value) if is_complex else value


def load(path: Path) -> list[Any]:
    """The rows of one file, as pytest parameters of (case, arguments, expected)."""
    case = yaml.safe_load(path.read_text("utf-8"))
    assert case.keys() <= FIELDS, f"{path.name}: unknown field {sorted(case.keys() - FIELDS)}"
    assert case["seen"] in ("seen", "memory", "derived"), f"{path.name}: seen is {case['seen']!r}"
    assert case["what"] and case["source"] and len(case["call"]) == 1, path.name
    [(name, arguments)] = case["call"].items()
    rows = case.get("rows") or [{"gives": case["gives"]}]
    params = []
    for row in rows:
        extra = {key: value for key, value in row.items() if key != "gives"}
        label = ",".join(f"{key}={value}" for key, value in extra.items())
        values = (case, name, phasor({**arguments, **extra}), phasor(row["gives"]))
        params.append(pytest.param(*values, id=f"{path.stem}[{label}]" if label else path.stem))
    return params


def ask(name: str, arguments: dict[str, Any]) -> Any:
    """What calc answers: call a function, or look `key` up in a catalogue."""
    module, _, attribute = name.rpartition(".")
    target = getattr(importlib.import_module(f"calc.{module}"), attribute)
    return target[arguments["key"]] if isinstance(target, Mapping) else target(**arguments)


def differences(got: Any, expected: Any, within: float | str, where: str = "result") -> list[str]:
    """Every place where `got` is not `expected` within the tolerance, in words."""
    if isinstance(expected, Mapping):
        parts = [(getattr(got, field), value, f"{where}.{field}") for field, value in expected.items()]
        return [line for part in parts for line in differences(part[0], part[1], within, part[2])]
    if isinstance(expected, list):
        if len(got) != len(expected):
            return [f"{where}: {len(got)} values, expected {len(expected)}"]
        parts = [(g, e, f"{where}[{i}]") for i, (g, e) in enumerate(zip(got, expected, strict=True))]
        return [line for part in parts for line in differences(part[0], part[1], within, part[2])]
    if isinstance(expected, str):
        return [] if got == expected else [f"{where}: got {got!r}, expected {expected!r}"]
    if isinstance(got, complex) and not isinstance(expected, complex):
        got = abs(got)
    if isinstance(within, str):
        within = float(within.removesuffix("%")) / 100 * abs(expected)
    # Rounding in the last bits is no difference, and infinity is only ever itself.
    if got == expected or abs(got - expected) <= within + 1e-12 * abs(expected):
        return []
    return [f"{where}: got {got!r}, expected {expected!r} within {within:g}"]


CASES = [param for path in sorted(FOLDER.glob("*.yaml")) for param in load(path)]


@pytest.mark.parametrize(("case", "name", "arguments", "expected"), CASES)
def test_agrees_with_the_source(
    case: dict[str, Any], name: str, arguments: dict[str, Any], expected: Any
) -> None:
    wrong = differences(ask(name, arguments), expected, case["within"])
    assert not wrong, "\n".join(
        [case["what"], f"source: {case['source']} ({case['seen']})", f"call: {name} {arguments}", *wrong]
    )


def off(expected: Any, within: float | str) -> Any:
    """An expectation that is wrong by three tolerances, in every number."""
    if isinstance(expected, Mapping):
        return {key: off(value, within) for key, value in expected.items()}
    if isinstance(expected, list):
        return [off(value, within) for value in expected]
    if isinstance(expected, str):
        return expected + "?"
    if math.isinf(abs(expected)):
        return 1.0
    step = float(within.removesuffix("%")) / 100 * abs(expected) if isinstance(within, str) else within
    return expected + 3 * (step or 1)


@pytest.mark.parametrize(("case", "name", "arguments", "expected"), CASES)
def test_would_notice_another_answer(
    case: dict[str, Any], name: str, arguments: dict[str, Any], expected: Any
) -> None:
    assert differences(ask(name, arguments), off(expected, case["within"]), case["within"])


def test_the_folder_is_found() -> None:
    files = list(FOLDER.glob("*.yaml"))
    assert len(files) >= 45
    assert {param.values[0]["seen"] for param in CASES} == {"seen", "memory", "derived"}


def test_enough_comes_from_outside() -> None:
    """At least 60 figures that were read or recalled, not derived here, from at least 12 sources."""
    outside = [param.values[0] for param in CASES if param.values[0]["seen"] != "derived"]
    assert len(outside) >= 60
    assert len({case["source"] for case in outside}) >= 12
