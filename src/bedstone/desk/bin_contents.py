"""What lies in a bin: its composition as blended now, how it keeps, and for how long it lasts."""

import datetime as dt
from dataclasses import dataclass

from bedstone.desk.buying import buying_list
from bedstone.desk.formula_levels import Known, known_in
from bedstone.desk.keeping import Keeping, keeping
from bedstone.desk.material_use import bought_as
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill

__all__ = ["BinContents", "Cover", "contents_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """For how many days all of a material in all bins lasts; None where nothing uses it.

    ``of`` is what it is bought as: ground grain counts with its grain.
    """

    of: str
    stock_kg: float
    by_plan_days: float | None
    by_history_days: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BinContents:
    """A bin's composition, keeping and cover; each None where nothing is known of it."""

    known: Known | None
    keeps: Keeping | None
    cover: Cover | None


def contents_of(record: Record, place: str, material: str, *, at: dt.datetime) -> BinContents:
    """What is known of what lies in a bin now. Nothing is recorded.

    Parameters
    ----------
    record : Record
        The record.
    place : str
        A bin of the mill.
    material : str
        What most of it is; a product's composition is rolled up from its running formula.
    at : datetime
        Now, for the days of cover.
    """
    mill = current_mill(record)
    if material not in mill.ingredient_by_code and material not in mill.product_by_code:
        return BinContents(known=None, keeps=None, cover=None)
    known = known_in(record, place, material)
    code = bought_as(mill, material)
    row = next((one for one in buying_list(record, at=at) if one.ingredient == code), None)
    return BinContents(
        known=known if known.lots and known.levels else None,
        keeps=keeping(mill, material, known),
        cover=None
        if row is None
        else Cover(
            of=code,
            stock_kg=row.stock_kg,
            by_plan_days=row.cover_days,
            by_history_days=row.cover_by_history_days,
        ),
    )
