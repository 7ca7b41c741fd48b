"""Water of a run on its pellet line: by readings, booked, and booked again when readings come."""

import datetime as dt
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from bedstone.desk.folding import folded
from bedstone.desk.line_model import (
    best_rate_kg_s,
    conditioned,
    mash_before_steam_c,
    pellets_row,
)
from bedstone.desk.line_readings import RunRead, read_of_run
from bedstone.desk.line_whereabouts import lying_of
from bedstone.desk.made import made_batches
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.desk.readings import READINGS
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.runs import RUN_PELLETED, PelletedBatch, pelleted_movements
from bedstone.errors import BadInput, Conflict, Unknown
from bedstone.ledger.model import Fact, How, Movement, Recorded
from bedstone.ledger.reversal import reversal_of

__all__ = [
    "LineWater",
    "Pelleted",
    "book_water_again",
    "is_as_read",
    "keeps_pellets",
    "line_water",
    "mash_c_of",
    "pelleted_by_readings",
    "pelletings",
    "runs_named",
    "usual_mash_c",
]

STEAM_SD_FRAC = 0.05
STEAM_UNREAD_SD_FRAC = 0.15
MOISTURE_SD_WB = 0.006
MOISTURE_UNREAD_SD_WB = 0.015
"""Steam by a conditioner's balance, and moisture of mash and pellets together; wider where neither
was read and the settings stand for it: common practice, no source.
"""
WHY = "readings of the run came later"
TRIES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class LineWater:
    """What is known of a run's water: steam for each kilogram of mash, moisture at both ends."""

    run: str
    steam_frac: float
    steam_sd_frac: float  # of the mash
    mash_wb: float
    outlet_wb: float
    outlet_sd_wb: float
    unread: tuple[str, ...]  # quantities for which a setting stands


@dataclass(frozen=True, slots=True, kw_only=True)
class Pelleted:
    """A fact that says that batches of a run went over a line, as it stands."""

    recorded: Recorded
    run: str
    product: str
    line: str
    from_place: str
    to_place: str
    batches: tuple[PelletedBatch, ...]
    by_readings: bool  # steam or pellets of some batch are reckoned


def pelletings(record: Record, run: str) -> tuple[Pelleted, ...]:
    """What was pelleted of a run, in order of the journal."""

    def note(
        before: Mapping[str, tuple[Pelleted, ...]], facts: Iterable[Recorded]
    ) -> Mapping[str, tuple[Pelleted, ...]]:
        found = dict(before)
        for item in facts:
            one = _pelleted(item)
            found[one.run] = (*found.get(one.run, ()), one)
        return found

    start: Mapping[str, tuple[Pelleted, ...]] = {}
    kept = folded(record, "pelletings", kinds=(RUN_PELLETED,), start=start, fold=note)
    return kept.get(run, ())


def _pelleted(item: Recorded) -> Pelleted:
    content = item.fact.content
    product, line = str(content["product"]), str(content["machine"])
    by_lot: dict[str, list[Movement]] = {}
    for move in item.fact.movements:
        by_lot.setdefault(move.lot or "", []).append(move)
    rows = tuple(_batch(lot, moves, line=line) for lot, moves in by_lot.items())
    return Pelleted(
        recorded=item,
        run=str(content["run"]),
        product=product,
        line=line,
        from_place=str(content["from"]),
        to_place=str(content["to"]),
        batches=rows,
        by_readings=any(row.steam_sd_mg or row.out_sd_mg for row in rows),
    )


def _batch(lot: str, moves: Sequence[Movement], *, line: str) -> PelletedBatch:
    """A batch as it was booked; what was metered or weighed has no deviation of a reckoning."""
    mass = dict.fromkeys(("in", "steam", "water", "dust", "out"), 0)
    sd = dict(mass)
    for move in moves:
        name = "out"
        if move.from_place == "steam":
            name = "steam"
        elif move.to_place == line:
            name = "in"
        elif move.to_place == "air":
            name = "water" if move.material == "water" else "dust"
        mass[name] += move.mass_mg
        sd[name] += move.mass_sd_mg if move.how is How.RECKONED else 0
    return PelletedBatch(
        batch=lot,
        in_mg=mass["in"],
        steam_mg=mass["steam"],
        dust_mg=mass["dust"],
        out_mg=mass["out"],
        steam_sd_mg=sd["steam"],
        out_sd_mg=sd["out"],
    )


