"""Appliances fail or drop out where their volts are beyond what they must bear."""

from __future__ import annotations

import pytest
import streets

from calc.appliances import APPLIANCES, suffering
from calc.faults import parse
from calc.street import network


@pytest.mark.parametrize("name", streets.SHIPPED)
def test_nothing_suffers_on_a_healthy_street(name: str) -> None:
    for home in suffering(network(streets.SHIPPED[name])).values():
        assert not any(word for kind in home.values() for word in kind.values())


def test_an_open_neutral_burns_the_lightly_loaded_home_and_starves_the_other() -> None:
    """A light load in series with a heavy one takes the volts: ITI curve, 120 % and 70 % of nominal."""
    street = streets.terrace(3, kw=(7.0, 0.3, 0.3), pipe=None)
    now = suffering(parse("mains-pen-open@substation-J1").applied_to(network(street)))
    assert now["2"]["electronics"] == {"drops": True, "fails": False}
    assert now["4"]["electronics"] == {"drops": False, "fails": True}
    assert now["4"]["lamps"]["fails"]
    assert now["2"]["contactors"]["drops"]
    assert set(now["2"]) == set(APPLIANCES)


@pytest.mark.parametrize(
    ("share", "drops", "fails"), [(0.69, True, False), (0.71, False, False), (1.21, False, True)]
)
def test_edges(share: float, drops: bool, fails: bool) -> None:
    street = streets.pair(volts=230 * share, kw=(0.0, 0.0))
    assert suffering(network(street))["12"]["electronics"] == {"drops": drops, "fails": fails}


def test_a_home_that_is_off_drops_out() -> None:
    dead = parse("line-open@12.L1").applied_to(network(streets.pair()))
    assert suffering(dead)["12"]["motors"] == {"drops": True, "fails": False}
