"""What a pellet line sent on by its readings: too warm, too damp, too dry, unlike its cooler."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product as every_pair

from bedstone.cooling.cooler import cool
from bedstone.cooling.model import DEFAULT_FACTORS, AirIn, Factors
from bedstone.desk.formula_prices import price_of
from bedstone.desk.line_air import air_of
from bedstone.desk.line_factors import line_factors
from bedstone.desk.line_model import (
    best_rate_kg_s,
    conditioned,
    cooler_of,
    hot_pellets,
    limits_of_product,
    pellet_kind,
)
from bedstone.desk.line_readings import RunRead, line_finding
from bedstone.desk.line_water import line_water, mash_c_of, pelletings
from bedstone.desk.line_whereabouts import Whereabouts, where_now
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, NoAnswer
from bedstone.mill.model import Mill
from bedstone.mill.plan import Finding, Verdict
from bedstone.quantities.line_figures import moisture_words, rise_words
from bedstone.quantities.masses import shown_mass

__all__ = ["Sent", "cooler_findings", "now_of", "sent_findings", "where_sent"]

DAMP_WB = 0.135
"""Pellets above this seldom keep in a bag: common practice, no source."""
DAMP_SLACK_WB = 0.005  # of one reading: a meter is seldom nearer
WARM_SLACK_DK = 1.0  # of one reading, that two thermometers may differ
SURE_READINGS = 3  # their mean needs no such slack
MODEL_SLACK_DK = 2.0
DRY_WB = 0.012
"""Drier than their mash by more than mash and pellets are known (twice 0.6 points)."""
KG_IN_T = 1000.0
MG_IN_KG = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """Where pellets of a run went, with the batches that they were made of."""

    place: str
    batches: tuple[str, ...]
    mass_mg: int
    last_at: dt.datetime


def where_sent(record: Record, run: str, line: str) -> tuple[Sent, ...]:
    """Bins that pellets of a run went into from a line, in order of the record."""
    found: dict[str, Sent] = {}
    for one in pelletings(record, run):
        if one.line != line:
            continue
        at = one.recorded.fact.happened_at
        old = found.get(one.to_place, Sent(place=one.to_place, batches=(), mass_mg=0, last_at=at))
        found[one.to_place] = Sent(
            place=one.to_place,
            batches=(*old.batches, *(row.batch for row in one.batches)),
            mass_mg=old.mass_mg + sum(row.out_mg for row in one.batches),
            last_at=max(at, old.last_at),
        )
    return tuple(found.values())


def now_of(record: Record, run: str, line: str) -> Whereabouts:
    """Where pellets of a run from a line are now."""
    done = [one for one in pelletings(record, run) if one.line == line]
    batches = [row.batch for one in done for row in one.batches]
    return where_now(record, run, batches, but={one.from_place for one in done})


def sent_findings(record: Record, read: RunRead) -> tuple[Finding, ...]:
    """What the readings at the outlet of a line's cooler say of what went into the bin: sent too
    warm, sent too damp.
    """
    mill = current_mill(record)
    if all(row.product != read.product for row in mill.pellets):
        return ()
    return (
        *_warm(record, mill, read, _above_air(record, mill, read)),
        *_damp(record, mill, read),
    )


def cooler_findings(record: Record, read: RunRead) -> tuple[Finding, ...]:
    """What the outlet's readings say of the cooler: unlike its model, over-dried, not of a piece
    with mash and steam.
    """
    mill = current_mill(record)
    if all(row.product != read.product for row in mill.pellets):
        return ()
    return (
        *_unlike_cooler(record, mill, read, _above_air(record, mill, read)),
        *_dried(record, mill, read),
    )


def _above_air(record: Record, mill: Mill, read: RunRead) -> tuple[tuple[float, AirIn], ...]:
    """Each reading of the outlet's temperature over the air of its own hour, with that air."""
    known = weather_by_hour(record)
    found = []
    for row in read.rows.get("cooler outlet temperature", ()):
        rows = known.get(row.at.replace(minute=0, second=0, microsecond=0))
        if rows:
            air = air_of(mill, rows[-1])
            found.append((row.value - air.temperature_c, air))
    return tuple(found)