def line_water(record: Record, run: str, line: str, product: str) -> LineWater:
    """What readings say of a run's water; where a quantity was not read, what is set or usual.

    Steam is the flow that was read, or what the conditioner's balance takes for the temperature
    that was read, or that is set. Without a moisture read at the outlet the pellets are taken to
    leave as moist as the mash came (common practice, no source).
    """
    mill = current_mill(record)
    read = read_of_run(record, run, line) or RunRead(run=run, product=product, line=line, rows={})
    outlet_wb = read.mean("cooler outlet moisture")
    cond_c, flow = read.mean("conditioner temperature"), read.mean("steam flow")
    rate = read.mean("mash flow") or best_rate_kg_s(mill, product, line)
    made = conditioned(
        mill,
        product,
        line,
        rate_kg_s=rate,
        mash_c=mash_c_of(record, read),
        wanted_c=pellets_row(mill, product).conditioning_c if cond_c is None else cond_c,
        moisture_wb=read.mean("mash moisture"),
    )
    feed_wb = made.moisture_wb * (1 + made.steam_share) - made.steam_share  # before the steam
    is_read = flow is not None or cond_c is not None
    share = made.steam_share if flow is None else flow / rate
    unread = ["cooler outlet moisture"] if outlet_wb is None else []
    return LineWater(
        run=run,
        steam_frac=share,
        steam_sd_frac=share * (STEAM_SD_FRAC if is_read else STEAM_UNREAD_SD_FRAC),
        mash_wb=feed_wb,
        outlet_wb=feed_wb if outlet_wb is None else outlet_wb,
        outlet_sd_wb=MOISTURE_UNREAD_SD_WB if outlet_wb is None else MOISTURE_SD_WB,
        unread=(*unread, *(() if is_read else ("conditioner temperature",))),
    )


def mash_c_of(record: Record, read: RunRead) -> float:
    """Mash before steam: as it was read, else as the tables and the air have it. [degrees C]"""
    mash_c = read.mean("mash temperature")
    return usual_mash_c(record, read) if mash_c is None else mash_c


def usual_mash_c(record: Record, read: RunRead) -> float:
    """Mash before steam as the tables and the air of its hour have it. [degrees C]"""
    hour = None
    if read.rows:
        at = read.at.replace(minute=0, second=0, microsecond=0)
        hour = weather_by_hour(record).get(at)
    outside_c = None if hour is None else hour[-1].temperature_c
    return mash_before_steam_c(current_mill(record), read.line, outside_c)


def pelleted_by_readings(
    record: Record,
    run: str,
    line: str,
    mash_mg: Mapping[str, int],
    *,
    steam_mg: Mapping[str, int] | None = None,
    dust_mg: Mapping[str, int] | None = None,
    out_mg: Mapping[str, int] | None = None,
) -> tuple[PelletedBatch, ...]:
    """Batches of a run over a line as its readings have their water, for ``record_pelleted``.

    Pellets hold the dry matter of the mash at the moisture that was read at the outlet. What
    steam brought and pellets do not hold left with the air, so mass stays accounted for. What was
    metered or weighed is taken as it is.

    Raises
    ------
    BadInput
        If the tables do not know the line or the product, or its pellets would weigh more than
        mash and steam.
    """
    water = None if steam_mg and out_mg else _water_or_words(record, run, line)
    loss_frac = current_mill(record).machine_by_code[line].loss_frac
    return tuple(
        _through(
            PelletedBatch(
                batch=batch,
                in_mg=in_mg,
                steam_mg=steam_mg[batch] if steam_mg else 0,
                dust_mg=dust_mg[batch] if dust_mg else round(in_mg * loss_frac),
                out_mg=out_mg[batch] if out_mg else 0,
                steam_sd_mg=0 if steam_mg else 1,
                out_sd_mg=0 if out_mg else 1,
            ),
            water,
        )
        for batch, in_mg in mash_mg.items()
    )


def _water_or_words(record: Record, run: str, line: str) -> LineWater:
    """The water of a run, or in words why it cannot be reckoned."""
    product = next(
        (m.made.material for m in made_batches(record).values() if m.made.run == run), ""
    )
    try:
        return line_water(record, run, line, product)
    except Unknown as unknown:
        raise BadInput(
            f"The water of run {run} cannot be reckoned.",
            seen=str(unknown.what),
            allowed="a row for the line in pellet_lines.csv and for the product in pellets.csv",
            do="meter the steam and weigh the pellets, or fill those tables",
        ) from unknown


def _through(row: PelletedBatch, water: LineWater | None) -> PelletedBatch:
    """A batch by dry matter, from the moisture of its mash to the one at the outlet; what has no
    deviation was metered or weighed and stays.
    """
    if water is None:
        return row
    steam_mg, steam_sd_mg, out_mg, out_sd_mg = row.steam_mg, 0, row.out_mg, 0
    if row.steam_sd_mg:
        # never nought: a movement must say that it is reckoned, so that it can be booked anew
        steam_mg = max(1, round(row.in_mg * water.steam_frac))
        steam_sd_mg = max(1, round(row.in_mg * water.steam_sd_frac))
    if row.out_sd_mg:
        dry_mg = (row.in_mg - row.dust_mg) * (1 - water.mash_wb)
        out_mg = round(dry_mg / (1 - water.outlet_wb))
        out_sd_mg = max(1, round(out_mg * water.outlet_sd_wb / (1 - water.outlet_wb)))
    if out_mg + row.dust_mg > row.in_mg + steam_mg:
        most_wb = (row.in_mg * water.mash_wb + steam_mg) / (row.in_mg + steam_mg)
        raise BadInput(
            f"Pellets of {row.batch} would weigh more than its mash and steam.",
            seen=f"outlet moisture {100 * water.outlet_wb:.1f} %",
            allowed=f"at most {100 * most_wb:.1f} %, as after the conditioner",
            do="measure the moisture again",
        )
    return replace(
        row, steam_mg=steam_mg, steam_sd_mg=steam_sd_mg, out_mg=out_mg, out_sd_mg=out_sd_mg
    )


