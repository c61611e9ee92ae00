"""Main bonds, the pipe they tie in, and what stands across a cut in that pipe."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from calc.cable_names import cable_name, pipe_name
from calc.calculator import Answer, Calculator, Choice, Example, Number, Output, Row, Table, Tick
from calc.calculators.joint_going_bad import EARTH_MOVES_FROM_VOLTS
from calc.circuit import EARTH, OPEN, Branch, solve
from calc.conductor import CABLES, PIPES, copper_ohm_per_m, pipe_ohm_per_m
from calc.drawing import ink
from calc.drawing.ink import ACCENT, DANGER, INK, QUIET, SMALL, element, line, text
from calc.figures import figure
from calc.limits import LIMITS, main_bond_mm2
from calc.results import results
from calc.street import FLOOR_OHM, load_ohm

__all__ = [
    "CALCULATOR",
    "Cut",
    "across_cut",
    "bond_ohm",
    "copper_equivalent_mm2",
    "cut_branches",
    "not_pme_bond_mm2",
    "pipe_run_ohm",
    "pipe_share",
]

_COPPER, _ALUMINIUM = 0.017241, 0.028264
"""Resistivity at 20 C, ohm.mm2/m. Published: IEC 60028 and 60889, read on a public page."""

NEGLIGIBLE_OHM = 0.05
"""What a bond is taken to measure at most; a guide to inspection quoted in public forums, and no limit."""

_SIZES = ("6", "10", "16", "25", "35", "50")
_TOUCH = LIMITS["touch-volts"]


def copper_equivalent_mm2(metal: Literal["copper", "aluminium"], size_mm2: float) -> float:
    """The size in mm2 of the copper conductor with the same resistance.

    >>> copper_equivalent_mm2("copper", 25), round(copper_equivalent_mm2("aluminium", 185), 1)
    (25, 112.8)
    """
    return size_mm2 if metal == "copper" else size_mm2 * _COPPER / _ALUMINIUM


def not_pme_bond_mm2(earthing_conductor_mm2: float) -> float:
    """Smallest copper main bond where the supply is not PME, mm2: half the earthing conductor, at least 6,
    and no more than 25 needed; rounded up to a standard size.

    Source: BS 7671 regulation 544.1.1 (three public pages agree).

    >>> [not_pme_bond_mm2(size) for size in (6, 16, 25, 35, 70)]
    [6.0, 10.0, 16.0, 25.0, 25.0]
    """
    half = min(
        max(earthing_conductor_mm2 / 2, LIMITS["main-bond-least"].value), LIMITS["main-bond-most"].value
    )
    return next(size for size in map(float, _SIZES) if size >= half)


def bond_ohm(size_mm2: float, metres: float) -> float:
    """Resistance of a copper bond, ohm at 20 C.

    >>> round(bond_ohm(10, 27), 3)
    0.049
    """
    return copper_ohm_per_m(size_mm2) * metres


def pipe_run_ohm(pipe: str, metres: float, joints: float, joint_ohm: float) -> float:
    """Resistance of a pipe run with its joints, ohm. Raises ValueError for a pipe that is not in PIPES.

    >>> round(pipe_run_ohm("copper-22", 10, 4, 0.001), 4)
    0.0074
    """
    return pipe_ohm_per_m(pipe) * metres + joints * joint_ohm


def pipe_share(pen_ohm: complex, pipe_ohm: float) -> float:
    """The share (0 to 1) of a current that takes the pipe, where PEN and pipe run side by side.

    >>> round(pipe_share(50 * 0.164e-3, 0.064), 3)
    0.114
    """
    return abs(pen_ohm / (pen_ohm + pipe_ohm))


@dataclass(frozen=True, slots=True)
class Cut:
    """V across the cut, A along the pipe, and V of the home's metalwork to true earth."""

    volts: float
    pipe_a: float
    metalwork_volts: float


def cut_branches(
    cut_ohm: complex,
    pen_ohm: complex,
    near_ohm: float,
    far_ohm: float,
    load_kw: float,
    volts: float,
    star_point_ohm: float,
) -> list[Branch]:
    """One home, its PEN, and its pipe to a neighbour whose PEN is whole, cut in the middle.

    `cut_ohm` is 0 for the whole pipe, OPEN for the cut, else the temporary bond. `near_ohm` and `far_ohm` are
    the bond and the pipe on each side. The neighbour takes nothing, and soil round the pipe is left out.
    """
    return [
        Branch("source", "star", "line", 0.02, volts),
        Branch("load", "line", "home", load_ohm(load_kw)),
        Branch("PEN", "home", "star", pen_ohm),
        Branch("near", "home", "cut.near", near_ohm),
        Branch("cut", "cut.near", "cut.far", cut_ohm),
        Branch("far", "cut.far", "neighbour", far_ohm),
        Branch("PEN of the neighbour", "neighbour", "star", 0.02),
        Branch("building", "home", EARTH, FLOOR_OHM),
        Branch("star point", "star", EARTH, star_point_ohm),
    ]


