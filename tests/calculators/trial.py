"""A calculator for the tests of the page: Ohm's law, with answers as slow as asked."""

import cmath
import math
import time
from collections.abc import Mapping
from typing import Any

from calc.calculator import Answer, Calculator, Choice, Number, Row, Table, Tick


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    time.sleep(values["seconds"])
    volts = values["amps"] * values["ohms"] * (2 if values["twice"] else 1)
    turned = [(degrees, cmath.rect(volts, math.radians(degrees))) for degrees in range(0, 360, 40)]
    rows = tuple(Row(f"{degrees}°", (f"{v.real:.6f} V", f"{v.imag:.6f} V")) for degrees, v in turned)
    bar = f'<rect width="{volts:.2f}" height="4"/>'
    return Answer(
        summary=(f"{volts:.3f} V at home {values['home']}.",),
        tables=(Table("Turned", ("Angle", "Real", "Imaginary"), rows),),
        drawing=f'<svg viewBox="0 0 9 4" role="img" aria-label="A bar">{bar}</svg>',
        warnings=("Above 50 V: <b>dangerous</b>.",) if volts > 50 else (),
    )


CALCULATOR = Calculator(
    id="trial",
    title="Trial",
    about="Volts across a resistance.",
    inputs=(
        Number("amps", "Current", "A", 0, 100, 13, 0.1, "What the clamp shows."),
        Number("ohms", "Resistance", "ohm", 0.01, 1000, 1.7, 0.01),
        Number("seconds", "Time to think", "s", 0, 600, 0, 1),
        Tick("twice", "There are two of them", False),
        Choice("street", "Street", (), "short-row", options_from="streets"),
        Choice("home", "Home", (), "3", options_from="homes"),
    ),
    run=run,
    sources=("Ohm's law.",),
)
