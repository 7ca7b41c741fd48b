"""Specifications, terms and price steps of loads: limits that must agree."""

from collections.abc import Iterator
from itertools import pairwise

from bedstone.errors import Fault
from bedstone.mill.receiving_tables import PriceStep, ReceivingTerms, Specification, Weighbridge
from bedstone.mill.validate_places import Check

__all__ = ["receiving_rules"]

FEWEST_DIVISIONS = 100


def receiving_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of what loads are taken in by."""
    for at, bridge in check.each(Weighbridge):
        yield _bridge(check, at, bridge)
    for at, spec in check.each(Specification):
        yield _limits(check, at, spec)
    for at, terms in check.each(ReceivingTerms):
        yield _terms(check, at, terms)
    for at, step in check.each(PriceStep):
        yield _step(check, at, step)
        yield _apart(check, at, step)


def _bridge(check: Check, at: int, row: Weighbridge) -> Iterator[Fault]:
    if row.division_kg * FEWEST_DIVISIONS > row.capacity_kg:
        yield check.fault(
            Weighbridge,
            at,
            "division_kg",
            found=f"{check.shown(Weighbridge, 'division_kg', row.division_kg)}, fewer than "
            f"{FEWEST_DIVISIONS} divisions",
            allowed="a division that goes at least a hundred times into the capacity",
        )


def _limits(check: Check, at: int, row: Specification) -> Iterator[Fault]:
    ladder = [
        (name, value)
        for name, value in (
            ("reject_below", row.reject_below),
            ("minimum", row.minimum),
            ("maximum", row.maximum),
            ("reject_above", row.reject_above),
        )
        if value is not None
    ]
    if not ladder:
        yield check.fault(
            Specification, at, "maximum", found="no limit at all", allowed="one limit at least"
        )
    for (lower, low), (upper, high) in pairwise(ladder):
        if low > high:
            yield check.fault(
                Specification,
                at,
                upper,
                found=f"{high:g}, below {lower} {low:g}",
                allowed="reject_below, minimum, maximum, reject_above in rising order",
            )


def _terms(check: Check, at: int, row: ReceivingTerms) -> Iterator[Fault]:
    if row.shrink != "none" and row.moisture_base_wb is None:
        yield check.fault(
            ReceivingTerms,
            at,
            "moisture_base_wb",
            found="nothing",
            allowed="the base moisture of the shrink",
        )
    if (row.shrink == "pencil") != (row.pencil_frac is not None):
        yield check.fault(
            ReceivingTerms,
            at,
            "pencil_frac",
            found="nothing" if row.pencil_frac is None else "a pencil factor",
            allowed="a factor for a pencil shrink, and only for one",
        )


def _step(check: Check, at: int, row: PriceStep) -> Iterator[Fault]:
    if row.to_value <= row.from_value:
        yield check.fault(
            PriceStep,
            at,
            "to_value",
            found=f"{row.to_value:g}",
            allowed=f"above from_value, {row.from_value:g}",
        )


def _apart(check: Check, at: int, row: PriceStep) -> Iterator[Fault]:
    """Steps of one test must not overlap, or one result would be priced twice."""
    for other_at, other in check.each(PriceStep):
        same = (other.ingredient, other.test) == (row.ingredient, row.test)
        if other_at < at and same:
            if other.unit != row.unit:
                yield check.fault(
                    PriceStep, at, "unit", found=row.unit, allowed=f"{other.unit}, as before"
                )
            if row.from_value < other.to_value and other.from_value < row.to_value:
                yield check.fault(
                    PriceStep,
                    at,
                    "from_value",
                    found=f"{row.from_value:g}, within {check.row_of(PriceStep, other_at)}",
                    allowed="steps that do not overlap",
                )
