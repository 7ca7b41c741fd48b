"""The papers of the house, made when a page asks for them."""

import datetime as dt
import math
from typing import TYPE_CHECKING

from bedstone.desk.bin_findings import heating_in
from bedstone.desk.line_air import cooler_hours
from bedstone.desk.line_regression import durability_ahead, line_says, load_ahead
from bedstone.desk.line_settings import LineSettings, settings_for
from bedstone.desk.line_start import RunStart, start_of_run
from bedstone.desk.orders import all_orders
from bedstone.desk.plan_now import refuse_unsafe
from bedstone.desk.plans import find_plan
from bedstone.desk.pre_acts import gate_words
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill, revision_mill
from bedstone.errors import BedstoneError, Unknown
from bedstone.mill.plan import Plan
from bedstone.web.line_view import RunOnLine, rate_to_run, runs_on_lines

if TYPE_CHECKING:
    from bedstone.cooling.limits import HourLimit

__all__ = ["PapersOfTheHouse"]


class PapersOfTheHouse:
    """Sheets as PDF, as of the plan's own revision of the tables; refused where a batch would break
    a limit as it stands now.
    """

    def day_sheet(self, record: Record, plan: Plan) -> bytes:
        """The day sheet of a plan."""
        from bedstone.papers.sheets import day_sheet

        refuse_unsafe(record, plan)
        orders = tuple(row.order for row in all_orders(record))
        mill = revision_mill(record, plan.revision)
        return day_sheet(plan, mill, head=record.head(), orders=orders)

    def batch_sheets(self, record: Record, plan: Plan) -> bytes:
        """The sheets of all batches of a plan in one paper."""
        from bedstone.papers.sheets import batch_sheets

        refuse_unsafe(record, plan)
        mill = revision_mill(record, plan.revision)
        standing = find_plan(record, plan.plan)
        gates = gate_words(record, mill, plan.batches)
        return batch_sheets(plan, mill, head=record.head(), standing=standing, gates=gates)

    def batch_sheet(self, record: Record, plan: Plan, batch_id: str) -> bytes:
        """The sheet of one batch."""
        from bedstone.papers.sheets import batch_sheet

        refuse_unsafe(record, plan)
        mill = revision_mill(record, plan.revision)
        standing = find_plan(record, plan.plan)
        gates = gate_words(record, mill, [row for row in plan.batches if row.batch == batch_id])
        return batch_sheet(plan, batch_id, mill, head=record.head(), standing=standing, gates=gates)

    def run_sheet(
        self, record: Record, plan: Plan, run: str, line: str, *, at: dt.datetime
    ) -> bytes:
        """The settings of a run on a pellet line, by the tables as they stand."""
        from bedstone.papers.run_sheet import RunOnSheet, run_sheet

        refuse_unsafe(record, plan)
        mill = current_mill(record)
        parts = [one for one in runs_on_lines(plan, mill) if (one.run.run, one.line) == (run, line)]
        if not parts:
            raise Unknown(
                f"Plan {plan.plan} has no run {run[:40]!r} on a line {line[:40]!r}.",
                do="choose a run on the page of the pellet line",
            )
        first, last = parts[0], parts[-1]
        limits = _limits(record, first, last.end_at)
        settings, why = _settings_at_rate(record, first, limits)
        says = line_says(record, line)
        on = RunOnSheet(
            run=first.run,
            line=line,
            start_at=first.start_at,
            end_at=last.end_at,
            planned_kg_s=first.rate_kg_s,
            settings=settings,
            limits=limits,
            rate_why=why,
            durability=durability_ahead(record, settings, says),
            load=load_ahead(record, settings, says),
            start=_begun(record, first, settings.rate_kg_s),
            heating=heating_in(record, first.run.finished_bin, at=at),
        )
        return run_sheet(plan, mill, on, head=record.head())


def _settings_at_rate(
    record: Record, first: RunOnLine, limits: "tuple[HourLimit, ...]"
) -> tuple[LineSettings, str]:
    """The settings at the rate to run in its slowest hour, and what binds that rate."""
    product, line, at = first.run.product, first.line, first.start_at
    settings = settings_for(record, product, line, at=at)
    slow = min(limits, key=lambda row: row.rate_kg_s, default=None)
    rate = rate_to_run(
        settings.rate_kg_s, first.rate_kg_s, slow, is_trusted=settings.factors.is_trusted
    )
    if rate.rate_kg_s < settings.rate_kg_s:
        settings = settings_for(record, product, line, at=at, rate_kg_s=rate.rate_kg_s)
    return settings, rate.why


def _begun(record: Record, first: RunOnLine, rate_kg_s: float) -> RunStart | None:
    """How the run begins and ends at the cooler; None where that could not be reckoned."""
    product, line, at = first.run.product, first.line, first.start_at
    try:
        return start_of_run(record, product, line, at=at, rate_kg_s=rate_kg_s)
    except BedstoneError:
        return None


def _limits(record: Record, first: RunOnLine, end_at: dt.datetime) -> "tuple[HourLimit, ...]":
    """What the cooler lets through in the hours of a run; nothing where no weather is on record."""
    floor = first.start_at.replace(minute=0, second=0, microsecond=0)
    hours = max(1, math.ceil((end_at - floor).total_seconds() / 3600))
    try:
        found = cooler_hours(record, at=floor, hours=hours, products=(first.run.product,))
    except BedstoneError:
        return ()
    return tuple(row for row in found.limits if row.line == first.line)