def _warm(
    record: Record, mill: Mill, read: RunRead, above: Sequence[tuple[float, AirIn]]
) -> Iterator[Finding]:
    if not above:
        return
    units = mill.settings.units
    mean_dk, worst_dk = sum(row[0] for row in above) / len(above), max(row[0] for row in above)
    most_dk = limits_of_product(mill, read.product).above_ambient_dk
    is_warm = mean_dk > most_dk and len(above) >= SURE_READINGS
    if not is_warm and worst_dk <= most_dk + WARM_SLACK_DK:
        return
    over = sum(1 for row in above if row[0] > most_dk)
    yield line_finding(
        "line.sent_warm",
        Verdict.ACT,
        read,
        f"Pellets left {read.line} up to {rise_words(worst_dk, units)} warmer than the air "
        f"({rise_words(mean_dk, units)} on average, {over} of {len(above)} readings too warm); "
        f"{rise_words(most_dk, units)} is the most. {_whither(record, mill, read)}",
        (worst_dk, most_dk, "K"),
        f"{_act_on(record, mill, read, 'warm')}; at the cooler look for a blocked air intake, a low "
        "bed, a level sensor",
        rule="pellets table, most above the air of the hour",
    )


def _whither(record: Record, mill: Mill, read: RunRead) -> str:
    """Into which bins the pellets went, and of which batches they were."""
    sent = where_sent(record, read.run, read.line)
    if not sent:
        return "Where they went is not on record yet."
    said = (
        f"{shown_mass(row.mass_mg, units=mill.settings.units)} into {mill.name_of(row.place)} "
        f"(batches {', '.join(row.batches)})"
        for row in sent
    )
    now = now_of(record, read.run, read.line)
    return f"They went {'; '.join(said)}. {now.said(mill)}"


def _act_on(record: Record, mill: Mill, read: RunRead, how: str) -> str:
    """What to do with such pellets where they are now."""
    now = now_of(record, read.run, read.line)
    in_bulk = any(row.kind != "warehouse" for row in now.lying)
    bagged = any(row.kind == "warehouse" for row in now.lying)
    warm, todo = how == "warm", []
    if warm and in_bulk:
        todo.append("watch that bin tonight (page Warm bin) and move or ventilate it if it sweats")
    if warm and bagged:
        todo.append("feel the bags and open one: damp or warm ones go apart")
    if not warm and now.lying:
        todo.append("hold it until the laboratory has looked")
    if call := now.call(mill):
        what = "their bin or bags may have sweated" if warm else "it may not keep"
        todo.append(f"{call}: {what}, look for crust, mould and smell before it is fed")
    if not todo:
        todo.append("find where it is (page Trace)" if warm else "find and hold it (page Trace)")
    return "; ".join(todo)


