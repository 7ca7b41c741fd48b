"""All that is on record of a run on its pellet line: readings, findings, water, where it went."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from bedstone.desk.assays import assays
from bedstone.desk.folding import folded
from bedstone.desk.formula_prices import price_of
from bedstone.desk.line_factors import line_factors
from bedstone.desk.line_findings import plain_findings, read_findings
from bedstone.desk.line_readings import RunRead, read_of_run, runs_of_line
from bedstone.desk.line_sent import Sent, now_of, where_sent
from bedstone.desk.line_tests import durability_tests
from bedstone.desk.line_water import is_as_read, keeps_pellets, line_water, pelletings
from bedstone.desk.line_whereabouts import Whereabouts
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.desk.readings import READINGS
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import NoAnswer, Unknown
from bedstone.ledger.model import Recorded
from bedstone.mill.model import Mill
from bedstone.mill.plan import Finding, Verdict
from bedstone.mill.readings import ReadingRow

__all__ = [
    "ReadingFact",
    "RunLogged",
    "RunWater",
    "facts_of_run",
    "logged_runs",
    "run_logged",
    "to_act_on",
]

MG_IN_T = 1e9
_KEPT: WeakKeyDictionary[
    Record, dict[tuple[str, str], tuple[tuple[object, ...], tuple[Finding, ...]]]
] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True)
class RunWater:
    """Weight that a run gained and lost on its line, as the ledger has it."""

    mash_mg: int
    steam_mg: int
    air_mg: int  # water that left with the air
    air_sd_mg: int
    dust_mg: int
    pellets_mg: int
    by_readings: bool  # reckoned; else metered and weighed
    is_as_read: bool  # what was reckoned is what the readings give
    keeps_pellets: bool  # so much has left its bin that pellets stay as they were booked
    unread: tuple[str, ...]  # of what was reckoned: quantities for which a setting stands
    usd_t: float | None  # cost of the mash; None where it has none

    @property
    def gained_mg(self) -> int:
        """Pellets over mash; below nothing where weight was lost."""
        return self.pellets_mg - self.mash_mg

    @property
    def gained_usd(self) -> float | None:
        """What that is worth at the cost of the mash."""
        return None if self.usd_t is None else self.gained_mg / MG_IN_T * self.usd_t


@dataclass(frozen=True, slots=True, kw_only=True)
class RunLogged:
    """A run on a line."""

    run: str
    product: str
    line: str
    at: dt.datetime  # of its middle reading
    read: RunRead
    findings: tuple[Finding, ...]
    water: RunWater | None  # None until it is pelleted
    sent: tuple[Sent, ...]
    now: Whereabouts


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingFact:
    """A fact that holds readings of a run, and of how many others."""

    position: int
    quantity: str
    by: str
    recorded_at: dt.datetime
    readings: int
    other_runs: int


def logged_runs(
    record: Record,
    *,
    line: str = "",
    run: str = "",
    since: dt.datetime | None = None,
    before: dt.datetime | None = None,
    most: int | None = None,
    with_findings: bool = False,
) -> tuple[RunLogged, ...]:
    """Runs with readings, the newest first: of one line or all, one run or all, since a moment and
    before another; all of them, or those alone of which something is to be said.
    """
    lines = [row.line for row in current_mill(record).pellet_lines if line in ("", row.line)]
    read = [
        one
        for code in lines
        for one in runs_of_line(record, code)
        if run in ("", one.run)
        and (since is None or one.at >= since)
        and (before is None or one.at < before)
    ]
    read.sort(key=lambda one: (one.at, one.run), reverse=True)
    if with_findings:
        read = [one for one in read if _findings(record, one)]
    return tuple(_logged(record, one) for one in read[:most])


def to_act_on(record: Record, *, since: dt.datetime) -> tuple[Finding, ...]:
    """What was sent on too warm or too damp since a moment, and motors over their plate."""
    return tuple(
        finding
        for row in current_mill(record).pellet_lines
        for read in runs_of_line(record, row.line)
        if read.at >= since
        for finding in plain_findings(record, read)
        if finding.verdict is Verdict.ACT
    )


def run_logged(record: Record, run: str, line: str) -> RunLogged | None:
    """A run on a line; None if nothing of it was read there."""
    read = read_of_run(record, run, line)
    return None if read is None else _logged(record, read)


def _findings(record: Record, read: RunRead) -> tuple[Finding, ...]:
    """What a run's readings say, kept until something that it hangs on changes."""
    kept = _KEPT.setdefault(record, {})
    key, stamp = (read.run, read.line), _stamp(record, read)
    known = kept.get(key)
    if known is None or known[0] != stamp:
        known = kept[key] = stamp, read_findings(record, read)
    return known[1]


