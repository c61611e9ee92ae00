"""Streets that several tests share, each the smallest that shows what it is for.

Invented homes. `SHIPPED` holds the streets of the demo guide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from build_tools.guide import loading
from calc.sampling import Sampling, Spread
from calc.street import Electrode, Metalwork, Premises, Service, Span, Street, Supply

CNE, SNE = Service(14, "service-25-cu-cne"), Service(16, "service-16-cu-sne")
SUPPLY = Supply(rating_kva=315, impedance_percent=4.5, star_point_earth_ohm=1)

SHIPPED = loading.load(Path(__file__).parents[1] / "guide_src").streets


def by_the_book(sampling: Sampling) -> Sampling:
    """The drawn streets of which the oldest facts of the trade speak: homes of one line with a service of
    their own, earthed from the PEN of a cable in the ground, an old pipe, no metal that records do not show,
    and joints that have gone bad by one ohm."""
    known = {
        "load-law": Spread("plain loads", choice={"ohms": 1}),
        "third-harmonic": Spread("none", uniform=(0, 0)),
        "generates": Spread("nobody", chance=0),
        "has-big-load": Spread("nobody", chance=0),
        "pipe-is-unrecorded": Spread("no metal is forgotten", chance=0),
        "joint-ohm": Spread("one ohm", uniform=(1, 1)),
    }
    layouts = tuple(layout for layout in sampling.plain.layouts if layout.pipes == "street")
    return replace(sampling, layouts=layouts, spreads={**sampling.spreads, **known})


def home(at: str = "J1", phase: str = "L1", kw: float = 1.4, **more: Any) -> Premises:
    """A single-phase home; anything else that `Premises` takes may be given."""
    return Premises(**{"at": at, "service": CNE, "phases": (phase,), "load_kw": (kw,)} | more)


def pair(
    phases: tuple[str, str] = ("L1", "L2"),
    kw: tuple[float, float] = (1.4, 2.0),
    pipe_earth_ohm: float | None = None,
    pipe: str = "copper-22",
    **supply: Any,
) -> Street:
    """Homes 12 and 14 on one joint of the main, with a pipe between them. Ours is 12, next door is 14."""
    return Street(
        title="Two homes and a pipe",
        supply=Supply(**{"rating_kva": 315, "impedance_percent": 4.5, "star_point_earth_ohm": 1} | supply),
        mains=(Span(("substation", "J1"), 90, "mains-185-al-cne"),),
        premises={"12": home(phase=phases[0], kw=kw[0]), "14": home(phase=phases[1], kw=kw[1])},
        metalwork=(Metalwork("water", pipe, ("12", "14"), 11, earth_ohm_each=pipe_earth_ohm),),
    )


def terrace(homes: int = 6, kw: Sequence[float] = (1.4, 0.6, 2.2), pipe: str | None = "copper-22") -> Street:
    """A row of TN-C-S homes, three on each joint, phases and loads in turn, all on one water pipe."""
    names = [str(2 * number + 2) for number in range(homes)]
    joints = ["substation", *(f"J{number + 1}" for number in range((homes + 2) // 3))]
    premises = {
        name: home(joints[1 + place // 3], f"L{place % 3 + 1}", kw[place % len(kw)])
        for place, name in enumerate(names)
    }
    return Street(
        title="A terrace",
        supply=SUPPLY,
        mains=tuple(Span((near, far), 40, "mains-185-al-cne") for near, far in pairwise(joints)),
        premises=premises,
        metalwork=(Metalwork("water", pipe, tuple(names), 7),) if pipe else (),
        electrodes=(Electrode(joints[-1], 15),),
    )


def mixed() -> Street:
    """TN-S, TN-C-S and TT homes, one of them three-phase, and a gas and a water pipe with plastic in it."""
    return Street(
        title="A mixed street",
        supply=SUPPLY,
        mains=(
            Span(("substation", "J1"), 120, "mains-185-cu-sne"),
            Span(("J1", "J2"), 60, "mains-95-cu-sne"),
            Span(("J2", "J3"), 50, "mains-95-al-cne"),
        ),
        premises={
            "1": home("J1", "L1", 2.0, service=SNE, earthing="tn-s"),
            "3": home("J1", "L2", 0.8, service=SNE, earthing="tn-s", power_factor=0.9),
            "5": home("J2", "L3", 1.2, earthing="tt", electrode_ohm=60),
            "7": home("J2", phases=("L1", "L2", "L3"), load_kw=(3.0, 1.0, 0.4)),
            "9": home("J3", "L2", 2.4, power_factor=0.95),
            "11": home("J3", "L1", 0.3, electrode_ohm=25),
        },
        metalwork=(
            Metalwork("water", "lead", ("1", "3", "5", "7", "9"), 9, gaps=(("3", "5"),), earth_ohm_each=40),
            Metalwork("gas", "steel-1-inch", ("7", "9", "11"), 12),
        ),
        electrodes=(Electrode("J3", 12),),
    )


def overhead() -> Street:
    """A rural line with a small transformer, long spans and nothing between the homes but the wires."""
    return Street(
        title="An overhead line",
        supply=Supply(rating_kva=50, impedance_percent=4.5, star_point_earth_ohm=8, fuse_a=160),
        mains=(
            Span(("substation", "P1"), 140, "overhead-abc-95"),
            Span(("P1", "P2"), 180, "overhead-open-35-cu"),
        ),
        premises={
            "Farm": home("P1", phases=("L1", "L2", "L3"), load_kw=(4.0, 2.0, 0.0), power_factor=0.85),
            "Mill": home("P2", "L3", 1.8, service=Service(25, "service-abc-35")),
            "Cot": home("P2", "L2", 0.5, earthing="tt", electrode_ohm=120),
        },
        electrodes=(Electrode("P2", 30),),
    )