def across_cut(branches: Sequence[Branch]) -> Cut:
    """What cut_branches makes: volts across the cut, the pipe's current, the home's metalwork."""
    solution = solve(branches)
    return Cut(
        float(abs(solution.volts("cut.near", "cut.far"))),
        float(abs(solution.current("near"))),
        float(abs(solution.potential("home"))),
    )


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    equivalent = copper_equivalent_mm2(values["pen_metal"], values["pen_mm2"])
    least = main_bond_mm2(equivalent) if values["pme"] else not_pme_bond_mm2(values["earthing_mm2"])
    bond = bond_ohm(float(values["bond_mm2"]), values["bond_m"])
    pipe = pipe_run_ohm(values["pipe"], values["pipe_m"], values["joints"], values["joint_mohm"] / 1000)
    path = pipe + 2 * bond
    pen = CABLES[values["pen_cable"]].neutral_ohm_per_km * values["pen_m"] / 1000
    share = pipe_share(pen, path)
    temporary = bond_ohm(float(values["temporary_mm2"]), values["temporary_m"])
    cases = _cases(values, pen, path, temporary)
    figures = {
        "equivalent": equivalent if values["pme"] else None,
        "least": least,
        "bond": bond,
        "pipe": pipe,
        "path": path,
        "share": 100 * share,
        "pipe_a": share * values["pen_a"],
        "whole_cut": cases["The PEN is whole", "cut"].volts,
        "open_cut": cases["The PEN is open", "cut"].volts,
        "open_bonded": cases["The PEN is open", "bonded"].volts,
    }
    return Answer(
        tuple(_summary(values, figures, cases)),
        (results(_OUTPUTS, figures), _cut_table(cases)),
        _drawing(cases),
        tuple(_warnings(values, figures)),
    )


def _cases(
    values: Mapping[str, Any], pen: complex, path: float, temporary: float
) -> dict[tuple[str, str], Cut]:
    """The PEN whole and open, with the pipe whole, cut, and cut with the temporary bond across."""
    return {
        (state, pipe): across_cut(
            cut_branches(
                cut_ohm,
                pen_ohm,
                path / 2,
                path / 2,
                values["load_kw"],
                values["volts"],
                values["star_point_ohm"],
            )
        )
        for state, pen_ohm in (("The PEN is whole", pen), ("The PEN is open", OPEN))
        for pipe, cut_ohm in (("whole", 0j), ("cut", OPEN), ("bonded", complex(temporary)))
    }


def _summary(
    values: Mapping[str, Any], figures: Mapping[str, float | None], cases: Mapping[tuple[str, str], Cut]
) -> Iterator[str]:
    least, fitted = figures["least"] or 0.0, float(values["bond_mm2"])
    why = (
        f"for a PEN worth {figure(figures['equivalent'] or 0, 0, 'mm²')} of copper (PME)"
        if values["pme"]
        else f"beside an earthing conductor of {figure(values['earthing_mm2'], 0, 'mm²')} (not PME)"
    )
    enough = "large enough" if fitted >= least else "too small: have it replaced"
    yield (
        f"The smallest main bond {why} is {figure(least, 0, 'mm²')} of copper; the one fitted, "
        f"{figure(fitted, 0, 'mm²')}, is {enough}."
    )
    yield (
        f"Bonds, pipe and joints together are {figure(1000 * (figures['path'] or 0), 1, 'mΩ')}. Beside a "
        f"sound PEN they take {figure(figures['share'] or 0, 1)} % of the current: "
        f"{figure(figures['pipe_a'] or 0, 1, 'A')} of {figure(values['pen_a'], 1, 'A')}. Current in a "
        "pipe is found in healthy streets too."
    )
    cut, bonded = cases["The PEN is open", "cut"], cases["The PEN is open", "bonded"]
    carried = [cases[f"The PEN is {state}", "whole"].pipe_a for state in ("open", "whole")]
    if values["load_kw"] == 0:
        yield (
            "With nothing switched on little stands across a cut, whatever the PEN is like: until somebody "
            "switches something on."
        )
        return
    before = cases["The PEN is open", "whole"].metalwork_volts
    showed = (
        "nothing showed it"
        if before < EARTH_MOVES_FROM_VOLTS
        else f"metalwork stood at {figure(before, 0, 'V')} to true earth by then"
    )
    yield (
        f"Cut the pipe where the PEN is already open, and {figure(cut.volts, 0, 'V')} stands across the cut: "
        f"the pipe was the home's neutral, and {showed}. With a temporary bond across, fitted before "
        f"the cut and left until the pipe is whole again, it is {figure(bonded.volts, 2, 'V')}."
    )
    if carried[0] > 0.5:
        yield (
            f"Clamp the pipe first: here it would carry {figure(carried[0], 1, 'A')} with the PEN open and "
            f"{figure(carried[1], 1, 'A')} with it whole. Stop, and tell the distributor, when a pipe "
            "carries current that nobody can explain."
        )


