"""What each instrument would show on a street, healthy beside faulty, for the `readings` command."""

import json
from dataclasses import dataclass

from calc import faults
from calc.readings import TESTS, readings
from calc.street import Street, network


@dataclass(frozen=True, slots=True)
class Row:
    """One test at one home; `healthy` and `faulty` as displayed."""

    home: str
    test: str
    title: str
    healthy: str
    faulty: str


def compare(street: Street, fault_names: list[str], home: str | None) -> list[Row]:
    """Every test at one home, or at every home, without and with the faults.

    Raises ValueError for a fault or a home that the street does not have.
    """
    if home is not None and home not in street.premises:
        raise ValueError(f"no premises are called {home}; there are: {', '.join(street.premises)}")
    healthy = faulty = network(street)
    for name in fault_names:
        faulty = faults.parse(name).applied_to(faulty)
    rows = []
    for at in street.premises if home is None else (home,):
        without, with_faults = readings(healthy, at), readings(faulty, at)
        rows += [Row(at, t.id, t.title, without[t.id].text, with_faults[t.id].text) for t in TESTS]
    return rows


def as_text(rows: list[Row]) -> str:
    """A table for each home; `<` marks what the faults change."""
    wide = max(len(row.title) for row in rows)
    lines = []
    home = None
    for row in rows:
        if row.home != home:
            home = row.home
            lines += ["", f"at {home}", f"  {'':{wide}}  {'healthy':>24}  {'with the faults':>24}"]
        mark = "  <" if row.healthy != row.faulty else ""
        lines.append(f"  {row.title:{wide}}  {row.healthy:>24}  {row.faulty:>24}{mark}")
    return "\n".join(lines[1:])


def as_json(rows: list[Row]) -> str:
    """The same as `{"readings": [{"home", "test", "title", "healthy", "faulty"}]}`."""
    data = [
        {"home": r.home, "test": r.test, "title": r.title, "healthy": r.healthy, "faulty": r.faulty}
        for r in rows
    ]
    return json.dumps({"readings": data}, indent=2, ensure_ascii=False)
