"""A mill's own samples before and after its conditioner, as a row of what heat does to additives."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from bedstone.desk.line_heat import nearest_row
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.table_acts import keep_tables
from bedstone.errors import BadInput, Unknown
from bedstone.mill.attributes import column
from bedstone.mill.columns import columns_of
from bedstone.mill.equipment import Settings
from bedstone.mill.model import HeatSensitive, Mill
from bedstone.mill.typed_fields import unit_shown
from bedstone.mill.typed_number import quantity_typed
from bedstone.pelleting.heat_fit import HeatTrial, OwnKinetics, fit_own
from bedstone.quantities.line_figures import rise_words, temperature_words

__all__ = ["AskedOfTrial", "OwnHeat", "keep_own_heat", "number_of", "own_heat", "trial_typed"]

OWN = "this mill"
LONGEST_SOURCE = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOfTrial:
    """What is typed of samples before and after, in the mill's units or with another behind it."""

    before: float = column("amount before", low=0)
    after: float = column("amount after, in the same unit", low=0)
    temperature_c: float = column("temperature", unit="C", low=20, high=120)
    time_s: float = column("time at it", unit="s", low=0, low_open=True, high=86_400)
    z_dk: float = column("z value", unit="K", low=1, high=100)
    error_frac: float = column("error of one assay", low=0.001, high=0.99)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnHeat:
    """What the mill's own trials say, and the row that they would be in the table."""

    found: OwnKinetics
    row: HeatSensitive
    before: HeatSensitive  # the row that counts now


def number_of(field: str, text: str, settings: Settings) -> float:
    """A number of :class:`AskedOfTrial` as it was typed, in SI.

    Raises
    ------
    BadInput
        If it is no such number, with what was typed and what is allowed in the mill's units.
    """
    one = next(one for one in columns_of(AskedOfTrial) if one.field == field)
    try:
        return quantity_typed(text, one, settings, unit_shown(one, settings)).value
    except BadInput as fault:
        first = fault.faults[0]
        raise BadInput(
            f"The {one.attribute.meaning} cannot be right.",
            seen=first.found,
            allowed=first.allowed,
            do=first.do,
        ) from fault


def trial_typed(cells: Sequence[str], settings: Settings) -> HeatTrial:
    """A trial as it was typed: before, after, temperature, time.

    Raises
    ------
    BadInput
        If something is missing or is no such number.
    """
    names = ("before", "after", "temperature_c", "time_s")
    if len(cells) != len(names) or not all(cell.strip() for cell in cells):
        raise BadInput(
            "A trial lacks something.",
            seen=", ".join(cell.strip() or "nothing" for cell in cells)[:80],
            allowed="before, after, temperature and time, such as 2.1, 0.9, 167 °F and 40 s",
        )
    before, after, hot_c, time_s = (
        number_of(name, cell, settings) for name, cell in zip(names, cells, strict=True)
    )
    return HeatTrial(
        before=before, after=after, temperature_c=hot_c, time_s=time_s, units=settings.units
    )


def own_heat(
    mill: Mill,
    *,
    ingredient: str,
    what: str = "",
    trials: Sequence[HeatTrial],
    z_dk: float | None = None,
    assay_cv_frac: float = 0.2,
    on: dt.date,
) -> OwnHeat:
    """The row "this mill" that trials before and after the conditioner give.

    Parameters
    ----------
    mill : Mill
        Its tables.
    ingredient, what : str
        An additive of the table; ``what`` may be left out where the ingredient holds one.
    trials : sequence of HeatTrial
        Samples before and after.
    z_dk : float, optional
        Another z than that of the row that counts now. [K]
    assay_cv_frac : float
        Error of one assay, common practice, no source. [0 to 1]
    on : date
        Day of the trials, for the source.

    Raises
    ------
    Unknown
        If the table has no such additive.
    BadInput, NoAnswer
        As :func:`bedstone.pelleting.heat_fit.fit_own`.
    """
    before = _row_now(mill, ingredient, what)
    z = before.z_dk if z_dk is None else z_dk
    found = fit_own(trials, z_dk=z, assay_cv_frac=assay_cv_frac)
    units = mill.settings.units
    by_trial = "; ".join(
        f"{one.words} in {one.time_s:g} s at {temperature_words(one.temperature_c, units)}"
        for one in trials
    )
    z_from = "given with the trial"
    if z_dk is None:
        z_from = "as it was" if before.measured == OWN else before.source
    source = f"own trial of {on.isoformat()}: {by_trial}; z of {rise_words(z, units)}: {z_from}"
    row = replace(
        before,
        measured=OWN,
        d_s=float(f"{found.d_s:.4g}"),
        at_c=round(found.at_c, 1),
        z_dk=z,
        z_sd_dk=before.z_sd_dk if z_dk is None else None,
        d_spread=float(f"{found.d_spread:.3g}"),
        source=source[:LONGEST_SOURCE],
    )
    return OwnHeat(found=found, row=row, before=before)


def _row_now(mill: Mill, ingredient: str, what: str) -> HeatSensitive:
    rows = [
        row
        for row in mill.heat_sensitive
        if row.ingredient == ingredient and what in {"", row.what}
    ]
    names = sorted({row.what for row in rows})
    if not rows:
        raise Unknown(
            f"The table of heat-sensitive additives has no {what or 'additive'} of {ingredient!r}.",
            allowed=", ".join(
                sorted({f"{row.ingredient} ({row.what})" for row in mill.heat_sensitive})
            ),
            do="add it to heat_sensitive.csv first, with its maker's figures or from memory",
        )
    if len(names) > 1:
        raise BadInput(
            f"{ingredient} holds more than one additive that heat harms.",
            seen="no name of one",
            allowed=", ".join(names),
        )
    return nearest_row(rows)


def keep_own_heat(record: Record, row: HeatSensitive, *, by: str, at: dt.datetime) -> int:
    """Keep a row of the mill's own in the tables, in place of an earlier one of its own; returns
    the revision.

    Asks: a row of :func:`own_heat`. Refused when: the person's role may not change tables.
    Records: ``mill.tables_loaded/1``.
    """
    mill = current_mill(record)
    key = (row.ingredient, row.what, row.measured)
    others = [one for one in mill.heat_sensitive if (one.ingredient, one.what, one.measured) != key]
    return keep_tables(
        record,
        replace(mill, heat_sensitive=(*others, row)),
        base_revision=mill.revision,
        why=f"D of {row.what} from this mill's own samples",
        by=by,
        at=at,
    )
