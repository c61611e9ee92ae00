"""What a person notices at a home without an instrument, and what the records of a street say.

Each fact gives a word that the answers of a question can name. The limits of perception are project
choices: people differ, and the guide never leans on them for safety.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import reduce
from operator import or_
from typing import Any

from calc.danger import touch_volts
from calc.instruments import reading
from calc.limits import LIMITS
from calc.many import where
from calc.street import Network, Street
from calc.work import as_worked, done

__all__ = ["CALLERS", "FACTS", "ON_RECORD", "Fact", "beside", "fact", "home_volts", "neighbour_off"]

Fact = Callable[[Network, str], Any]

TINGLE_FROM_VOLTS = 25.0
"""Metalwork to true earth from which people report a tingle. Project choice: the special-locations limit."""

OFF_BELOW_VOLTS = 100.0
BRIGHT_ABOVE_VOLTS = LIMITS["volts-high"].value
DIM_BELOW_VOLTS = 207.0
"""People call lights dim below this. Project choice: 10 % under the declared volts."""

LIGHTS_DIP_BY = 0.03
"""A dip that everyone sees when an appliance starts, as a share of the volts. Common practice, no source."""


def fact(name: str, network: Network, home: str) -> Any:
    """The word for one fact at one home; for a batch of networks an array of words, or one word where they
    are alike. Raises KeyError for an unknown fact."""
    return FACTS[name](network, home)


def home_volts(network: Network, home: str) -> Any:
    """Volts between line and neutral, of the first line."""
    phase = network.street.premises[home].phases[0]
    return abs(network.solution.volts(f"{home}.{phase}", f"{home}.N"))


def _yes(answer: Any) -> Any:
    return where(answer, "yes", "no")


def _supply_on(network: Network, home: str) -> Any:
    return _yes(home_volts(network, home) >= OFF_BELOW_VOLTS)


def _lights(network: Network, home: str) -> Any:
    volts = home_volts(network, home)
    lit = where(volts > BRIGHT_ABOVE_VOLTS, "bright", where(volts < DIM_BELOW_VOLTS, "dim", "normal"))
    return where(volts < OFF_BELOW_VOLTS, "off", lit)


def _lights_dip(network: Network, home: str) -> Any:
    with_kettle = as_worked(network, done(frozenset(), "switch-on-known-load", home))
    before, after = home_volts(network, home), home_volts(with_kettle, home)
    lit = before >= OFF_BELOW_VOLTS  # a home that is off has no lights to dip
    return _yes(lit & (abs(after - before) > LIGHTS_DIP_BY * before))


def _tingle(network: Network, home: str) -> Any:
    return _yes(touch_volts(network, home) >= TINGLE_FROM_VOLTS)


def _indicator(instrument: str) -> Fact:
    def lit(network: Network, home: str) -> Any:
        return _yes(reading(network, home, instrument, ("earth",)) > 0)

    return lit


def _main_earth_looks_whole(network: Network, home: str) -> Any:
    return where(network.branches[f"{home}/main_earth"].is_open, "no", "yes")


def beside(street: Street, home: str) -> frozenset[str]:
    """The homes next to a home, and those that share its metalwork on record."""
    homes = list(street.premises)
    here = homes.index(home)
    return frozenset(
        {*homes[max(0, here - 1) : here + 2], *street.sharing_metalwork(home, recorded=True)} - {home}
    )


def _neighbour_off(network: Network, home: str) -> Any:
    return neighbour_off(network, dict.fromkeys(beside(network.street, home), True))


def neighbour_off(network: Network, near: Mapping[str, Any]) -> Any:
    """The word for `neighbour-off` with the homes that are near (in which networks of a batch)."""
    off = (is_near & (home_volts(network, other) < OFF_BELOW_VOLTS) for other, is_near in near.items())
    return _yes(reduce(or_, off, False))


def _pipe_passes_a_mains_joint(network: Network, home: str) -> str:
    """Whether whole metalwork that records show, at any home, bridges a span of the main that feeds this home
    or one that shares its metalwork."""
    street = network.street
    these = {home, *street.sharing_metalwork(home, recorded=True)}
    for span in street.mains:
        beyond = street.beyond(span.name)
        if these & set(beyond) and any(
            set(street.sharing_metalwork(other, recorded=True)) - set(beyond) for other in beyond
        ):
            return "yes"
    return "no"


FACTS: dict[str, Fact] = {
    "supply-on": _supply_on,
    "lights": _lights,
    "lights-dip": _lights_dip,
    "tingle": _tingle,
    "contact-indicator-lights": _indicator("contact"),
    "non-contact-indicator-lights": _indicator("non-contact"),
    "main-earth-looks-whole": _main_earth_looks_whole,
    "neighbour-off": _neighbour_off,
    "shares-metalwork": lambda network, home: _yes(
        bool(network.street.sharing_metalwork(home, recorded=True))
    ),
    "pipe-passes-a-mains-joint": _pipe_passes_a_mains_joint,
    "earthing": lambda network, home: network.street.premises[home].earthing,
    "phases": lambda network, home: str(len(network.street.premises[home].phases)),
}
"""Every fact, by name. `another-home-to-test` depends on the visit and is answered by the walk.

supply-on, tingle, lights-dip, neighbour-off, shares-metalwork, main-earth-looks-whole, the two indicator
facts and pipe-passes-a-mains-joint: yes or no. lights: bright, dim, normal or off. earthing: tn-c-s, tn-s
or tt. phases: 1, 2 or 3.
"""

ON_RECORD = frozenset({"shares-metalwork", "pipe-passes-a-mains-joint", "earthing", "phases"})
"""Facts that the street's records alone decide."""

CALLERS: dict[str, tuple[str, ...]] = {
    "tingle": ("felt", "none"),
    "lights": ("bright", "dim", "steady"),
    "neighbours": ("yes", "no"),
    "neighbour": ("on", "off"),
    "danger": ("yes", "no"),
    "noticed": ("tingle", "bright", "dim", "off", "steady"),
    "other": ("usual",),
}
"""What a caller can be asked, and the words for what is said.

`tingle`: felt here. `lights`: here, of late (off counts as steady). `neighbours`: whether a home beside this
one sees its lights change. `neighbour`: whether this home and those beside it are on now. `danger`: a
tingle was felt or the lights went bright. `noticed`: the first of them that is so, a tingle, the lights, a
supply that is off here or beside. `other`: what the model knows nothing of; `usual` is the answer when
nothing of the kind is so.
"""
