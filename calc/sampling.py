"""A distribution of streets as an author states it: shapes of street, and how each parameter is spread."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar, Literal, cast, get_args

from calc.street import PHASES, Phase

__all__ = ["SPREADS", "Layout", "Sampling", "Spread", "UnnamedHome"]

_STRICT: dict[str, Any] = {"extra": "forbid", "use_attribute_docstrings": True}

SPREADS: dict[str, str] = {
    "supply-volts": "number, volts to neutral with no load",
    "transformer-kva": "choice of ratings",
    "transformer-percent": "number, impedance voltage",
    "star-point-ohm": "number",
    "main-metres": "number, for each span of a main in the ground",
    "main-cable": "choice of cables that have a PEN, in the ground",
    "main-cable-separate": "choice of cables that have a sheath or earth core",
    "overhead-metres": "number, for each span of an overhead line",
    "overhead-cable": "choice of overhead lines that have a PEN",
    "riser-metres": "number, for each floor of a rising main",
    "service-metres": "number, for each home",
    "loop-metres": "number, for each home fed from the cut-out of another",
    "service-cable": "choice of cables that have a PEN",
    "service-cable-separate": "choice of cables that have a sheath or earth core",
    "home-electrode-ohm": "number, for each TT home",
    "load-kw": "number, for each line of a home",
    "has-big-load": "chance, for each line of a home: a charger or a heat pump runs beside the rest",
    "big-load-kw": "number, what it takes",
    "power-factor": "number, for each home",
    "load-law": "choice of what the loads of a street keep: ohms, amperes or watts",
    "third-harmonic": "number, for each home: of its load's current, a share",
    "generates": "chance, for each home",
    "generation-kw": "number, for each line of a home that generates",
    "main-earth-metres": "number, for each home",
    "pipe": "choice of pipes",
    "pipe-metres": "number, between neighbours",
    "pipe-joint-ohm": "number, all joints between two neighbours",
    "pipe-is-whole": "chance, for each two neighbours on one joint of the main",
    "pipe-passes-the-joint": "chance, for neighbours on two joints of the main",
    "pipe-is-in-soil": "chance, for the street",
    "pipe-earth-ohm": "number, for each home",
    "iron-main-ohm": "number, an iron main's length at each home to true earth",
    "pipe-is-unrecorded": "chance, for each two neighbours whom metal joins",
    "electrode-ohm": "number, for each joint of the main",
    "joint-ohm": "number, what a joint that goes bad adds",
    "load-changes": "chance, for each home, between the first tests and the known-load test",
    "known-load-kw": "number, the load that the crew brings",
    "clamp-error": "number, a share of the reading",
    "clamp-stray-a": "number, what the jaw picks up from conductors beside it",
    "voltmeter-error": "number, a share of the reading",
    "loop-error": "number, a share of the reading",
    "loop-offset-ohm": "number",
    "caller-body-ohm": "number, a caller from hand to feet, skin and shoes included",
    "caller-feels-ma": "number, the current that a caller feels",
    "caller-sees-volts": "number, the change from the usual volts that a caller calls bright or dim",
    "caller-sees-dip": "number, the dip when an appliance starts that a caller sees, a share of the volts",
    "caller-errs": "chance, for each question asked of a caller: any other answer, as likely as the next",
    "caller-errs-again": "chance that a caller hears a matter as the last time, when asked in other words",
}
"""Every parameter that a sampling must state, and what it is."""


@dataclass(frozen=True, slots=True)
class Spread:
    """How one parameter is spread: by one of `uniform`, `log_uniform`, `choice` and `chance`.

    Raises ValueError unless exactly one is given and can be drawn from.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    source: str
    """Where the spread is from, in a few words."""
    uniform: tuple[float, float] | None = None
    """The lower and the upper end, between which every figure is as likely as the next."""
    log_uniform: tuple[float, float] | None = None
    """The lower and the upper end, between which every factor is as likely as the next."""
    choice: dict[str, float] | None = None
    """Name -> its weight among the others."""
    chance: float | None = None
    """How likely it is to be so, 0 to 1."""
    doubt: tuple[float, float] | None = None
    """Beside a chance: two others that could as well be true, the lower first; what is measured is told for
    both."""

    def __post_init__(self) -> None:
        given = [n for n in ("uniform", "log_uniform", "choice", "chance") if getattr(self, n) is not None]
        if len(given) != 1:
            raise ValueError(f"give one of uniform, log_uniform, choice or chance, got {len(given)} of them")
        for ends in filter(None, (self.uniform, self.log_uniform)):
            if self.log_uniform and not ends[0] > 0:
                raise ValueError(f"log_uniform needs ends above 0, got {list(ends)}")
            if not ends[0] <= ends[1]:
                raise ValueError(f"{given[0]} needs two ends, the lower first, got {list(ends)}")
        if self.choice is not None and not (
            self.choice and all(weight > 0 for weight in self.choice.values())
        ):
            raise ValueError(f"choice needs weights above 0, got {self.choice}")
        if self.chance is not None and not 0 <= self.chance <= 1:
            raise ValueError(f"chance must be from 0 to 1, got {self.chance:g}")
        if self.doubt is not None and self.chance is None:
            raise ValueError(
                "doubt stands beside a chance; the ends of any other spread are tried by themselves"
            )
        if self.doubt is not None and not 0 <= self.doubt[0] <= self.doubt[1] <= 1:
            raise ValueError(f"doubt needs two chances from 0 to 1, the lower first, got {list(self.doubt)}")

    def at(self, share: float) -> Any:
        """The value below which `share` (0 to 1) of all draws lie; for a chance, whether it is so."""
        if self.uniform is not None:
            low, high = self.uniform
            return low + share * (high - low)
        if self.log_uniform is not None:
            low, high = self.log_uniform
            return low * (high / low) ** share
        if self.chance is not None:
            return share < self.chance
        assert self.choice is not None
        total = sum(self.choice.values())
        for name, weight in self.choice.items():
            share -= weight / total
            if share < 0:
                return name
        return name


