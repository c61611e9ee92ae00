"""How the pages, and authors, say what the files hold as ids: hazards, instruments, actions, ranges."""

from __future__ import annotations

import math
import re

__all__ = [
    "ANSWERS",
    "AUDIENCES",
    "CALL_KEYS",
    "DEEDS",
    "DESK_KEYS",
    "HAZARDS",
    "INSTALLED",
    "KINDS",
    "PLACES",
    "SKIP",
    "SOURCES",
    "TESTERS",
    "conductors",
    "figure",
    "hazard",
    "joined",
    "pad_units",
    "place",
    "range_words",
    "unit_sign",
    "units_kept",
]

AUDIENCES = {
    "call": ("On the telephone", "for call handlers"),
    "site": ("At the premises", "for operatives on site"),
}
"""Audience -> (where it is used, for whom)."""

DANGER_FOUND = {
    "call": "Somebody is in danger now",
    "site": "I have found something dangerous",
}
"""Audience -> what the way out of every question is called."""

CONTENTS = "Contents"
"""What the theme's switch shows where a narrow page folds its links away."""

DESK_KEYS = {
    "A\u2013Z": "what the caller says",
    "Enter": "opens the first",
    "\u2193 \u2191": "go through what was found",
    "Esc": "empties the box",
    "!": "somebody is in danger",
}
"""Key -> what it does where a call begins."""

CALL_KEYS = {
    "1\u20139": "answer",
    "Enter": "accepts what stands ready",
    "Esc": "goes back",
    "!": "somebody is in danger",
    "c": "copies the record at the end",
    "/": "next call",
}
"""Key -> what it does in a call."""

FOUND = {
    "danger": "Danger: do this at once.",
    "call": "On the telephone.",
    "site": "At the premises.",
    "calculator": "Calculator.",
    "term": "Glossary.",
    "page": "Page.",
}
"""Kind of what was found -> what it is called."""

INSTALLED = "What to do, step by step, and calculators. It works without a network."
"""What a device tells of the guide when it installs it."""

SKIP = "Skip to the content"
"""The first link of every page, for keys."""

KINDS = {"question": "Question", "reading": "Reading", "step": "Step", "outcome": "Outcome"}

HAZARDS = {
    "opens-earth-path": "Opens an earth path",
    "opens-neutral": "Opens a neutral",
    "touches-metalwork": "Metalwork may be live",
    "loads-the-neutral": "Loads the neutral: loose metal can become live",
    "re-energises": "Makes live again",
    "opens-cover": "Opens a cover: live parts inside",
    "works-live": "Work near live parts",
}
"""Hazard tag -> the words beside its sign."""

SOURCES = {
    "published": "Published",
    "common-practice": "Common practice, no source",
    "from-memory": "From memory",
    "project-choice": "This project's own choice",
}
"""Kind of source -> how the pages say it."""

PLACES: dict[str, tuple[str, ...]] = {
    "main_earth": ("main earthing conductor", "main earth", "earthing conductor"),
    "neutral_tail": ("neutral tail", "neutral meter tail"),
    "line_tail": ("line tail", "line meter tail"),
    "service": ("service cable, all its conductors", "service cable", "service"),
    "bond": ("main bonding conductor", "bonding conductor", "bond"),
    "known_load": ("lead of the known load", "known load's lead"),
    "line": ("line", "first line"),
    "line2": ("second line",),
    "line3": ("third line",),
    "neutral": ("neutral",),
    "earth": ("main earthing terminal", "main earth terminal", "earth terminal", "loose earth", "earth"),
    "supply_earth": (
        "supply's earth, where the main earthing conductor was lifted from",
        "supply's earth",
        "lifted end of the main earthing conductor",
        "end of the conductor that was lifted",
        "lifted conductor",
    ),
    "independent_earth": (
        "independent earth, a probe away from all metalwork",
        "independent earth",
        "to the probe",
    ),
    "pipe": ("shared pipe", "pipe"),
}
"""Conductor or test point -> how the pages call it, then what else an author may call it."""

TESTERS: dict[str, tuple[str, ...]] = {
    "clamp": ("clamp", "jaw"),
    "voltmeter": ("voltmeter", "volts"),
    "two-pole": ("two-pole",),
    "contact": ("contact indicator", "single-pole"),
    "non-contact": ("non-contact",),
    "loop": ("loop",),
}
"""Instrument -> the words of a reading that tell it. `Measure` with none of them is with the voltmeter."""

