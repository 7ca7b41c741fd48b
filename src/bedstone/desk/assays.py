"""What laboratories found in lots and bins, and what it says of each ingredient."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches

from bedstone.desk.appending import appended
from bedstone.desk.checks import must_be_bin
from bedstone.desk.folding import folded
from bedstone.desk.plain_values import row_from_plain, row_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Fault, Refused, Unknown
from bedstone.ledger.model import Fact, Recorded
from bedstone.mill.cells import CODE, CODE_RULE, quoted
from bedstone.mill.model import Assay, Mill

__all__ = [
    "ASSAYED",
    "AssaySummary",
    "assay_fact",
    "assay_faults",
    "assay_history",
    "assays",
    "assays_of_lot",
    "nutrients_known",
    "record_assay",
    "summarise",
]

ASSAYED = "quality.assayed/1"
MOISTURE = "moisture"
WHOLE_PCT = 100.0

Key = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class AssaySummary:
    """What the assays of one nutrient of one material say together; unit as composition.

    ``sd`` is the spread between lots as measured, the method's own included; None of one assay.
    """

    of: str
    nutrient: str
    unit: str
    mean: float
    sd: float | None
    assays: int
    first_at: dt.datetime
    last_at: dt.datetime


def nutrients_known(mill: Mill) -> frozenset[str]:
    """Names of what may be assayed: of composition and guarantees, substances, moisture."""
    return frozenset(
        {
            *(row.nutrient for row in mill.composition),
            *(row.nutrient for row in mill.guarantees),
            *(row.substance for row in mill.substances),
            MOISTURE,
        }
    )


def assay_history(record: Record) -> Mapping[Key, tuple[Assay, ...]]:
    """Each result (report, nutrient) with all it has said so far, the last being what stands."""

    def note(
        before: Mapping[Key, tuple[Assay, ...]], facts: Iterable[Recorded]
    ) -> Mapping[Key, tuple[Assay, ...]]:
        found = dict(before)
        for item in facts:
            row = row_from_plain(Assay, item.fact.content, where=f"fact {item.position}")
            key = (row.assay, row.nutrient)
            found[key] = (*found.get(key, ()), row)
        return found

    return folded(record, "assays", kinds=(ASSAYED,), start={}, fold=note)


def assays(record: Record) -> tuple[Assay, ...]:
    """Every result that stands, in order of when its sample was taken."""
    rows = [said[-1] for said in assay_history(record).values()]
    return tuple(sorted(rows, key=lambda row: (row.sampled_at, row.assay, row.nutrient)))


def assays_of_lot(record: Record, lot: str) -> tuple[Assay, ...]:
    """The results of one lot."""
    return tuple(row for row in assays(record) if row.lot == lot)


def summarise(rows: Iterable[Assay]) -> Mapping[Key, AssaySummary]:
    """Mean, spread and number of results, by material and nutrient.

    Several results of one lot count as one lot with their mean, so that a lot that was measured
    twice does not weigh double.
    """
    by_lot: dict[Key, dict[str, list[Assay]]] = {}
    for row in rows:
        sample = row.lot or f"{row.place} {row.sampled_at.isoformat()}"
        by_lot.setdefault((row.of, row.nutrient), {}).setdefault(sample, []).append(row)
    return {key: _summary(lots) for key, lots in by_lot.items()}


def _summary(lots: Mapping[str, list[Assay]]) -> AssaySummary:
    values = [math.fsum(row.value for row in rows) / len(rows) for rows in lots.values()]
    mean = math.fsum(values) / len(values)
    spread = math.fsum((value - mean) ** 2 for value in values)
    every = [row for rows in lots.values() for row in rows]
    return AssaySummary(
        of=every[0].of,
        nutrient=every[0].nutrient,
        unit=every[0].unit,
        mean=mean,
        sd=math.sqrt(spread / (len(values) - 1)) if len(values) > 1 else None,
        assays=len(values),
        first_at=min(row.sampled_at for row in every),
        last_at=max(row.sampled_at for row in every),
    )


def assay_fact(row: Assay, *, by: str, at: dt.datetime) -> Fact:
    """The fact that says a result."""
    return Fact(kind=ASSAYED, happened_at=at, by=by, content=row_plain(row))


def assay_faults(mill: Mill, rows: Iterable[Assay], *, lots: Mapping[str, str]) -> list[Fault]:
    """Say what is wrong with results against the mill and its lots (lot to material)."""
    faults = []
    for row in rows:
        faults += [
            replace(fault, file="assays", column=f"{row.assay} {row.nutrient}, {fault.column}")
            for fault in _faults(mill, row, lots)
        ]
    return faults


def _faults(mill: Mill, row: Assay, lots: Mapping[str, str]) -> list[Fault]:
    faults: list[Fault] = []

    def fault(column: str, found: str, allowed: str, do: str = "") -> None:
        faults.append(Fault(column=column, found=found, allowed=allowed, do=do))

    if not CODE.fullmatch(row.assay):
        fault("assay", quoted(row.assay), CODE_RULE)
    if row.of not in mill.ingredient_by_code and row.of not in mill.product_by_code:
        fault("of", quoted(row.of), "an ingredient or product of the mill")
    nutrients = nutrients_known(mill)
    if row.nutrient not in nutrients:
        near = get_close_matches(row.nutrient, sorted(nutrients), n=3)
        fault(
            "nutrient",
            quoted(row.nutrient),
            ", ".join(sorted(nutrients)),
            f"did you mean {' or '.join(near)}?" if near else "add it to composition.csv",
        )
    if bool(row.lot) == bool(row.place):
        fault("lot", "both or neither of lot and place", "a lot, or the bin that was sampled")
    elif row.lot and row.lot not in lots:
        near = get_close_matches(row.lot, lots, n=3)
        fault("lot", f"{row.lot}, which is not known", "a lot of the record", ", ".join(near))
    elif row.lot and lots[row.lot] != row.of:
        fault("of", row.of, f"{lots[row.lot]}, which lot {row.lot} is")
    faults += _value_faults(mill, row)
    return faults


def _value_faults(mill: Mill, row: Assay) -> list[Fault]:
    most = WHOLE_PCT if row.unit == "%" else math.inf
    if not (math.isfinite(row.value) and 0 <= row.value <= most):
        allowed = f"from 0 to {most:g} {row.unit}" if most < math.inf else "0 or more"
        return [Fault(column="value", found=f"{row.value:g} {row.unit}", allowed=allowed)]
    if row.sd is not None and not (math.isfinite(row.sd) and row.sd >= 0):
        return [Fault(column="sd", found=f"{row.sd:g}", allowed="0 or more, or nothing")]
    units = {
        item.unit
        for item in mill.composition
        if (item.ingredient, item.nutrient) == (row.of, row.nutrient)
    }
    if units and row.unit not in units:
        allowed = f"{' or '.join(sorted(units))}, as in composition.csv"
        return [Fault(column="unit", found=row.unit, allowed=allowed)]
    return []


def record_assay(record: Record, row: Assay, *, by: str, at: dt.datetime) -> Recorded:
    """Record a result of a laboratory, new or corrected.

    Asks: who may assay, a report number, a material, a nutrient that the mill's tables name, a lot
    of that material or a bin, a value in the unit of its composition, a sample not of the future.
    Refused when: it says nothing new. Records: ``quality.assayed/1``.
    """
    mill = current_mill(record)
    check(mill, by, "assay")
    if row.place:
        must_be_bin(mill, row.place)
    known = {lot.lot: lot.material for lot, _ in record.lots()}
    if row.lot and row.lot not in known:
        near = get_close_matches(row.lot, known, n=3)
        raise Unknown(
            f"There is no lot {row.lot!r}.",
            do=f"did you mean {', '.join(near)}?" if near else "see the list of lots",
        )
    faults = _faults(mill, row, known)
    if row.sampled_at > at:
        faults.append(Fault(column="sampled_at", found="a time to come", allowed="up to now"))
    if faults:
        raise BadInput("This assay cannot be taken as it stands.", faults=tuple(faults))

    def act() -> Fact:
        said = assay_history(record).get((row.assay, row.nutrient), ())
        if said and said[-1] == row:
            raise Refused(f"Report {row.assay} says exactly this already.", do="nothing")
        return assay_fact(row, by=by, at=at)

    return appended(record, act, at=at)