Earthing = Literal["tn-c-s", "tn-s", "tt"]


@dataclass(frozen=True, slots=True)
class UnnamedHome:
    """One home of a layout: its lines, how it is earthed, and whether it is fed from the cut-out of the home
    named before it."""

    phases: tuple[Phase, ...]
    earthing: Earthing
    looped: bool

    @classmethod
    def parse(cls, text: str) -> UnnamedHome:
        """A home as written: `L1`, `L1+L2+L3`, `L2 tn-s`, `L3 tt`, `L1 looped`. Raises ValueError.

        >>> UnnamedHome.parse("L1+L2 tn-s looped")
        UnnamedHome(phases=('L1', 'L2'), earthing='tn-s', looped=True)
        """
        lines, *words = text.split()
        phases = tuple(lines.split("+"))
        earthings = [word for word in words if word != "looped"]
        if (
            not set(phases) <= PHASES.keys()
            or len(set(phases)) != len(phases)
            or len(set(words)) != len(words)
            or len(earthings) > 1
            or not set(earthings) <= set(get_args(Earthing))
        ):
            raise ValueError(
                "write a home as its lines joined by +, tn-s or tt unless its earth is the PEN, and looped"
                f" if the home before it feeds it, as in `L1`, `L1+L2+L3`, `L2 tn-s`; not {text!r}"
            )
        earthing = cast(Earthing, (*earthings, "tn-c-s")[0])
        return cls(cast(tuple[Phase, ...], phases), earthing, "looped" in words)


@dataclass(frozen=True, slots=True)
class Layout:
    """One shape of street."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    id: str
    """Its name."""
    homes: tuple[tuple[str, ...], ...]
    """The homes at each joint of the main: a list of joints, each a list of homes. A home is written as its
    lines (`L1`, `L1+L2+L3`), with `tn-s` or `tt` unless it is earthed from the PEN, and `looped` where the
    home before it feeds it."""
    weight: float = 1.0
    """How often it is drawn, beside the weights of the others."""
    main: Literal["pen", "separate", "overhead", "riser"] = "pen"
    """Its main: a cable in the ground with a PEN or with a separate earth, an overhead line, or a rising main
    in a building, a joint on each floor."""
    pipes: Literal["street", "iron", "riser", "plastic"] = "street"
    """Its pipe: a pipe with gaps here and there, an iron main that all homes share, a riser that passes every
    floor, or plastic."""

    def __post_init__(self) -> None:
        if not self.weight > 0:
            raise ValueError(f"weight must be above 0, got {self.weight:g}")
        if not self.homes or not all(self.homes):
            raise ValueError("homes must name at least one home at each joint")
        for at_joint in self.premises:
            if at_joint[0].looped:
                raise ValueError("homes: the first home of a joint has none before it that could feed it")
            if self.main != "separate" and any(home.earthing == "tn-s" for home in at_joint):
                raise ValueError("homes: a tn-s home needs a main with a separate earth (main: separate)")

    @property
    def premises(self) -> tuple[tuple[UnnamedHome, ...], ...]:
        """The homes at each joint."""
        return tuple(tuple(map(UnnamedHome.parse, at_joint)) for at_joint in self.homes)


@dataclass(frozen=True, slots=True)
class Sampling:
    """The distribution of streets: shapes, spreads and the seed."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    seed: int
    """The number that all draws begin with: the same seed draws the same streets."""
    streets: int
    """How many streets are drawn for each kind of fault."""
    layouts: tuple[Layout, ...]
    """The shapes of street that are drawn."""
    spreads: dict[str, Spread]
    """Each parameter -> how it is spread."""

    def __post_init__(self) -> None:
        if missing := sorted(SPREADS.keys() - self.spreads.keys()):
            raise ValueError(f"spreads must also state {', '.join(missing)}")
        if unknown := sorted(self.spreads.keys() - SPREADS.keys()):
            raise ValueError(f"spreads: nothing is called {', '.join(unknown)}")
        if not self.streets > 0:
            raise ValueError(f"streets must be above 0, got {self.streets}")
        if not self.layouts:
            raise ValueError("layouts must name at least one")

    @property
    def plain(self) -> Sampling:
        """The same with only the layouts of homes that have one line, a service of their own and an earth
        from the PEN of a cable in the ground; with all, where there are none."""
        plain = tuple(
            layout
            for layout in self.layouts
            if layout.main == "pen"
            and all(
                (len(home.phases), home.earthing, home.looped) == (1, "tn-c-s", False)
                for at_joint in layout.premises
                for home in at_joint
            )
        )
        return replace(self, layouts=plain or self.layouts)
