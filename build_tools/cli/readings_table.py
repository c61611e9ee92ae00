"""What each instrument would show on a street, healthy beside faulty, for the `readings` command."""

import json
from dataclasses import asdict, dataclass

from calc import faults
from calc.readings import TESTS, readings
from calc.street import Street, network


@dataclass(frozen=True, slots=True)
class ReadingsRow:
    """One test at one home; `healthy` and `faulty` as displayed (no `faulty` without faults)."""

    home: str
    test: str
    title: str
    healthy: str
    faulty: str | None


def compare(street: Street, fault_names: list[str], home: str | None) -> list[ReadingsRow]:
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
        without = readings(healthy, at)
        with_faults = readings(faulty, at) if fault_names else {}
        for test in TESTS:
            changed = with_faults[test.id].text if fault_names else None
            rows.append(ReadingsRow(at, test.id, test.title, without[test.id].text, changed))
    return rows


def as_text(rows: list[ReadingsRow]) -> str:
    """A table for each home; `<` marks what the faults change."""
    wide = max(len(row.title) for row in rows)
    lines = []
    home = None
    for row in rows:
        if row.home != home:
            home = row.home
            faults_head = "" if row.faulty is None else f"  {'with the faults':>24}"
            lines += ["", f"at {home}", f"  {'':{wide}}  {'healthy':>24}{faults_head}"]
        line = f"  {row.title:{wide}}  {row.healthy:>24}"
        if row.faulty is not None:
            line += f"  {row.faulty:>24}" + ("  <" if row.healthy != row.faulty else "")
        lines.append(line)
    return "\n".join(lines[1:])


def as_json(rows: list[ReadingsRow]) -> str:
    """The same as `{"readings": [{"home", "test", "title", "healthy", "faulty"}]}`."""
    return json.dumps({"readings": [asdict(row) for row in rows]}, indent=2, ensure_ascii=False)
