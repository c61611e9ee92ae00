"""What a person notices at a home without an instrument, and what the records of a street say.

Each fact gives a word that the answers of a question can name. The limits of perception are project
choices: people differ, and the guide never leans on them for safety.
"""

from __future__ import annotations

from collections.abc import Callable

from calc.circuit import OPEN
from calc.danger import touch_volts
from calc.instruments import read
from calc.limits import LIMITS
from calc.street import Network
from calc.work import as_worked, done

__all__ = ["CALLERS", "FACTS", "Fact", "fact"]

Fact = Callable[[Network, str], str]

TINGLE_FROM_VOLTS = 25.0
"""Metalwork to true earth from which people report a tingle. Project choice: the special-locations limit."""

OFF_BELOW_VOLTS = 100.0
BRIGHT_ABOVE_VOLTS = LIMITS["volts-high"].value
DIM_BELOW_VOLTS = 207.0
"""People call lights dim below this. Project choice: 10 % under the declared volts."""

LIGHTS_DIP_BY = 0.03
"""A dip that everyone sees when an appliance starts, as a share of the volts. Common practice, no source."""


def fact(name: str, network: Network, home: str) -> str:
    """The word for one fact at one home. Raises KeyError for an unknown fact."""
    return FACTS[name](network, home)


def _volts(network: Network, home: str) -> float:
    phase = network.street.premises[home].phases[0]
    return float(abs(network.solution.volts(f"{home}.{phase}", f"{home}.N")))


def _yes(answer: bool) -> str:
    return "yes" if answer else "no"


def _supply_on(network: Network, home: str) -> str:
    return _yes(_volts(network, home) >= OFF_BELOW_VOLTS)


def _lights(network: Network, home: str) -> str:
    volts = _volts(network, home)
    if volts < OFF_BELOW_VOLTS:
        return "off"
    if volts < DIM_BELOW_VOLTS:
        return "dim"
    return "bright" if volts > BRIGHT_ABOVE_VOLTS else "normal"


def _lights_dip(network: Network, home: str) -> str:
    with_kettle = as_worked(network, done(frozenset(), "switch-on-known-load", home))
    before, after = _volts(network, home), _volts(with_kettle, home)
    return _yes(abs(after - before) > LIGHTS_DIP_BY * before)


def _tingle(network: Network, home: str) -> str:
    return _yes(touch_volts(network, home) >= TINGLE_FROM_VOLTS)


def _indicator(instrument: str) -> Fact:
    def lit(network: Network, home: str) -> str:
        return _yes(read(network, home, instrument, ("earth",)).text == "lit")

    return lit


def _main_earth_looks_whole(network: Network, home: str) -> str:
    return _yes(network.branches[f"{home}/main_earth"].impedance != OPEN)


def _neighbour_off(network: Network, home: str) -> str:
    homes = list(network.street.premises)
    here = homes.index(home)
    beside = {*homes[max(0, here - 1) : here + 2], *network.street.sharing_metalwork(home)} - {home}
    return _yes(any(_volts(network, other) < OFF_BELOW_VOLTS for other in beside))


def _pipe_passes_a_mains_joint(network: Network, home: str) -> str:
    """Whether whole metalwork, at any home, bridges a span of the main that feeds this home or one that
    shares its metalwork."""
    street = network.street
    these = {home, *street.sharing_metalwork(home)}
    for span in street.mains:
        beyond = street.beyond(span.name)
        if these & set(beyond) and any(
            set(street.sharing_metalwork(other)) - set(beyond) for other in beyond
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
    "shares-metalwork": lambda network, home: _yes(bool(network.street.sharing_metalwork(home))),
    "pipe-passes-a-mains-joint": _pipe_passes_a_mains_joint,
    "earthing": lambda network, home: network.street.premises[home].earthing,
    "phases": lambda network, home: str(len(network.street.premises[home].phases)),
}
"""Every fact, by name. `another-home-to-test` depends on the visit and is answered by the walk.

supply-on, tingle, lights-dip, neighbour-off, shares-metalwork, main-earth-looks-whole, the two indicator
facts and pipe-passes-a-mains-joint: yes or no. lights: bright, dim, normal or off. earthing: tn-c-s, tn-s
or tt. phases: 1, 2 or 3.
"""

CALLERS: dict[str, tuple[str, ...]] = {
    "tingle": ("felt", "none"),
    "lights": ("bright", "dim", "steady"),
    "neighbours": ("yes", "no"),
    "neighbour": ("on", "off"),
    "danger": ("yes", "no"),
    "other": ("usual",),
}
"""What a caller can be asked, and the words for what is said.

`tingle`: felt here. `lights`: here, of late (off counts as steady). `neighbours`: whether a home beside this
one sees its lights change. `neighbour`: whether this home and those beside it are on now. `danger`: a
tingle was felt or the lights went bright. `other`: what the model knows nothing of; `usual` is the answer
when nothing of the kind is so.
"""
