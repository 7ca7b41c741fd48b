"""Whether a load is of the same kind as what lies in a bin, where lots of unlike assays are kept apart."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.desk.assays import assays
from bedstone.desk.record import Record
from bedstone.ledger.layers import Layer
from bedstone.mill.model import Assay, Mill
from bedstone.mill.storage_tables import KeepApart

__all__ = ["Apart", "Results", "apart_from", "kept_apart_by_lot"]

Results = Mapping[str, tuple[float, str]]
"""Level and unit by nutrient."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """Sentences that bar a bin, and sentences to mind."""

    against: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def kept_apart_by_lot(record: Record, mill: Mill, ingredient: str) -> dict[str, list[Assay]]:
    """Assays by lot, where the mill keeps lots of the ingredient apart at all; else none."""
    found: dict[str, list[Assay]] = {}
    if any(row.ingredient == ingredient for row in mill.keep_apart):
        for row in assays(record):
            found.setdefault(row.lot, []).append(row)
    return found


def apart_from(
    mill: Mill,
    ingredient: str,
    *,
    load: Results,
    layers: Iterable[Layer],
    assays_by_lot: Mapping[str, list[Assay]],
) -> Apart:
    """What the table keep_apart says of a load and the lots that lie in a bin.

    A lot counts by the mean of its own assays. Where load or lot has none of the nutrient in the
    table's unit, that is said, never taken as alike.
    """
    against: list[str] = []
    cautions: list[str] = []
    lots = [lot for lot in dict.fromkeys(row.lot for row in layers if row.mass_mg > 0) if lot]
    for rule in mill.keep_apart:
        if rule.ingredient != ingredient or not lots:
            continue
        own = _value(load.get(rule.nutrient), rule)
        if own is None:
            cautions.append(
                f"The {rule.nutrient} of the load is not known: lots above {rule.boundary:g} "
                f"{rule.unit} are kept apart."
            )
            continue
        unlike = _unlike(rule, own, lots, assays_by_lot)
        (against if rule.rule == "never" else cautions).extend(unlike)
        cautions.extend(_unknown(rule, lots, assays_by_lot))
    return Apart(against=tuple(against), cautions=tuple(cautions))


def _value(found: tuple[float, str] | None, rule: KeepApart) -> float | None:
    return found[0] if found is not None and found[1] == rule.unit else None


def _of_lot(rule: KeepApart, rows: Iterable[Assay]) -> float | None:
    """Mean of a lot's own assays of the nutrient, in the table's unit."""
    values = [row.value for row in rows if row.nutrient == rule.nutrient and row.unit == rule.unit]
    return sum(values) / len(values) if values else None


def _unlike(
    rule: KeepApart, own: float, lots: list[str], assays_by_lot: Mapping[str, list[Assay]]
) -> list[str]:
    """A sentence for the first lot on the other side of the boundary."""
    for lot in lots:
        there = _of_lot(rule, assays_by_lot.get(lot, ()))
        if there is not None and (there > rule.boundary) != (own > rule.boundary):
            why = f" ({rule.why})" if rule.why else ""
            said = (
                f"Lot {lot} in it has {there:.4g} {rule.unit} {rule.nutrient}, the load {own:.4g}: "
                f"kept apart at {rule.boundary:g}{why}."
            )
            return [said]
    return []


def _unknown(
    rule: KeepApart, lots: list[str], assays_by_lot: Mapping[str, list[Assay]]
) -> list[str]:
    many = sum(_of_lot(rule, assays_by_lot.get(lot, ())) is None for lot in lots)
    if not many:
        return []
    said = (
        f"The {rule.nutrient} of {many} of {len(lots)} lots in it is not known: it may lie across "
        f"{rule.boundary:g} {rule.unit}."
    )
    return [said]
