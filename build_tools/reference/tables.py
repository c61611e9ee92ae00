"""The names that a file may hold, from the tables that the model and the pages go by."""

from __future__ import annotations

import math
from collections.abc import Iterator

from build_tools.checks.hazards import CARRIES
from build_tools.guide import wording
from build_tools.guide.source import read
from build_tools.guide.validation import conform
from build_tools.reference import example, meanings
from build_tools.reference.entries import Entry, ReferencePart
from calc.cable_names import cable_name, pipe_name
from calc.conductor import CABLES, PIPES, Cable, pipe_ohm_per_m
from calc.faults import KINDS, Kind
from calc.instruments import (
    CLAMPED,
    INSTRUMENTS,
    LIGHTS_FROM,
    LOOP_LOAD_OHM,
    LOOP_NEEDS_VOLTS,
    TOUCHED,
    TWO_POLE_STEPS,
    Instrument,
)
from calc.street import Street
from calc.symptoms import CALLERS

__all__ = ["tables"]


def tables() -> Iterator[ReferencePart]:
    """Every table of names, each with what it is written for."""
    yield ReferencePart("instruments", "Instruments", tuple(map(_instrument, INSTRUMENTS.values())),
               "What `instrument` of a reading may be.")  # fmt: skip
    yield ReferencePart("conductors", "Conductors, for a clamp", tuple(map(_place, CLAMPED)),
               "What `on` may name for a clamp: any few of these, together in one jaw.")  # fmt: skip
    yield ReferencePart("points", "Points, for the other instruments", tuple(map(_place, TOUCHED)),
               "What `on` may name for an instrument that is held to one point or between two.")  # fmt: skip
    yield ReferencePart("actions", "Actions", tuple(map(_action, meanings.ACTIONS)),
               "What `does` of a step may name, and what the walks then do to the street.")  # fmt: skip
    yield ReferencePart("hazards", "Hazards", tuple(map(_hazard, wording.HAZARDS)),
               "What `hazards` of a step may name.")  # fmt: skip
    yield ReferencePart("facts", "Facts", tuple(map(_fact, meanings.FACTS)),
               "What `fact` of a question may be, and what `is` of its answers may say.")  # fmt: skip
    yield ReferencePart("callers", "What callers are asked", tuple(map(_caller, CALLERS)),
               "What `caller` of a question in a call tree may be.")  # fmt: skip
    street = _street()
    yield ReferencePart("faults", "Faults", tuple(_fault(kind, street) for kind in KINDS.values()),
               "What `holds` of an outcome may name, and what every walk is walked with. "
               f"Where each can be is told on {street.title}, a street of four homes.")  # fmt: skip
    yield ReferencePart("cables", "Cables", tuple(map(_cable, CABLES.values())),
               "What `cable` of a street may be. Each figure is of one conductor.")  # fmt: skip
    yield ReferencePart("pipes", "Pipes", tuple(map(_pipe, PIPES)), "What `pipe` of a street may be.")


def _instrument(one: Instrument) -> Entry:
    held = "one point" if one.id in LIGHTS_FROM else "two points"
    shows = f"0 to {one.high:g} {_unit(one)}, by steps of {one.resolution:g}"
    if one.id == "two-pole":
        shows = f"the last lamp that lights, of {', '.join(f'{step}' for step in TWO_POLE_STEPS)} V"
    elif one.id in LIGHTS_FROM:
        shows = f"{one.high:g} where it lights, from {LIGHTS_FROM[one.id]:g} V to true earth; else 0"
    facts = [
        ("unit", f"`{one.unit}`"),
        ("shows", shows),
        ("threshold", f"below {one.threshold:g} {_unit(one)} it shows 0" if one.threshold else ""),
        ("over range", "" if one.id in (*LIGHTS_FROM, "two-pole") else f"above {one.high:g} {_unit(one)}"),
        ("held", "round one or more conductors" if one.id == "clamp" else f"to {held}"),
        ("its own resistance", "" if math.isinf(one.ohm) else f"{one.ohm / 1000:g} kΩ"),
        (
            "test load",
            f"{LOOP_LOAD_OHM:g} Ω; no test below {LOOP_NEEDS_VOLTS:g} V" if one.id == "loop" else "",
        ),
    ]
    return Entry(one.id, f"{one.title}.", tuple((key, said) for key, said in facts if said))


def _unit(one: Instrument) -> str:
    return wording.unit_sign(one.unit)


def _place(name: str) -> Entry:
    said = wording.place(name)
    return Entry(name, f"{said[:1].upper()}{said[1:]}.")


def _action(name: str) -> Entry:
    carried = ", ".join(f"`{hazard}`" for hazard in CARRIES.get(name, ()))
    return Entry(name, meanings.ACTIONS[name], (("its hazards", carried),) if carried else ())


def _hazard(name: str) -> Entry:
    of = ", ".join(f"`{action}`" for action, carried in CARRIES.items() if name in carried)
    facts = (("sign", wording.hazard(name)), *((("comes with", of),) if of else ()))
    return Entry(name, meanings.HAZARDS[name], facts)


def _fact(name: str) -> Entry:
    meaning, said = meanings.FACTS[name]
    return Entry(name, meaning, (("answers", ", ".join(f"`{word}`" for word in said)),))


def _caller(name: str) -> Entry:
    said = ", ".join(f"`{word}`" for word in CALLERS[name])
    return Entry(name, meanings.CALLERS[name], (("answers", said),))


def _street() -> Street:
    street, findings = conform(Street, read(example.file_kinds()["street"][0]))
    assert isinstance(street, Street), findings
    return street


def _fault(kind: Kind, street: Street) -> Entry:
    places = [place for place in kind.places(street) if place]
    facts = [
        ("dangerous", "yes: an outcome that holds it is for today at the latest" if kind.endangers else "no"),
        ("beyond the meter", "yes: a job may be closed beside it" if kind.beyond_meter else ""),
        ("where", ", ".join(f"`{kind.id}@{place}`" for place in places[:2])),
        ("adds", "" if kind.ohm is None else _added(kind)),
    ]
    return Entry(kind.id, f"{kind.title}.", tuple((key, said) for key, said in facts if said))


def _added(kind: Kind) -> str:
    if kind.id == "high-volts":
        return f"{kind.ohm:.0%} to the volts"
    return f"{kind.ohm:g} Ω, unless another figure stands behind it, as in `=0.5`"


def _cable(cable: Cable) -> Entry:
    parts = {
        "line": cable.line_ohm_per_km,
        "neutral": cable.neutral_ohm_per_km,
        "earth": cable.earth_ohm_per_km,
    }
    facts = [(name, f"{ohm.real:g} + j{ohm.imag:g} Ω/km") for name, ohm in parts.items() if ohm is not None]
    said = cable_name(cable.name)
    return Entry(cable.name, f"{said[:1].upper()}{said[1:]}.", (*facts, ("source", cable.source)))


def _pipe(name: str) -> Entry:
    said = pipe_name(name)
    facts = (("resistance", f"{1000 * pipe_ohm_per_m(name):.2g} Ω/km"), ("source", PIPES[name].source))
    return Entry(name, f"{said[:1].upper()}{said[1:]}.", facts)
