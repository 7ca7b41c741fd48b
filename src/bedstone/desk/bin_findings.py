"""Bins that hold pellets, and bins that read hot: how warm it went in and reads, and what is odd."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace

from bedstone.cooling.after_cooler import HOT_ADVICE, HOT_C
from bedstone.desk.line_readings import RunRead, runs_of_line
from bedstone.desk.line_sent import sent_findings
from bedstone.desk.made import made_batches
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.readings import readings, series
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.stock import BinView, bins_view
from bedstone.errors import Unknown
from bedstone.mill.model import Bin, Mill
from bedstone.mill.plan import Finding, Verdict
from bedstone.mill.readings import ReadingRow
from bedstone.quantities.line_figures import rise_words, temperature_words

__all__ = [
    "HEATING",
    "PelletBin",
    "bins_with_pellets",
    "findings_of_bins",
    "heating_in",
    "last_temperature",
    "pellet_bin",
]

HEATING = ("bin.hot", "bin.warming")
QUANTITY = "bin temperature"
PELLETS = ("pellet", "textured")
FRESH = dt.timedelta(hours=72)
"""Pellets that went in warm are looked at for so long: common practice, no source."""
LOOKED_AT = dt.timedelta(days=7)
REMAINDER_FRAC, REMAINDER_KG = 0.005, 45.0
"""Less than this part of what a bin holds, or less than this, the books cannot tell from an empty bin:
weighing, dust and water that is booked again leave it. Common practice, no source."""
RISE_DK = 5.0
RISE_WITHIN = dt.timedelta(days=3)
"""A bin that warms by this much in this time without being filled heats itself: common practice,
no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PelletBin:
    """A bin that holds pellets by the books."""

    bin: Bin
    material: str
    mass_mg: int
    filled_at: dt.datetime | None  # when the last of it came
    runs: tuple[str, ...]  # that lie in it, that which comes out first first
    read: tuple[RunRead, ...]  # what was read of them on their line
    temperature: ReadingRow | None  # the last one read in the bin since then
    findings: tuple[Finding, ...]

    @property
    def least_kg(self) -> float:
        """What the books must have in it to tell it from an empty bin."""
        return max(REMAINDER_KG, REMAINDER_FRAC * self.bin.capacity_kg)

    @property
    def is_remainder(self) -> bool:
        """Whether so little is left of it by the books that the bin may be empty."""
        return self.mass_mg < self.least_kg * MG_IN_KG


def bins_with_pellets(record: Record, *, at: dt.datetime) -> tuple[PelletBin, ...]:
    """Every bin of loose pellets by the books, in order of the table. Nothing is recorded."""
    mill = current_mill(record)
    found = []
    for view in bins_view(record):
        product = mill.product_by_code.get(view.material)
        is_pellets = product is not None and product.form in PELLETS
        if view.bin.kind == "finished" and view.mass_mg > 0 and is_pellets:
            found.append(_pellet_bin(record, mill, view, at))
    return tuple(found)


def pellet_bin(record: Record, code: str, *, at: dt.datetime) -> PelletBin:
    """One bin that holds pellets by the books.

    Raises
    ------
    Unknown
        If the mill has no such bin, or it holds no pellets.
    """
    every = bins_with_pellets(record, at=at)
    for one in every:
        if one.bin.bin == code:
            return one
    mill = current_mill(record)
    view = next((one for one in bins_view(record) if one.bin.bin == code), None)
    if view is None:
        seen = f"the mill has no bin {code[:40]!r}"
    elif view.mass_mg <= 0:
        seen = f"{code} is empty by the books"
    else:
        seen = f"{code} holds {mill.name_of(view.material)}"
    raise Unknown(
        "No pellets lie in this bin.",
        seen=seen,
        allowed=", ".join(one.bin.bin for one in every) or "no bin holds pellets by the books",
        do="choose another bin, or type the figures of the pellets without one",
    )


def findings_of_bins(record: Record, *, at: dt.datetime) -> Mapping[str, tuple[Finding, ...]]:
    """What is odd about the heat of each bin, whatever lies in it; bins of which nothing is are
    left out. Nothing is recorded.
    """
    mill = current_mill(record)
    found = {one.bin.bin: one.findings for one in bins_with_pellets(record, at=at)}
    read = {place for place, quantity in series(record) if quantity == QUANTITY} - set(found)
    for view in bins_view(record) if read else ():
        if view.bin.bin in read and view.mass_mg > 0:
            found[view.bin.bin] = tuple(_by_thermometer(mill, view, record, at))
    return {code: rows for code, rows in found.items() if rows}


def heating_in(record: Record, code: str, *, at: dt.datetime) -> tuple[Finding, ...]:
    """That a bin reads hot or warms by itself: then nothing may run into it. Nothing is recorded."""
    found = findings_of_bins(record, at=at).get(code, ())
    return tuple(one for one in found if one.code in HEATING)