def _unlike_cooler(
    record: Record, mill: Mill, read: RunRead, above: Sequence[tuple[float, AirIn]]
) -> Iterator[Finding]:
    """The outlet against the cooler's model in that air; beyond its whole interval only."""
    cond_c = read.mean("conditioner temperature")
    lines = {row.line for row in mill.coolers} & {row.line for row in mill.pellet_lines}
    if not above or cond_c is None or read.line not in lines:
        return
    known = line_factors(record, read.line)
    factors = known.factors if known.is_trusted else DEFAULT_FACTORS
    air = sorted(above, key=lambda row: row[1].temperature_c)[len(above) // 2][1]
    try:
        low_dk, high_dk = _interval_dk(record, mill, read, air, factors)
    except (BadInput, NoAnswer):
        return  # what was read cannot be cooled at all: a slip, or another hour's air
    mean_dk = sum(row[0] for row in above) / len(above)
    if low_dk - MODEL_SLACK_DK <= mean_dk <= high_dk + MODEL_SLACK_DK:
        return
    units = mill.settings.units
    state = "calibrated" if known.is_trusted else "not calibrated, the wide range of coolers"
    low, high = rise_words(low_dk, units), rise_words(high_dk, units)
    yield line_finding(
        "line.cooler",
        Verdict.NOTE,
        read,
        f"Pellets left {read.line} {rise_words(mean_dk, units)} above the air; by its cooler they "
        f"should leave {f'about {low}' if low == high else f'{low} to {high}'} above it ({state}).",
        (mean_dk, high_dk if mean_dk > high_dk else low_dk, "K"),
        "look at fan, air intake, bed level and spreading; then at the thermometer"
        if mean_dk > high_dk
        else "check the thermometer, and whether the rate was what the tables have",
        rule=f"the cooler's balance, {factors.source}",
    )


def _interval_dk(
    record: Record, mill: Mill, read: RunRead, air: AirIn, factors: Factors
) -> tuple[float, float]:
    """Pellets over the air at the outlet, between the ends of both factors."""
    rate = read.mean("mash flow") or best_rate_kg_s(mill, read.product, read.line)
    cond_c = read.mean("conditioner temperature") or 0.0
    made = conditioned(
        mill,
        read.product,
        read.line,
        rate_kg_s=rate,
        mash_c=mash_c_of(record, read),
        wanted_c=cond_c,
        moisture_wb=read.mean("mash moisture"),
    )
    hot = hot_pellets(mill, read.product, made)
    die_c = read.mean("die temperature")
    if die_c is not None:
        hot = replace(hot, temperature_c=die_c)
    pellet = pellet_kind(mill, read.product)
    cooler = cooler_of(mill, read.line, pellet, air, hot, factors=factors)
    ends = [
        cool(cooler, pellet, hot, air, replace(factors, heat=heat, moisture=moisture))[0]
        for heat, moisture in every_pair(
            (factors.heat_lo, factors.heat_hi), (factors.moisture_lo, factors.moisture_hi)
        )
    ]
    rises = [one.above_ambient_dk for one in ends]
    return min(rises), max(rises)


def _damp(record: Record, mill: Mill, read: RunRead) -> Iterator[Finding]:
    rows = [row.value for row in read.rows.get("cooler outlet moisture", ())]
    if not rows:
        return
    mean_wb, worst_wb = sum(rows) / len(rows), max(rows)
    if mean_wb <= DAMP_WB and worst_wb <= DAMP_WB + DAMP_SLACK_WB:
        return
    over = sum(1 for value in rows if value > DAMP_WB)
    of_them = (
        f", up to {moisture_words(worst_wb)} in {over} of {len(rows)} readings"
        if len(rows) > 1
        else ""
    )
    yield line_finding(
        "line.sent_damp",
        Verdict.ACT,
        read,
        f"Pellets left {read.line} with {moisture_words(mean_wb)} moisture{of_them}; "
        f"{moisture_words(DAMP_WB)} is the most that keeps. {_whither(record, mill, read)}",
        (worst_wb, DAMP_WB, "kg/kg"),
        f"{_act_on(record, mill, read, 'damp')}; slow the line",
        rule="common practice, no source",
    )


def _dried(record: Record, mill: Mill, read: RunRead) -> Iterator[Finding]:
    seen_wb = read.mean("cooler outlet moisture")
    if seen_wb is None or all(row.line != read.line for row in mill.pellet_lines):
        return
    water = line_water(record, read.run, read.line, read.product)
    most_wb = (water.mash_wb + water.steam_frac) / (1 + water.steam_frac)
    if seen_wb > most_wb:
        yield _contradiction(read, seen_wb, most_wb)
    elif seen_wb < min(water.mash_wb, DAMP_WB) - DRY_WB:
        yield _over_dried(record, mill, read, (seen_wb, min(water.mash_wb, DAMP_WB)))


def _contradiction(read: RunRead, seen_wb: float, most_wb: float) -> Finding:
    return line_finding(
        "line.water",
        Verdict.NOTE,
        read,
        f"Pellets were read at {moisture_words(seen_wb)} moisture behind the cooler; mash and "
        f"steam can give {moisture_words(most_wb)} at most before it. The water of the run is not "
        "booked by these readings.",
        (seen_wb, most_wb, "kg/kg"),
        "measure the moisture again; check conditioner thermometer and steam meter",
        rule="dry matter is the same before and after",
    )


def _over_dried(record: Record, mill: Mill, read: RunRead, waters: tuple[float, float]) -> Finding:
    seen_wb, usual_wb = waters
    out_mg = sum(row.mass_mg for row in where_sent(record, read.run, read.line))
    lost_mg = round(out_mg * (1 - seen_wb) / (1 - usual_wb)) - out_mg
    worth = _worth(mill, read, lost_mg)
    given = (
        f" {shown_mass(lost_mg, units=mill.settings.units)} of weight was given to the air{worth}."
        if lost_mg
        else ""
    )
    return line_finding(
        "line.over_dried",
        Verdict.NOTE,
        read,
        f"Pellets left {read.line} with {moisture_words(seen_wb)} moisture, "
        f"{100 * (usual_wb - seen_wb):.1f} points drier than their mash.{given}",
        (seen_wb, usual_wb, "kg/kg"),
        "less air or a lower bed, as long as pellets leave cool enough; then check the mash",
        rule=f"mash of the running formula, more than {100 * DRY_WB:.1f} points below it",
    )


def _worth(mill: Mill, read: RunRead, mass_mg: int) -> str:
    day = read.at.astimezone(mill.settings.zone).date()
    try:
        price_usd_t = price_of(mill, read.product, on=day).price_usd_t
    except NoAnswer:
        return ""
    return f", ${mass_mg / MG_IN_KG / KG_IN_T * price_usd_t:,.0f} at the cost of the mash"
