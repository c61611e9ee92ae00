"""A figure as people type it.

`build_tools/site/browser/reading/typed-figure.js` reads it in the same way, word for word:
`tests/typed_figures.yaml` holds both to one table.
"""

from __future__ import annotations

import re

__all__ = ["Unreadable", "typed_figure"]

_TYPED = re.compile(r"([+\-−]?)([0-9.,](?:[0-9.,\s]*[0-9.,])?)([eE][+\-−]?[0-9]+)?\s*([^\d.,\s]\D*)?")


class Unreadable(ValueError):
    """What was typed is no figure, or could be two. Its text says which and how to write it; empty where
    there is no figure at all."""


def typed_figure(text: str) -> tuple[float, str]:
    """The number, and the unit that was typed behind it ("" for none).

    The mark of decimals is a point or a comma, one at most. A comma before exactly three figures can mean
    thousands: so it is refused, and so are spaces between figures. Raises Unreadable.

    >>> typed_figure("0,8 Ω"), typed_figure("1.5e3")
    ((0.8, 'Ω'), (1500.0, ''))
    """
    match = _TYPED.fullmatch(text.strip())
    if match is None or not re.search("[0-9]", match[2]):
        raise Unreadable
    sign, body, exponent, unit = match[1], match[2], match[3] or "", match[4] or ""
    if re.search(r"\s", body):
        raise Unreadable(f"{_short(body)} has a space inside. Type the figures without one.")
    if len(re.findall("[.,]", body)) > 1:
        raise Unreadable(f"{_short(body)} has more than one point or comma. Type it with one at most.")
    if re.search(",[0-9]{3}$", body):
        decimal, whole = body.replace(",", "."), body.replace(",", "")
        raise Unreadable(
            f"{_short(body)} can mean {_short(decimal)} or {_short(whole)}. Type it as one of these."
        )
    return float((sign + body.replace(",", ".") + exponent).replace("−", "-")), unit.strip()


def _short(typed: str) -> str:
    return typed if len(typed) <= 24 else f"{typed[:23]}…"
