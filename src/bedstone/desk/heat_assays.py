"""What laboratories found of an additive in pelleted feed, beside what heat was reckoned to leave."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from bedstone.desk.assays import assays, assays_of_lot
from bedstone.desk.line_heat import AdditiveHeat
from bedstone.desk.line_readings import RunRead, line_finding, read_of_run
from bedstone.desk.line_settings import LineSettings, settings_for
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BedstoneError
from bedstone.formulation.levels import unit_factor
from bedstone.mill.plan import Finding, Verdict
from bedstone.quantities.line_figures import amount_words

__all__ = ["BagAssay", "assay_findings", "bag_assays"]

SHOWN = 6
SURE_SDS = 1.645
"""A result that lies so many of its standard deviations below is below nineteen times in twenty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BagAssay:
    """An additive as a laboratory found it in a run's feed; amounts in the tag's unit.

    ``same_loss_s`` is the time at the conditioner's temperature that costs as much as the whole way
    of that run: with ``put_in`` before and ``found`` after it is a trial of the mill's own.
    """

    assay: str
    run: str
    sampled_at: dt.datetime
    found: float
    minimum: float  # on the tag
    put_in: float
    conditioner_c: float  # as it was read
    left_lo: float
    left: float
    left_hi: float
    same_loss_s: float

    @property
    def keeps(self) -> bool:
        """Whether the tag holds by this result."""
        return self.found >= self.minimum

    @property
    def as_reckoned(self) -> bool:
        """Whether it lies in the interval of what was reckoned to be left."""
        return self.left_lo <= self.found <= self.left_hi


def bag_assays(
    record: Record, settings: LineSettings, row: AdditiveHeat, *, most: int = SHOWN
) -> tuple[BagAssay, ...]:
    """The newest results of an additive in the feed of logged runs of a product, newest first.

    Only runs whose conditioner was read are named, each reckoned at what was read.

    Parameters
    ----------
    record : Record
        Assays and readings.
    settings : LineSettings
        Product and line.
    row : AdditiveHeat
        The additive; without a tag that can be held against it there is nothing to compare.
    most : int
        At most so many.
    """
    if row.tag is None:
        return ()
    found: list[BagAssay] = []
    for one in reversed(assays(record)):
        if len(found) == most:
            break
        factor = unit_factor(one.unit, row.tag.unit)
        if (one.of, one.nutrient) != (settings.product, row.tag.nutrient) or factor is None:
            continue
        at, there = _at_run(record, settings, one.lot, row)
        if at is None or there is None or there.tag is None:
            continue
        found.append(
            BagAssay(
                assay=one.assay,
                run=one.lot,
                sampled_at=one.sampled_at,
                found=one.value * factor,
                minimum=there.tag.minimum,
                put_in=there.tag.put_in,
                conditioner_c=at,
                left_lo=there.tag.put_in * there.left.left_lo,
                left=there.tag.put_in * there.left.left,
                left_hi=there.tag.put_in * there.left.left_hi,
                same_loss_s=_same_loss_s(there, at),
            )
        )
    return tuple(found)


def _at_run(
    record: Record, settings: LineSettings, run: str, row: AdditiveHeat
) -> tuple[float | None, AdditiveHeat | None]:
    """Conditioner of a logged run as it was read, and the additive reckoned there."""
    read = read_of_run(record, run, settings.line) if run else None
    at_c = None if read is None else read.mean("conditioner temperature")
    if read is None or at_c is None:
        return None, None
    try:
        there = settings_for(
            record, settings.product, settings.line, at=read.at, conditioning_c=at_c
        )
    except BedstoneError:
        return None, None
    return at_c, _same(there.additives, row)


def _same(rows: Iterable[AdditiveHeat], row: AdditiveHeat) -> AdditiveHeat | None:
    wanted = (row.ingredient, row.what)
    return next((one for one in rows if (one.ingredient, one.what) == wanted), None)


def _same_loss_s(row: AdditiveHeat, at_c: float) -> float:
    """Time at one temperature that loses as many powers of ten."""
    counts = next(one for one in row.known if one.counts)
    return float(row.left.logs_lost * counts.d_s * 10 ** ((counts.at_c - at_c) / counts.z_dk))


def assay_findings(record: Record, read: RunRead) -> Iterator[Finding]:
    """Results of a run's feed that lie below what its tag guarantees of an additive, by more than
    the method's error where the result says it.
    """
    mill = current_mill(record)
    delicate = {row.nutrient for row in mill.heat_sensitive if row.nutrient}
    tags = {
        row.nutrient: row
        for row in mill.guarantees
        if row.product == read.product and row.nutrient in delicate and row.minimum
    }
    for one in assays_of_lot(record, read.run) if tags else ():
        tag = tags.get(one.nutrient)
        factor = None if tag is None else unit_factor(one.unit, tag.unit)
        if tag is None or tag.minimum is None or factor is None or one.of != read.product:
            continue
        found = one.value * factor
        if found + SURE_SDS * (one.sd or 0.0) * factor < tag.minimum:
            yield line_finding(
                "line.additive_found",
                Verdict.ACT,
                read,
                f"The laboratory found {amount_words(found)} {tag.unit} of {one.nutrient} in the "
                f"feed (report {one.assay}); the tag guarantees {amount_words(tag.minimum)}.",
                (found, tag.minimum, tag.unit),
                "hold what is left of the run, sample it again, tell the nutritionist",
                rule="guarantees of the tag",
            )