def _stamp(record: Record, read: RunRead) -> tuple[object, ...]:
    """All that the findings of a run hang on, short."""
    rows = tuple(sorted(read.rows.items()))
    hours = {row.at.replace(minute=0, second=0, microsecond=0) for _, row in _each(read)}
    weather = weather_by_hour(record)
    same = [run for run in runs_of_line(record, read.line) if run.product == read.product]
    return (
        current_mill(record).revision,
        line_factors(record, read.line).position,
        len(assays(record)),
        len(durability_tests(record)),
        sum(1 for run in same if run.at < read.at),
        tuple(one.recorded.position for one in pelletings(record, read.run)),
        now_of(record, read.run, read.line),
        rows,
        read.left_out,
        tuple(weather[hour][-1] for hour in sorted(hours) if weather.get(hour)),
    )


def _each(read: RunRead) -> Iterable[tuple[str, ReadingRow]]:
    return ((name, row) for name, rows in read.rows.items() for row in rows)


def _logged(record: Record, read: RunRead) -> RunLogged:
    return RunLogged(
        run=read.run,
        product=read.product,
        line=read.line,
        at=read.at,
        read=read,
        findings=_findings(record, read),
        water=run_water(record, read.run, read.line),
        sent=where_sent(record, read.run, read.line),
        now=now_of(record, read.run, read.line),
    )


def run_water(record: Record, run: str, line: str) -> RunWater | None:
    """Weight that a run gained and lost on a line; None until it is pelleted there."""
    done = [one for one in pelletings(record, run) if one.line == line]
    if not done:
        return None
    rows = [row for one in done for row in one.batches]
    by_readings = any(one.by_readings for one in done)
    gone = [
        move
        for one in done
        for move in one.recorded.fact.movements
        if (move.to_place, move.material) == ("air", "water")
    ]
    mill = current_mill(record)
    return RunWater(
        mash_mg=sum(row.in_mg for row in rows),
        steam_mg=sum(row.steam_mg for row in rows),
        air_mg=sum(move.mass_mg for move in gone),
        # readings of a run are off together: its batches' errors add up
        air_sd_mg=sum(move.mass_sd_mg for move in gone),
        dust_mg=sum(row.dust_mg for row in rows),
        pellets_mg=sum(row.out_mg for row in rows),
        by_readings=by_readings,
        is_as_read=by_readings and all(is_as_read(record, one) for one in done if one.by_readings),
        keeps_pellets=any(keeps_pellets(record, one) for one in done),
        unread=_unread(record, run, line, done[0].product) if by_readings else (),
        usd_t=_cost(mill, done[0].product, done[0].recorded.fact.happened_at),
    )


def _unread(record: Record, run: str, line: str, product: str) -> tuple[str, ...]:
    try:
        return line_water(record, run, line, product).unread
    except Unknown:
        return ()


def _cost(mill: Mill, product: str, at: dt.datetime) -> float | None:
    try:
        return price_of(mill, product, on=at.astimezone(mill.settings.zone).date()).price_usd_t
    except NoAnswer:
        return None


def facts_of_run(record: Record, run: str) -> tuple[ReadingFact, ...]:
    """The facts that hold readings of a run, in order of the journal."""

    def note(
        before: Mapping[str, tuple[ReadingFact, ...]], facts: Iterable[Recorded]
    ) -> Mapping[str, tuple[ReadingFact, ...]]:
        found = dict(before)
        for item in facts:
            named = _runs_in(item)
            for name, count in named.items():
                found[name] = (*found.get(name, ()), _fact(item, count, len(named) - 1))
        return found

    start: Mapping[str, tuple[ReadingFact, ...]] = {}
    kept = folded(record, "facts of runs", kinds=(READINGS,), start=start, fold=note)
    return kept.get(run, ())


def _runs_in(item: Recorded) -> dict[str, int]:
    rows = item.fact.content.get("rows")
    found: dict[str, int] = {}
    for row in rows if isinstance(rows, list) else ():
        if isinstance(row, list) and row[2]:
            found[str(row[2])] = found.get(str(row[2]), 0) + 1
    return found


def _fact(item: Recorded, readings: int, others: int) -> ReadingFact:
    return ReadingFact(
        position=item.position,
        quantity=str(item.fact.content["quantity"]),
        by=item.fact.by,
        recorded_at=item.recorded_at,
        readings=readings,
        other_runs=others,
    )
