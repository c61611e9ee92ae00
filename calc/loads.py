"""The law that a street's loads follow, and the figures that lie between the laws.

What a home's appliances do as their volts change is never known. It lies between loads that keep their ohms
and loads that keep their watts, so a figure that leans on loads is a band.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import reduce
from typing import Any

from calc.many import where
from calc.settling import LAWS, law_of
from calc.street import Network

__all__ = ["band", "settled", "tripped"]


def settled(network: Network, law: Any) -> Network:
    """The network with every load at what it takes at its own volts by this law of calc.settling.LAWS.

    The loads settle anew after whatever is done to the network, from their rating, so that nothing is
    settled twice. Raises ValueError for an unknown law; the solution raises CircuitError for loads that do
    not settle.
    """
    return replace(network, law=law_of(law))


def tripped(network: Network) -> dict[str, Any]:
    """The generation that is there and has disconnected itself, as `12/generation.L1`: in which networks of a
    batch."""
    return dict(network.settled.tripped)


def band(network: Network, figure: Callable[[Network], Any]) -> tuple[Any, Any]:
    """The lowest and the highest that a figure of the network comes to under any law of loads."""
    figures = [figure(settled(network, law)) for law in LAWS]
    return (
        reduce(lambda one, other: where(one < other, one, other), figures),
        reduce(lambda one, other: where(one > other, one, other), figures),
    )
