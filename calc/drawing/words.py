"""The figures of a street's drawing as sentences, for those who do not see it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from calc.circuit import OPEN
from calc.drawing.seen import Flow, Seen, SeenHome, amps, circuits, see
from calc.figures import figure
from calc.street import Network

__all__ = ["in_words", "named", "street_text"]

_PARTS = {
    "service.PEN": "Service PEN",
    "service.N": "Service neutral",
    "service.E": "Service sheath",
    "main_earth": "Main earthing conductor",
    "tail.N": "Neutral tail",
}


def street_text(network: Network, healthy: Network | None = None) -> tuple[str, ...]:
    """What street_svg draws of the same networks, as sentences: faults first, then homes, main and pipes."""
    return in_words(see(network, healthy))


def in_words(seen: Seen) -> tuple[str, ...]:
    """The sentences of street_text."""
    flows = seen.flows
    return (
        *_faults(flows),
        *(f"In a home: {said}." for home in seen.homes for _, said in circuits(seen.network, home)),
        *(_home(home, flows) for home in seen.homes.values()),
        *_mains(seen.network, flows),
        *_pipes(seen.network, flows),
        *_electrodes(seen.network, flows),
    )


def _faults(flows: Mapping[str, Flow]) -> Iterator[str]:
    for flow in flows.values():
        match flow.state:
            case "open":
                yield f"Open: {named(flow.name)}."
            case "high":
                yield f"Bad joint: {figure(flow.added_ohm, 2, 'ohm')} in {named(flow.name)}."
            case "moved":
                yield f"On the wrong terminal: {named(flow.name)}."


def named(conductor: str) -> str:
    """A conductor of the circuit in the trade's words.

    >>> named("12/service.PEN"), named("J1-J2/PEN"), named("2-4/water"), named("12/bond.water")
    ('service PEN of 12', 'PEN of the main, J1-J2', 'water pipe from 2 to 4', 'water bond of 12')
    """
    place, part = conductor.split("/")
    kind, _, which = part.partition(".")
    if part in _PARTS:
        return f"{_PARTS[part][0].lower()}{_PARTS[part][1:]} of {place}"
    match kind:
        case "bond":
            return f"{which} bond of {place}"
        case "service" | "tail":
            return f"{which} {kind} of {place}"
        case "L1" | "L2" | "L3" if place == "substation":
            return f"{kind} fuse of the substation"
        case "PEN" | "N" | "E" | "L1" | "L2" | "L3":
            return f"{kind} of the main, {place}"
        case "load" | "filter" | "insulation":
            return f"{kind} of {place}"
    one, _, other = place.partition("-")
    return f"{kind} pipe from {one} to {other}" if other else f"{kind} of {place}"


def _home(home: SeenHome, flows: Mapping[str, Flow]) -> str:
    volts = " and ".join(
        f"{figure(v, 1, 'V')} on {phase}" for v, phase in zip(home.volts, home.phases, strict=True)
    )
    parts = [f"Home {home.name}: {volts}, metalwork {figure(home.metalwork_volts, 1, 'V')} to true earth"]
    parts += [
        f"{words} {amps(flows[key].amps)}"
        for part, words in _CARRIED
        if (key := f"{home.name}/{part}") in flows
    ]
    dangers = "".join(f" {danger}." for danger in home.dangers)
    return f"{'; '.join(parts)}.{dangers}"


_CARRIED = (
    ("tail.N", "neutral tail"),
    ("service.PEN", "service PEN"),
    ("service.N", "service neutral"),
    ("service.E", "service sheath"),
    ("main_earth", "main earthing conductor"),
)


def _mains(network: Network, flows: Mapping[str, Flow]) -> Iterator[str]:
    for span in network.street.mains:
        carried = [
            f"{'sheath' if part == 'E' else 'neutral' if part == 'N' else part} {amps(flows[key].amps)}"
            for part in ("PEN", "N", "E")
            if (key := f"{span.name}/{part}") in flows
        ]
        yield f"Main {span.name}: {', '.join(carried)}."


def _pipes(network: Network, flows: Mapping[str, Flow]) -> Iterator[str]:
    for metalwork in network.street.metalwork:
        for one, other in metalwork.pairs:
            flow = flows[f"{one}-{other}/{metalwork.name}"]
            if network.branches[flow.name].impedance == OPEN:
                yield f"Pipe {metalwork.name}: a gap between {one} and {other}."
            elif flow.runs:
                start, end = (one, other) if flow.forward else (other, one)
                whose = f"most of it the current of {flow.whose}"
                yield f"Pipe {metalwork.name}: {amps(flow.amps)} from {start} to {end}, {whose}."
            else:
                yield f"Pipe {metalwork.name}: {amps(flow.amps)} between {one} and {other}."


def _electrodes(network: Network, flows: Mapping[str, Flow]) -> Iterator[str]:
    for name, flow in flows.items():
        place, part = name.split("/")
        if part == "electrode" or part.startswith("soil."):
            ohm = figure(abs(network.branches[name].impedance), 0, "ohm")
            what = "Star-point electrode" if place == "substation" else "Electrode"
            what = f"{what} at {place}" if part == "electrode" else f"Pipe in the soil at {place}"
            yield f"{what}: {ohm}, {amps(flow.amps)} through the ground."
