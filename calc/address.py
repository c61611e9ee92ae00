"""A street in an address: what a link to the street calculator carries after its `#`.

The street's data as JSON, compressed, in the letters that an address may hold, behind a number that says
how it was written: `1.eNqr...`. It stands where otherwise the id of one of the guide's streets stands.
"""

from __future__ import annotations

import base64
import json
import re
import zlib
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from calc.shaped import plain, shaped
from calc.street import Street, network

__all__ = ["fragment", "is_address", "street_address", "street_at", "with_addressed"]

_WRITTEN = "1"
_LONGEST = 8_000
"""Characters of an address, under what every browser keeps."""
_MOST_BYTES = 64_000
_MOST_HOMES = 60
_ADDRESS = re.compile(r"(\d+)\.([\w-]*)", re.ASCII)


def street_address(street: Street) -> str:
    """The street as text for an address. Raises ValueError for one that is too large to travel."""
    written = json.dumps(plain(street), separators=(",", ":"), ensure_ascii=False).encode()
    packed = base64.urlsafe_b64encode(zlib.compress(written, 9)).decode().rstrip("=")
    if len(packed) > _LONGEST or len(written) > _MOST_BYTES or len(street.premises) > _MOST_HOMES:
        raise ValueError("this street is too large for an address")
    return f"{_WRITTEN}.{packed}"


def fragment(street: Street, **fields: str) -> str:
    """What follows the `#` of a link that opens a calculator with this street and these fields."""
    return urlencode({"street": street_address(street), **fields}, safe="@")


def is_address(text: str) -> bool:
    """Whether this was meant as a street in an address."""
    return _ADDRESS.match(text) is not None


def street_at(address: str) -> Street:
    """The street that an address holds. Raises ValueError with a sentence for whoever opened the link."""
    match = _ADDRESS.fullmatch(address)
    if match is None or len(address) > _LONGEST:
        raise ValueError("The street in this link is damaged. Copy the whole link and open it again.")
    if match[1] != _WRITTEN:
        raise ValueError("The street in this link was written by another edition of this guide.")
    unpack = zlib.decompressobj()
    try:
        packed = base64.b64decode(match[2] + "=" * (-len(match[2]) % 4), "-_", validate=True)
        written = unpack.decompress(packed, _MOST_BYTES)
        if not unpack.eof:
            raise ValueError("cut short, or too long")
        data = json.loads(written)
    except (ValueError, zlib.error, RecursionError):
        raise ValueError(
            "The street in this link is cut short or damaged. Copy the whole link and open it again."
        ) from None
    try:
        street = shaped(Street, data, "the street")
        if len(street.premises) > _MOST_HOMES:
            raise ValueError(f"it has more than {_MOST_HOMES} homes")
        _ = network(street).solution
    except (ValueError, ArithmeticError, RecursionError) as error:
        raise ValueError(f"The street in this link cannot be used: {str(error)[:200]}.") from None
    return street


def with_addressed(data: Mapping[str, Any], chosen: str) -> Mapping[str, Any]:
    """What the build ships, and besides its streets the one that an address holds, by that address.

    Raises ValueError as `street_at`; nothing is added for any other text.
    """
    if not is_address(chosen):
        return data
    return {**data, "streets": {chosen: street_at(chosen).to_data(), **data.get("streets", {})}}