def _cut_table(cases: Mapping[tuple[str, str], Cut]) -> Table:
    words = {"whole": "pipe whole", "cut": "pipe cut", "bonded": "cut, temporary bond across"}
    rows = (
        Row(
            f"{state}: {words[pipe]}",
            (
                figure(cut.volts, 2, "V"),
                figure(cut.pipe_a, 2, "A"),
                figure(cut.metalwork_volts, 1, "V"),
            ),
        )
        for (state, pipe), cut in cases.items()
    )
    return Table(
        "At the cut", ("What", "Across the cut", "Along the pipe", "Metalwork to true earth"), tuple(rows)
    )


def _warnings(values: Mapping[str, Any], figures: Mapping[str, float | None]) -> Iterator[str]:
    if (figures["open_cut"] or 0) > _TOUCH.value:
        yield (
            f"{figure(figures['open_cut'] or 0, 0, 'V')} across the ends of a cut pipe can kill whoever "
            "holds both. A temporary continuity bond comes before the cut."
        )
    if float(values["bond_mm2"]) < (figures["least"] or 0):
        yield "The main bond is smaller than the table asks for."


# The drawing: three pipes, each with the volts between its ends.

_WIDTH = 360.0


def _drawing(cases: Mapping[tuple[str, str], Cut]) -> str:
    drawn, said, top = [], [], 12.0
    for state in ("The PEN is whole", "The PEN is open"):
        top += 16
        drawn.append(text(10, top, state, 14, weight=700))
        for pipe, words in (("whole", "Pipe whole"), ("cut", "Pipe cut"), ("bonded", "Bond across the cut")):
            cut = cases[state, pipe]
            drawn += _pipe(top + 8, pipe, words, cut)
            said.append(f"{state}, {words.lower()}: {figure(cut.volts, 1, 'V')} across")
            top += 76
        top += 10
    about = "; ".join(said) + "."
    return ink.sheet("bonding", _WIDTH, top, "What stands across the cut pipe", about, *drawn)


def _pipe(top: float, pipe: str, words: str, cut: Cut) -> Iterator[str]:
    """One pipe seen from the side, home on the left, neighbour on the right."""
    axis = top + 42
    harmful = cut.volts > _TOUCH.value
    colour = DANGER if harmful else INK
    yield text(10, top + 16, f"{words}: {figure(cut.pipe_a, 1, 'A')} along it", fill=QUIET)
    for left, right in ((10.0, 176.0), (184.0, 350.0)) if pipe != "whole" else ((10.0, 350.0),):
        yield element(
            "rect",
            x=left,
            y=axis - 6,
            width=right - left,
            height=12,
            fill="none",
            stroke=INK,
            stroke_width=1.6,
        )
    if cut.pipe_a > 0.05:
        for x in (80, 270):
            yield ink.arrow(x, axis, (1, 0), 5, ACCENT)
    if pipe == "bonded":
        yield line(
            (140, axis - 6), (140, axis - 14), (220, axis - 14), (220, axis - 6), stroke=ACCENT, width=3
        )
    shown = f"{figure(cut.volts, 1, 'V')} across" + (", can kill" if harmful else "")
    yield text(10, axis + 20, "home", fill=QUIET)
    yield text(350, axis + 20, "neighbour", fill=QUIET, anchor="end")
    yield text(
        180,
        axis + 21,
        shown,
        15 if harmful else SMALL,
        anchor="middle",
        fill=colour,
        weight=700 if harmful else 400,
    )


