"""The lots that passed a machine since something of it went wrong: a dial, a mixer, a bag scale."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.desk.made import BatchOnRecord, made_batches
from bedstone.desk.record import Record
from bedstone.desk.runs import RUN_PACKED, RUN_PELLETED
from bedstone.desk.watch_lots import (
    LikelyLevel,
    TouchedBatch,
    TouchedRun,
    bags_of_runs,
    where_now,
)
from bedstone.formulation.measures import odds_of
from bedstone.mill.model import Mill
from bedstone.mill.plan import BatchKind

__all__ = ["touched_bags", "touched_over"]

MG_KG, LB_KG = 1e6, 0.45359237


def touched_bags(
    record: Record,
    mill: Mill,
    packer: str,
    *,
    since: dt.datetime,
    surely: dt.datetime,
    more_frac: float,
    more_sd_frac: float,
) -> tuple[TouchedRun, ...]:
    """Runs that a bag scale filled since it likely went wrong, with the likely net content."""
    by_run, packed_at = _over(record, packer, since)
    where, bags = where_now(record, mill, by_run), bags_of_runs(record)
    found = [
        TouchedRun(
            run=run,
            product=rows[0].made.material,
            batches=_filled(
                rows,
                bags.get(run, 0) * level.minimum_kg,
                more_frac,
                is_sure=packed_at[run] >= surely,
            ),
            bags=bags.get(run, 0),
            levels=(level.level,),
            unknown=(),
            where=tuple(where.get(run, ())),
        )
        for run, rows in by_run.items()
        if rows and (level := _net(mill, rows[0].made.material, more_frac, more_sd_frac))
    ]
    return tuple(sorted(found, key=lambda row: (packed_at[row.run], row.run)))


def touched_over(
    record: Record, mill: Mill, machine: str, *, since: dt.datetime, surely: dt.datetime
) -> tuple[TouchedRun, ...]:
    """Runs that passed a machine since a dial or mixer of it likely went wrong."""
    by_run, passed_at = _over(record, machine, since)
    where, bags = where_now(record, mill, by_run), bags_of_runs(record)
    return tuple(
        TouchedRun(
            run=run,
            product=rows[0].made.material,
            batches=_filled(
                rows,
                sum(row.mass_mg for row in rows) / MG_KG,
                0.0,
                is_sure=passed_at[run] >= surely,
            ),
            bags=bags.get(run, 0),
            levels=(),
            unknown=(),
            where=tuple(where.get(run, ())),
        )
        for run, rows in sorted(by_run.items(), key=lambda pair: passed_at[pair[0]])
        if rows
    )


def _over(
    record: Record, machine: str, since: dt.datetime
) -> tuple[dict[str, list[BatchOnRecord]], dict[str, dt.datetime]]:
    """Batches by run that were mixed, pelleted or packed on a machine since a moment, and when."""
    batches = made_batches(record)
    by_run: dict[str, list[BatchOnRecord]] = {}
    last: dict[str, dt.datetime] = {}
    for row in batches.values():
        is_feed = row.made.kind is BatchKind.FEED
        if is_feed and row.made.mixer == machine and row.happened_at >= since:
            run = row.made.run or row.made.batch
            by_run.setdefault(run, []).append(row)
            last[run] = max(last.get(run, row.happened_at), row.happened_at)
    for item in record.facts(kinds=(RUN_PACKED, RUN_PELLETED)):
        content, at = item.fact.content, item.fact.happened_at
        listed = content["batches"]
        if content["machine"] != machine or at < since or not isinstance(listed, list):
            continue
        run = str(content["run"])
        rows = by_run.setdefault(run, [])
        rows += [batches[str(code)] for code in listed if str(code) in batches]
        last[run] = max(last.get(run, at), at)
    return by_run, last


@dataclass(frozen=True, slots=True)
class _Net:
    minimum_kg: float
    level: LikelyLevel


def _net(mill: Mill, product: str, more_frac: float, more_sd_frac: float) -> _Net | None:
    """The net content that stands on a bag, and the likely mean one; None for what is not bagged."""
    row = mill.product_by_code.get(product)
    if row is None or not row.pack_kg:
        return None
    is_us = mill.settings.units == "US"
    net = row.pack_kg / LB_KG if is_us else row.pack_kg
    return _Net(
        row.pack_kg,
        LikelyLevel(
            nutrient="mean net content of a bag",
            unit="lb" if is_us else "kg",
            minimum=net,
            maximum=None,
            booked=net,
            likely=net * (1 + more_frac),
            sd=net * more_sd_frac,
            odds_booked_frac=1.0,
            odds_likely_frac=odds_of(more_frac, more_sd_frac),
        ),
    )


def _filled(
    rows: Sequence[BatchOnRecord], filled_kg: float, more_frac: float, *, is_sure: bool
) -> tuple[TouchedBatch, ...]:
    """Batches of a run that was bagged, each with its share of the bags."""
    share_kg = filled_kg / len(rows)
    return tuple(
        TouchedBatch(
            batch=row.made.batch,
            made_at=row.happened_at,
            mass_kg=row.mass_mg / MG_KG,
            read_kg=share_kg,
            likely_kg=share_kg * (1 + more_frac),
            is_sure=is_sure,
        )
        for row in rows
    )