def last_temperature(record: Record, code: str, *, at: dt.datetime) -> ReadingRow | None:
    """The last thermometer reading in a bin within a week."""
    rows = readings(record, code, QUANTITY, since=at - LOOKED_AT, until=at).rows
    return rows[-1] if rows else None


def _came(view: BinView) -> dt.datetime | None:
    """When the last of what lies in a bin came."""
    came = [layer.happened_at for layer in view.layers if layer.happened_at is not None]
    return max(came, default=None)


def _rows(record: Record, view: BinView, at: dt.datetime) -> tuple[ReadingRow, ...]:
    """Thermometer readings of a week since the bin was filled."""
    came = _came(view)
    since = at - LOOKED_AT if came is None else max(came, at - LOOKED_AT)
    return readings(record, view.bin.bin, QUANTITY, since=since, until=at).rows


def _last_of_any(record: Record, view: BinView, at: dt.datetime) -> ReadingRow | None:
    """The last thermometer reading of a week in anything that still lies in the bin: what came on top
    of a hot heap does not cool it.
    """
    came = [layer.happened_at for layer in view.layers if layer.happened_at is not None]
    since = max(min(came, default=at - LOOKED_AT), at - LOOKED_AT)
    rows = readings(record, view.bin.bin, QUANTITY, since=since, until=at).rows
    return rows[-1] if rows else None


def _pellet_bin(record: Record, mill: Mill, view: BinView, at: dt.datetime) -> PelletBin:
    made = made_batches(record)
    filled_at = _came(view)
    runs = tuple(
        dict.fromkeys(made[layer.lot].made.run for layer in view.layers if layer.lot in made)
    )
    lines = sorted({row.line for row in mill.pellet_lines} | {row.line for row in mill.coolers})
    read = tuple(
        row
        for code in runs
        for line in lines
        for row in runs_of_line(record, line)
        if row.run == code
    )
    rows = _rows(record, view, at)
    found = PelletBin(
        bin=view.bin,
        material=view.material,
        mass_mg=view.mass_mg,
        filled_at=filled_at,
        runs=runs,
        read=read,
        temperature=rows[-1] if rows else None,
        findings=tuple(_by_thermometer(mill, view, record, at)),
    )
    if filled_at is None or at - filled_at > FRESH or found.is_remainder:
        return found
    return replace(found, findings=(*found.findings, *_filled(record, view.bin, read)))


def _by_thermometer(mill: Mill, view: BinView, record: Record, at: dt.datetime) -> list[Finding]:
    """A bin that reads hot, or that warms by itself."""
    units, held, hot = mill.settings.units, view.bin, _last_of_any(record, view, at)
    rows = _rows(record, view, at)
    if hot is not None and hot.value >= HOT_C:
        since = "" if rows else " More came into it after that, and nobody has read it since."
        return [
            _finding(
                "bin.hot",
                held,
                f"{held.bin} reads {temperature_words(hot.value, units)} inside.{since}",
                (hot.value, HOT_C, "C"),
                do=HOT_ADVICE,
            )
        ]
    if not rows:
        return []
    last = rows[-1]
    before = [row.value for row in rows if last.at - row.at <= RISE_WITHIN]
    rise = last.value - min(before)
    if rise < RISE_DK:
        return []
    return [
        _finding(
            "bin.warming",
            held,
            f"{held.bin} reads {temperature_words(last.value, units)} inside, "
            f"{rise_words(rise, units)} more than it did, and nothing came into it since.",
            (rise, RISE_DK, "K"),
            do="read it again within the hour; draw it down from outside while it can be done "
            "safely and look at what comes; if it goes on or smells burnt, keep out and call the "
            "fire service",
        )
    ]


def _filled(record: Record, held: Bin, read: tuple[RunRead, ...]) -> list[Finding]:
    """What runs that lie in a bin were sent on as, by their readings."""
    found = []
    for row in read:
        for one in sent_findings(record, row):
            how = one.code.removeprefix("line.sent_")
            found.append(
                _finding(
                    f"bin.filled_{how}",
                    held,
                    f"{held.bin} was filled {how} with run {row.run}. {one.text}",
                    (one.value, one.limit, one.unit),
                    do="look at it tonight: the page of warm bins says what may run down; read its "
                    "temperature from outside tonight and in the morning",
                )
            )
    return found


def _finding(
    code: str,
    held: Bin,
    text: str,
    value: tuple[float | None, float | None, str],
    *,
    do: str,
) -> Finding:
    return Finding(
        code=code,
        verdict=Verdict.ACT,
        about=held.bin,
        text=text,
        value=value[0],
        limit=value[1],
        unit=value[2],
        source="readings; limits: pellets table, and common practice, no source",
        do=do,
    )