_OUTPUTS = (
    Output("equivalent", "The PEN as copper", "mm²", 0),
    Output("least", "Smallest copper main bond", "mm²", 0),
    Output(
        "bond", "Resistance of one bond", "ohm", 3, "", "", "0.05 Ω is called negligible; it is no limit."
    ),
    Output("pipe", "Resistance of the pipe and its joints", "ohm", 4),
    Output("path", "Pipe with a bond at each end", "ohm", 4),
    Output("share", "Share of the PEN's current that takes the pipe", "%", 1),
    Output("pipe_a", "Current in the pipe", "A", 1),
    Output("whole_cut", "Across the cut, PEN whole, no temporary bond", "V", 2, "touch-volts"),
    Output("open_cut", "Across the cut, PEN open, no temporary bond", "V", 1, "touch-volts", "at-most"),
    Output("open_bonded", "Across the cut, PEN open, temporary bond", "V", 2, "touch-volts"),
)

_PENS = tuple((name, cable_name(name)) for name, cable in CABLES.items() if cable.kind == "cne")
_SIZE_OPTIONS = tuple((size, f"{size} mm²") for size in _SIZES)

CALCULATOR = Calculator(
    id="bonding",
    title="Bonding",
    about="The smallest main bond, the resistance of bonds and pipe, the current a pipe takes from the PEN, "
    "and what a cut without a temporary bond would put between the ends.",
    inputs=(
        Tick("pme", "PME supply (TN-C-S)", True),
        Choice("pen_metal", "Metal of the PEN", (("copper", "Copper"), ("aluminium", "Aluminium")), "copper"),
        Number(
            "pen_mm2", "Size of the PEN", "mm²", 4, 400, 25, 1, "Asked of the distributor, never guessed."
        ),
        Number("earthing_mm2", "Earthing conductor, where not PME", "mm²", 2.5, 400, 16, 0.5),
        Choice("bond_mm2", "Main bond fitted, copper", _SIZE_OPTIONS, "10"),
        Number("bond_m", "Length of the bond", "m", 0.1, 200, 8, 0.1),
        Choice("pipe", "Pipe", tuple((name, pipe_name(name)) for name in PIPES), "copper-22"),
        Number("pipe_m", "Length of pipe from one home to the next", "m", 0.5, 500, 12, 0.5),
        Number("joints", "Joints in it", "", 0, 100, 4, 1),
        Number("joint_mohm", "Resistance of one joint", "mΩ", 0, 100000, 0.2, 0.1),
        Choice("pen_cable", "PEN beside the pipe", _PENS, "service-25-al-cne"),
        Number("pen_m", "Length of PEN beside the pipe", "m", 1, 1000, 28, 1),
        Number("pen_a", "Current to share", "A", 0, 400, 10, 0.5),
        Number("load_kw", "Load of the home", "kW", 0, 50, 2.4, 0.1),
        Choice("temporary_mm2", "Temporary bond, copper", _SIZE_OPTIONS, "16"),
        Number("temporary_m", "Length of the temporary bond", "m", 0.1, 50, 3, 0.1),
        Number("volts", "Supply, line to neutral", "V", 100, 300, 230, 0.1),
        Number("star_point_ohm", "Electrode of the substation", "ohm", 0.1, 100, 1, 0.1),
    ),
    outputs=_OUTPUTS,
    run=run,
    examples=(
        Example("A large aluminium main", {"pen_metal": "aluminium", "pen_mm2": "185"}),
        Example("Not PME", {"pme": "no", "earthing_mm2": "25"}),
        Example("A poor joint in the pipe", {"joint_mohm": "500"}),
        Example("Shower on in the home past the break", {"load_kw": "9"}),
    ),
    sources=(
        "Size for PME: BS 7671 Table 54.8, by the PEN's copper equivalent (three public pages agree); "
        "aluminium counts as 0.61 of its size, by resistivity.",
        "Size where not PME: half the earthing conductor, at least 6 mm², no more than 25 mm² needed: "
        "regulation 544.1.1 (the same pages). The distributor may ask for more.",
        "Resistances: IEC 60228 and EN 1057 with the resistivities of calc.conductor, at 20 °C.",
        "The cut: nodal analysis with calc.circuit, checked against ngspice.",
        f"0.05 Ω: a guide to inspection, quoted in public forums. {_TOUCH.what.capitalize()}: "
        f"{figure(_TOUCH.value, 0, _TOUCH.unit)}. {_TOUCH.source}.",
    ),
    cautions=(
        "Nobody cuts a pipe or takes off a bond because a figure here is small.",
        "A temporary continuity bond, the gas or water undertaking's procedure, and the local safety rules "
        "come first.",
        "The neighbour's PEN is taken as whole and the soil round the pipe is left out. With more faults, or "
        "homes on other phases, more can stand across the cut: up to the volts between phases.",
    ),
)
