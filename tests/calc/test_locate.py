"""Where a fault is, told by what homes say: beliefs before anything is said, and what follows from them."""

from __future__ import annotations

import math
from collections import defaultdict

import pytest
import streets

from calc.faults import parse
from calc.locate import WORDS, Located, located, main_or_service, next_home, span_of

STREET = streets.terrace()


def by_kind(ranked: tuple[Located, ...]) -> dict[str, float]:
    """How probable each kind of fault is, at all its places together."""
    found: dict[str, float] = defaultdict(float)
    for one in ranked:
        found[one.fault.kind] += one.probability
    return dict(found)


def test_before_anything_is_said_a_fault_is_as_common_as_is_stated() -> None:
    """Project choice: a lost line or high volts half as often as a PEN, or as nothing at all."""
    ranked = located(STREET, {})
    found = by_kind(ranked)
    usual = {"service-pen-open", "service-pen-high", "mains-pen-open", "mains-pen-high", "healthy"}
    rare = {"line-open", "mains-line-open", "high-volts"}
    assert found.keys() == usual | rare
    assert math.fsum(found.values()) == pytest.approx(1)
    for kind, share in found.items():
        assert share == pytest.approx((4 if kind in usual else 2) / (4 * len(usual) + 2 * len(rare))), kind
    for kind in found:
        places = {round(one.probability, 12) for one in ranked if one.fault.kind == kind}
        assert len(places) == 1, kind


def test_the_most_probable_comes_first_and_probabilities_add_up() -> None:
    ranked = located(STREET, {"8": "bright", "10": "dim", "2": "normal"})
    shares = [one.probability for one in ranked]
    assert shares == sorted(shares, reverse=True) and math.fsum(shares) == pytest.approx(1)
    for one in ranked:
        assert one.homes.keys() == STREET.premises.keys()
        assert {word for _, word in one.homes.values()} <= set(WORDS)


def test_what_is_said_of_an_open_line_points_to_it() -> None:
    said = dict.fromkeys(STREET.premises, "normal") | {"6": "off"}
    ranked = located(STREET, said)
    kinds = by_kind(ranked)
    assert kinds["line-open"] > 5 * kinds["healthy"]
    assert ranked[0].fault.kind == "line-open" and ranked[0].fault.at == "6.L3"


def test_volts_that_are_typed_count_as_a_meter_would_show_them() -> None:
    """A figure 6 V off (project choice) is e^-1/2 as likely as the one worked out; one far off is not."""
    healthy = {home: volts for one in located(STREET, {}) for home, (volts, _) in one.homes.items()
               if one.fault.kind == "healthy"}  # fmt: skip
    right, off, far = (
        by_kind(located(STREET, {"2": healthy["2"] + by}))["high-volts"] for by in (0.0, 6.0, 23.0)
    )
    assert right < off < far


def test_the_next_home_to_ask_is_the_one_that_parts_most() -> None:
    seen: dict[str, str | float] = {"8": "bright"}
    ranked = located(STREET, seen)

    def entropy(home: str) -> float:
        words: dict[str, float] = defaultdict(float)
        for one in ranked:
            words[one.homes[home][1]] += one.probability
        return -math.fsum(share * math.log(share) for share in words.values() if share)

    asked = next_home(ranked, seen)
    assert asked not in seen
    assert entropy(asked) == pytest.approx(max(entropy(home) for home in STREET.premises if home != "8"))
    assert next_home(ranked, dict.fromkeys(STREET.premises, "normal")) == ""


def test_main_and_service_are_weighed_against_each_other_only() -> None:
    ranked = located(STREET, {"8": "bright", "10": "dim"})
    main, service = main_or_service(ranked)
    kinds = by_kind(ranked)
    of_main = math.fsum(share for kind, share in kinds.items() if kind.startswith("mains-"))
    of_service = math.fsum(share for kind, share in kinds.items() if kind.startswith(("service-", "line-")))
    assert (main, service) == pytest.approx(
        (of_main / (of_main + of_service), of_service / (of_main + of_service))
    )
    assert main + service == pytest.approx(1)
    healthy = tuple(one for one in ranked if one.fault.kind == "healthy")
    assert main_or_service(healthy) == (0.5, 0.5)


def test_a_fault_lies_at_a_joint() -> None:
    assert span_of(STREET, parse("mains-pen-open@J1-J2")) == "J2"
    assert span_of(STREET, parse("service-pen-open@8")) == STREET.junction_of("8") == "J2"
    assert span_of(STREET, parse("line-open@2.L1")) == "J1"
    assert span_of(STREET, parse("healthy")) == ""


def test_a_home_that_there_is_not_is_refused() -> None:
    with pytest.raises(KeyError):
        located(STREET, {"99": "bright"})