DEEDS: dict[str, tuple[str, ...]] = {
    "lift-main-earth": ("lift", "disconnect", "take ... conductor/earth ... off"),
    "restore-main-earth": ("connect", "reconnect", "restore", "join", "put ... back"),
    "open-main-switch": (
        "switch/turn ... home/house/supply ... off",
        "switch/turn off ... home/house/supply",
        "open ... main switch",
    ),
    "close-main-switch": (
        "switch/turn ... home/house/supply ... on",
        "switch/turn on ... home/house/supply",
        "close ... main switch",
    ),
    "switch-on-known-load": ("switch/turn ... load/heater ... on", "switch/turn on ... load/heater"),
    "switch-off-known-load": ("switch/turn ... load/heater ... off", "switch/turn off ... load/heater"),
    "quieten-home": ("leave ... off", "keep/switch/turn ... heaters/ovens/showers ... off", "generates off"),
    "end-quiet": ("test is over", "tests are over", "may ... again", "may go on again"),
    "withdraw-cut-out-fuse": ("withdraw/pull/remove ... fuse", "take ... fuse ... out"),
    "replace-cut-out-fuse": ("replace ... fuse", "put ... fuse ... back/in", "put back ... fuse"),
    "go-next-door": ("go ... next door", "come in next door", "go to ... home/house"),
    "come-back": ("go/come back", "return"),
}
"""Action -> the words of a step that tell it. `/` stands between words of which one is enough, `...` where
others may come between, of the same sentence and without a further `on`, `off` or `back`."""

ANSWERS: dict[str, dict[str, tuple[str, ...]]] = {
    "contact-indicator-lights": {"yes": ("lights", "lit"), "no": ("dark", "not light")},
    "non-contact-indicator-lights": {"yes": ("lights", "lit"), "no": ("dark", "not light")},
    "main-earth-looks-whole": {"yes": ("whole",), "no": ("broken", "not whole")},
    "supply-on": {"yes": ("on",), "no": ("off",)},
    "lights": {
        "bright": ("bright", "brighter"),
        "dim": ("dim", "dip", "flicker"),
        "normal": ("normal", "usual", "always"),
        "steady": ("steady",),
        "off": ("off", "out"),
    },
    "tingle": {"felt": ("yes", "felt", "volts", "tingle"), "none": ("no", "nobody", "none of these")},
    "danger": {"yes": ("yes", "spark", "crackle", "felt", "bright"), "no": ("no", "none", "something else")},
    "noticed": {
        "tingle": ("tingle", "buzz", "felt"),
        "bright": ("bright",),
        "dim": ("dim", "dip", "flicker"),
        "off": ("off", "no power"),
        "steady": ("steady", "none", "nothing", "something else"),
    },
    "neighbour": {"on": ("on",), "off": ("off",)},
    "earthing": {"tn-c-s": ("TN-C-S", "PEN"), "tn-s": ("TN-S", "sheath"), "tt": ("TT", "electrode")},
    "phases": {"1": ("one", "1"), "2": ("two", "2"), "3": ("three", "3")},
}
"""What a question goes by -> a word of it, and what an answer may say that stands for no other word of it."""


def hazard(tag: str) -> str:
    """A hazard tag in words."""
    return HAZARDS.get(tag, tag.replace("-", " "))


def place(name: str) -> str:
    """A conductor or test point in words, with its article."""
    said = PLACES[name][0] if name in PLACES else name.replace("_", " ").replace(".", " to ")
    return f"the {said}"


def conductors(instrument: str, names: tuple[str, ...]) -> str:
    """Where the instrument goes: `round the neutral tail and the main earth, together in one jaw`."""
    said = [place(name) for name in names]
    if instrument == "clamp":
        return f"round {joined(said)}" + (", together in one jaw" if len(said) > 1 else "")
    return f"between {joined(said)}" if len(said) > 1 else f"on {said[0]}"


def joined(parts: list[str], last: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    return f" {last} ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def figure(value: float) -> str:
    """A number as an author would write it: no exponent, no trailing zeros."""
    return f"{value:.12f}".rstrip("0").rstrip(".")


def unit_sign(unit: str) -> str:
    """The unit as it is printed."""
    return unit.replace("ohm", "\N{GREEK CAPITAL LETTER OMEGA}")


def pad_units(unit: str) -> tuple[str, ...]:
    """The units that a display for such a reading may show, for the keys of a number pad."""
    return {"A": ("mA", "A"), "mA": ("mA", "A"), "ohm": ("ohm", "kohm"), "kohm": ("ohm", "kohm")}.get(
        unit, ()
    )


def range_words(low: float, high: float, unit: str, change: bool = False) -> str:
    """A range in words, its lower end counted and its upper end not: `0.5 A or more`; of a change, that it is
    one."""
    if change:
        return f"moved by {range_words(low, high, unit).replace('below', 'less than')}"
    sign = unit_sign(unit)
    if math.isinf(high):
        return f"{figure(low)} {sign} or more" if low > 0 else f"any figure in {sign}"
    return f"{figure(low)} to below {figure(high)} {sign}" if low > 0 else f"below {figure(high)} {sign}"


def units_kept(words: str) -> str:
    """Words in which a figure and its unit stay on one line; as `browser/calculator/answer.js` does it.

    >>> units_kept("2.1 A of 10 kW.")
    '2.1\xa0A of 10\xa0kW.'
    """
    return re.sub(r"(\d) (?=[^\s\d]{1,3}(?:[\s.,;:)]|$))", "\\1\u00a0", words)
