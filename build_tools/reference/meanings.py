"""What the names mean that authors write: what is done, what is asked, what callers tell.

What each of them does is said where it is reckoned with, in `calc`; here it is put into words, and every
figure in them is the model's own.
"""

from __future__ import annotations

from calc.instruments import LIGHTS_FROM
from calc.symptoms import (
    BRIGHT_ABOVE_VOLTS,
    DIM_BELOW_VOLTS,
    LIGHTS_DIP_BY,
    OFF_BELOW_VOLTS,
    TINGLE_FROM_VOLTS,
)
from calc.work import KNOWN_LOAD_KW, QUIET_KW

__all__ = ["ACTIONS", "CALLERS", "FACTS", "HAZARDS"]

_YES_NO = ("yes", "no")

ACTIONS: dict[str, str] = {
    "lift-main-earth": "Takes the main earthing conductor off: the home's earthed metal hangs on "
    "what else joins it.",
    "restore-main-earth": "Puts the main earthing conductor back.",
    "open-main-switch": "Switches the home off: loads and their filters, generation and the known load.",
    "close-main-switch": "Switches the home on again.",
    "switch-on-known-load": f"Puts a portable load of {KNOWN_LOAD_KW:g} kW on the home's first line.",
    "switch-off-known-load": "Takes the portable load off.",
    "quieten-home": f"Has heaters, ovens and showers left off: no line takes more than {QUIET_KW:g} kW.",
    "end-quiet": "Lets heaters, ovens and showers go on again.",
    "withdraw-cut-out-fuse": "Opens every line of the home at the cut-out.",
    "replace-cut-out-fuse": "Closes every line of the home at the cut-out.",
    "go-next-door": "Goes on at another home that shares metalwork and was not gone to yet. Where there is "
    "none the step cannot be done.",
    "come-back": "Goes on at the home where the walk began.",
}
"""What a step does by its `does`."""

FACTS: dict[str, tuple[str, tuple[str, ...]]] = {
    "supply-on": (f"Whether the home's first line has {OFF_BELOW_VOLTS:g} V or more.", _YES_NO),
    "lights": (
        f"How the lights are: off below {OFF_BELOW_VOLTS:g} V, dim below {DIM_BELOW_VOLTS:g} V, bright above "
        f"{BRIGHT_ABOVE_VOLTS:g} V, else normal.",
        ("bright", "dim", "normal", "off"),
    ),
    "lights-dip": (
        f"Whether the volts fall or rise by more than {LIGHTS_DIP_BY:.0%} when {KNOWN_LOAD_KW:g} kW goes on.",
        _YES_NO,
    ),
    "tingle": (
        f"Whether the home's metalwork, or the case of an appliance that has lost its earth, stands "
        f"{TINGLE_FROM_VOLTS:g} V or more from true earth.",
        _YES_NO,
    ),
    "contact-indicator-lights": (
        "Whether a contact indicator lights at the main earthing terminal: from "
        f"{LIGHTS_FROM['contact']:g} V.",
        _YES_NO,
    ),
    "non-contact-indicator-lights": (
        f"Whether a non-contact indicator lights there: from {LIGHTS_FROM['non-contact']:g} V.",
        _YES_NO,
    ),
    "main-earth-looks-whole": ("Whether the main earthing conductor is joined at both ends.", _YES_NO),
    "neighbour-off": (
        f"Whether a home on either side, or one that shares metalwork, has less than {OFF_BELOW_VOLTS:g} V.",
        _YES_NO,
    ),
    "shares-metalwork": ("Whether whole metalwork joins this home to another.", _YES_NO),
    "pipe-passes-a-mains-joint": (
        "Whether whole metalwork bridges a span of the main that feeds this home, or one that shares its "
        "metalwork.",
        _YES_NO,
    ),
    "earthing": ("How the home is earthed, as its records say.", ("tn-c-s", "tn-s", "tt")),
    "phases": ("How many lines the home has.", ("1", "2", "3")),
    "another-home-to-test": (
        "Whether a home that shares metalwork was not gone to yet, in this visit.",
        _YES_NO,
    ),
}
"""Fact -> what it is, and the words that an answer's `is` may have."""

CALLERS: dict[str, str] = {
    "tingle": "Whether somebody felt a tingle here.",
    "lights": "How the lights are here, of late. Lights that are off count as steady.",
    "neighbours": "Whether a home beside this one sees its lights change.",
    "neighbour": "Whether this home and those beside it are on now.",
    "danger": "Whether a tingle was felt or the lights went bright.",
    "noticed": "What is so first: a tingle, lights bright or dim, a supply that is off here or beside.",
    "other": "What the model knows nothing of: `usual` when nothing of the kind is so.",
}
"""What a simulated caller is asked."""

HAZARDS: dict[str, str] = {
    "opens-earth-path": "A main earth, a bond or another way to earth is opened.",
    "opens-neutral": "A neutral or a PEN is opened.",
    "touches-metalwork": "Metalwork that may be live is touched.",
    "loads-the-neutral": "A load goes on that comes home through the neutral.",
    "re-energises": "Something that was dead is made live.",
    "opens-cover": "A cover comes off live parts.",
    "works-live": "Somebody works near live parts, or holds probes to them.",
}
"""When a step has a tag. What its sign says stands in `guide/wording.py`."""
