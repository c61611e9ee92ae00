"""A street of the guide, a fault and a home: each test's reading beside the healthy one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from calc.calculator import Answer, Calculator, Choice, Row, Table
from calc.compared import beside_healthy, hurts, lifting, ordinary
from calc.danger import Harm, new_harms, standing_harms
from calc.drawing import street_svg
from calc.faults import Fault, parse
from calc.figures import figure
from calc.instruments import Display
from calc.readings import readings
from calc.street import Network, Street, network
from calc.work import Condition, as_worked

__all__ = ["CALCULATOR"]


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    street = Street.from_data(data["streets"][values["street"]])
    fault, home = parse(values["fault"]), values["home"]
    healthy = network(street)
    faulty = fault.applied_to(healthy)
    lifted = as_worked(faulty, frozenset({Condition("main-earth-lifted", home)}))
    now = readings(faulty, home)
    harms, added = standing_harms(faulty), new_harms(faulty, lifted)
    tables = (beside_healthy(f"Tests at {home}", readings(healthy, home), now), *_harm_table(harms, added))
    return Answer(
        tuple(_summary(faulty, fault, home, now, harms)),
        tables,
        street_svg(faulty, healthy, home=home, name="one-street"),
        tuple(_warnings(street, fault, home)),
    )


def _summary(
    faulty: Network,
    fault: Fault,
    home: str,
    now: Mapping[str, Display],
    harms: tuple[Harm, ...],
) -> Iterator[str]:
    yield f"{fault.title}, tested at {home}."
    yield ordinary(home, faulty.street.premises[home].earthing, now)
    yield f"As it stands: {hurts(harms) or 'nothing hurts anyone today, which is no proof of safety'}."
    yield from lifting(faulty, home, f"{home}'s", now)


def _harm_table(harms: tuple[Harm, ...], added: tuple[Harm, ...]) -> Iterator[Table]:
    rows = [Row(harm.home, (harm.what, figure(harm.volts, 0, "V"), "as it stands")) for harm in harms]
    rows += [Row(harm.home, (harm.what, figure(harm.volts, 0, "V"), "once lifted")) for harm in added]
    if rows:
        yield Table("What hurts", ("Home", "What", "Volts", "When"), tuple(rows))


def _warnings(street: Street, fault: Fault, home: str) -> Iterator[str]:
    if fault.endangers:
        yield "This fault can kill or burn, whether or not a test shows it today."
    others = street.sharing_metalwork(home)
    if others:
        yield f"{home} shares metalwork with {', '.join(others)}: what is done here is done to them too."


CALCULATOR = Calculator(
    id="one-street",
    title="One street, any fault",
    about="Choose a street of this guide, a home and a fault: what each test shows at that home, beside what "
    "it shows while the street is healthy.",
    inputs=(
        Choice("street", "Street", (), "", options_from="streets"),
        Choice("home", "Home that is tested", (), "", options_from="homes"),
        Choice("fault", "Fault", (), "service-pen-open", options_from="faults"),
    ),
    run=run,
    sources=("Every figure: nodal analysis of the street as its page describes it.",),
    cautions=(
        "The figures are of an invented street. They show what can happen, not what a meter must read.",
    ),
)
