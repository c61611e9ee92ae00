"""Readings at a home beside those of the healthy street, and what the ordinary ones among them say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from calc.calculator import Row, Table
from calc.danger import Harm, measured, new_harms, touch_volts
from calc.figures import figure
from calc.instruments import Display, read
from calc.limits import LIMITS
from calc.readings import TESTS
from calc.street import Network
from calc.work import Condition, as_worked

__all__ = ["beside_bands", "beside_healthy", "hurts", "lifting", "ordinary", "shown", "volts"]

Readings = Mapping[str, Display]


def shown(display: Display) -> str:
    """A display as answers write it.

    >>> from calc.instruments import INSTRUMENTS
    >>> shown(INSTRUMENTS["loop"].shown(0.0894))
    '0.09 Ω'
    """
    return display.text.replace(" ohm", " Ω")


def beside_healthy(title: str, healthy: Readings, now: Readings) -> Table:
    """Every test at one home: what it shows on the healthy street, and what it shows now."""
    rows = (Row(test.title, (shown(healthy[test.id]), shown(now[test.id]))) for test in TESTS)
    return Table(title, ("Test", "Healthy", "Now"), tuple(rows))


def beside_bands(title: str, healthy: Readings, now: Readings, bands: Mapping[str, Sequence[float]]) -> Table:
    """Every test at one home as beside_healthy, with the band of sampled healthy streets where there is one,
    by test id, and whether the reading stands in it in words. No bands: no such columns."""
    if not bands:
        return beside_healthy(title, healthy, now)
    rows = []
    for test in TESTS:
        band, place = "–", "–"
        if test.id in bands:
            low, high = bands[test.id]
            band, place = _band(now[test.id], low, high)
        rows.append(Row(test.title, (shown(healthy[test.id]), shown(now[test.id]), band, place)))
    return Table(title, ("Test", "Healthy", "Now", "Sampled streets, 5–95 %", "Now is"), tuple(rows))


def _band(now: Display, low: float, high: float) -> tuple[str, str]:
    """The band as the instrument would show its ends, and where a display stands to it."""
    ends = [shown(now.instrument.shown(end)) for end in (low, high)]
    if now.instrument.id == "two-pole":
        ends = [f"{end} lamp" if end != "0 V" else "no lamp" for end in ends]
    written = (
        ends[0]
        if ends[0] == ends[1]
        else f"{ends[0].removesuffix(ends[1].lstrip('0123456789.−'))} to {ends[1]}"
    )
    if now.value is None:
        return written, "above it" if now.state == "over-range" else "no reading"
    low, high = (now.instrument.shown(end).value or 0.0 for end in (low, high))
    return written, "below it" if now.value < low else "above it" if now.value > high else "inside"


def ordinary(home: str, earthing: str, now: Readings) -> str:
    """A sentence on whether the tests of an ordinary visit pass at a home.

    Volts line to neutral and line to earth within LIMITS; loops within what is usual for the earthing
    (a TT home's earth loop is its electrode's, and is not judged); indicators dark on metalwork.
    """
    failed = list(_failed(earthing, now))
    if failed:
        return f"{home}: the ordinary tests show it: {'; '.join(failed)}."
    return (
        f"{home}: every ordinary test passes: {shown(now['volts-line-neutral'])} line to neutral, "
        f"{shown(now['volts-line-earth'])} line to earth, loop {shown(now['loop-line-earth'])}, "
        "indicators dark on metalwork."
    )


def _failed(earthing: str, now: Readings) -> Iterator[str]:
    low, high = LIMITS["volts-low"].value, LIMITS["volts-high"].value
    for test, words in (("volts-line-neutral", "line to neutral"), ("volts-line-earth", "line to earth")):
        value = now[test].value
        if value is None or not low <= value <= high:
            yield f"{shown(now[test])} {words}"
    usual = LIMITS["ze-tn-c-s" if earthing == "tn-c-s" else "ze-tn-s"].value
    for test, words in (("loop-line-neutral", "line to neutral"), ("loop-line-earth", "line to earth")):
        value = now[test].value
        if earthing == "tt" and test == "loop-line-earth":
            continue
        if value is None or value > usual:
            yield f"loop {words} {shown(now[test])}"
    for test, words in (("contact-metalwork", "contact"), ("non-contact-metalwork", "non-contact")):
        if now[test].value:
            yield f"{words} indicator lit on metalwork"


def lifting(network: Network, home: str, whose: str, now: Readings) -> Iterator[str]:
    """Sentences on what stands at a home's loose main earth once it is lifted, and what that brings.

    `whose` is the home in words (`our`, `12's`); `now` are the readings before.
    """
    lifted = as_worked(network, frozenset({Condition("main-earth-lifted", home)}))
    lamp, probe = now["lifted-line-to-loose-earth"], now["lifted-loose-earth-probe"]
    felt = touch_volts(lifted, home)
    falls = (probe.value or 0.0) > LIMITS["touch-volts"].value > felt
    body = f" ({figure(felt, 0, 'V')} once a person touches it)" if falls else ""
    yield (
        f"With {whose} main earth lifted, worked out here so that nobody has to try it: from the line to "
        f"the loose earth the two-pole indicator shows {shown(lamp)}; the loose earth stands at "
        f"{shown(probe)} to true earth{body}."
    )
    if felt > LIMITS["touch-volts"].value and not lamp.value:
        yield "An indicator that shows nothing there is no proof: only an independent earth tells."
    if harms := hurts(new_harms(measured(network), measured(lifted))):
        yield f"Lifting it would bring: {harms}."


def hurts(harms: Sequence[Harm]) -> str:
    """Each kind of harm once, with its homes and its volts; "" for none."""
    kinds = dict.fromkeys(harm.what for harm in harms)
    return "; ".join(_one_kind(kind, [harm for harm in harms if harm.what == kind]) for kind in kinds)


def _one_kind(what: str, harms: Sequence[Harm]) -> str:
    homes = list(dict.fromkeys(harm.home for harm in harms))
    named = ", ".join(homes[:6]) + (f" and {len(homes) - 6} more" if len(homes) > 6 else "")
    low, high = (figure(pick(harm.volts for harm in harms), 0, "V") for pick in (min, max))
    return f"{what} at {named} ({low if low == high else f'{low} to {high}'})"


def volts(network: Network, home: str) -> str:
    """Line to neutral at a home, as its voltmeter shows it."""
    return shown(read(network, home, "voltmeter", ("line", "neutral")))