def runs_named(recorded: Iterable[Recorded]) -> frozenset[str]:
    """Runs that facts of readings name."""
    found = set()
    for item in recorded:
        rows = item.fact.content.get("rows")
        if item.fact.kind == READINGS and isinstance(rows, list):
            found |= {str(row[2]) for row in rows if isinstance(row, list) and row[2]}
    return frozenset(found)


def book_water_again(
    record: Record, runs: Collection[str], *, by: str, at: dt.datetime
) -> tuple[str, ...]:
    """Book the water of runs anew where readings have come, or gone, since it was booked.

    Each fact of the pelleting of which steam or pellets are reckoned is taken back and recorded
    again at its own time, both in one transaction; what was metered or weighed stays, and pellets
    that have left their bin: water of feed that has gone must not lie in a bin. Where nothing
    would change nothing is recorded, so that this can be done at any time. Returns the
    runs that were booked anew. Records: ``journal.reversed/1``, ``pelleting.run_pelleted/1``.

    Raises
    ------
    Conflict
        If others keep recording faster than the record can be read.
    """
    for _ in range(TRIES):
        head = record.head()
        found = {run: _again(record, run, by=by) for run in sorted(runs)}
        facts = [fact for rows in found.values() for fact in rows]
        if not facts:
            return ()
        try:
            record.append_all(facts, recorded_at=at, after=head.position)
        except Conflict as lost:
            last = lost
        else:
            return tuple(run for run, rows in found.items() if rows)
    raise last


def _again(record: Record, run: str, *, by: str) -> list[Fact]:
    """What takes back and records again the pelleting of a run; nothing where it stands right, or
    where the readings contradict themselves (the findings of the run say so).
    """
    facts: list[Fact] = []
    for one in pelletings(record, run):
        if not one.by_readings:
            continue
        try:
            moved = _moved(record, one)
        except (BadInput, Unknown):
            continue
        old = one.recorded.fact
        if _masses(moved) != _masses(old.movements):
            facts += [
                reversal_of(one.recorded, by=by, why=WHY),
                replace(old, by=by, movements=tuple(moved)),
            ]
    return facts


def is_as_read(record: Record, one: Pelleted) -> bool:
    """Whether what is booked of a pelleting is what the run's readings give."""
    try:
        return _masses(_moved(record, one)) == _masses(one.recorded.fact.movements)
    except (BadInput, Unknown):
        return False


def keeps_pellets(record: Record, one: Pelleted) -> bool:
    """Whether no later reading changes the pellets of a pelleting: reckoned, but what lies of them
    in their bin is no more than they are uncertain by, or less than would be taken away.
    """
    return any(row.out_sd_mg and _has_left(record, one, row, row.out_mg) for row in one.batches)


def _has_left(record: Record, one: Pelleted, row: PelletedBatch, out_mg: int) -> bool:
    lying_mg = lying_of(record, row.batch, one.to_place)
    return lying_mg <= max(2 * row.out_sd_mg, row.out_mg - out_mg)


def _booked_anew(
    record: Record, one: Pelleted, row: PelletedBatch, water: LineWater
) -> PelletedBatch:
    """A batch by the readings; its pellets as they were booked where they have left their bin."""
    new = _through(row, water)
    if not row.out_sd_mg or not _has_left(record, one, row, new.out_mg):
        return new
    kept = _through(replace(row, out_sd_mg=0), water)
    return replace(kept, out_sd_mg=row.out_sd_mg)


def _moved(record: Record, one: Pelleted) -> list[Movement]:
    water = line_water(record, one.run, one.line, one.product)
    units = current_mill(record).settings.units
    known = {_way(move): move for move in one.recorded.fact.movements}
    found = []
    for row in one.batches:
        ends = (one.from_place, one.to_place)
        new = _booked_anew(record, one, row, water)
        for move in pelleted_movements(new, one.product, machine=one.line, ends=ends, units=units):
            old = known.get(_way(move))
            as_it_was = old is not None and old.mass_mg == move.mass_mg and not move.mass_sd_mg
            found.append(old if old is not None and as_it_was else move)
    return found


def _way(move: Movement) -> tuple[str, str, str, str | None]:
    return move.from_place, move.to_place, move.material, move.lot


def _masses(moves: Iterable[Movement]) -> dict[tuple[str, str, str, str | None], tuple[int, int]]:
    return {_way(move): (move.mass_mg, move.mass_sd_mg) for move in moves}
