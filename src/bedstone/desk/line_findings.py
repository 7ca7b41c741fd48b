"""A run's readings on its pellet line held against its settings, and its water for the ledger."""

from collections.abc import Mapping

from bedstone.desk.line_air import air_of
from bedstone.desk.line_model import (
    best_rate_kg_s,
    conditioned,
    limits_of_product,
    line_row,
    mash_moisture_wb,
    pellets_row,
)
from bedstone.desk.line_readings import RunRead, run_readings
from bedstone.desk.line_settings import USUAL_MASH_C, settings_for
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.runs import PelletedBatch
from bedstone.errors import BadInput
from bedstone.mill.plan import Finding, Verdict
from bedstone.pelleting.conditioner import Conditioned
from bedstone.quantities.line_figures import rise_words, temperature_words

__all__ = ["pelleted_by_readings", "read_findings"]

OFF_DK = 3.0
STEAM_SD_FRAC = 0.05
MOISTURE_SD_WB = 0.006
"""Steam by a conditioner's balance, and moisture of mash and pellets together: common practice."""
DAMP_WB = 0.135
"""Pellets above this seldom keep in a bag: common practice, no source."""


def read_findings(record: Record, read: RunRead) -> tuple[Finding, ...]:
    """What the readings of a run on a line say of its heat, its additives and what was sent on.

    Nothing for a run of a product without pellets in the tables.
    """
    if all(row.product != read.product for row in current_mill(record).pellets):
        return ()
    return (*_heat(record, read), *_sent(record, read))


def _heat(record: Record, read: RunRead) -> list[Finding]:
    mill = current_mill(record)
    cond_c = read.mean("conditioner temperature")
    if cond_c is None:
        return []
    found = []
    units = mill.settings.units
    wanted_c = pellets_row(mill, read.product).conditioning_c
    if abs(cond_c - wanted_c) > OFF_DK:
        found.append(
            _finding(
                "line.conditioner",
                Verdict.NOTE,
                read,
                f"The conditioner of {read.line} ran at {temperature_words(cond_c, units)}; "
                f"{temperature_words(wanted_c, units)} is set.",
                (cond_c, wanted_c, "C"),
                "look at steam valve and thermometer",
            )
        )
    if any(row.line == read.line for row in mill.pellet_lines) and 30 <= cond_c <= 105:  # noqa: PLR2004 - as the pellets table
        settings = settings_for(record, read.product, read.line, at=read.at, conditioning_c=cond_c)
        found += [
            _finding(
                "line.additive",
                Verdict.ACT,
                read,
                f"About {100 * row.left.left:.0f} % ({100 * row.left.left_lo:.0f} to "
                f"{100 * row.left.left_hi:.0f} %) of {row.what} is left after "
                f"{temperature_words(cond_c, units)}; {100 * row.least_left_frac:.0f} % is wanted.",
                (row.left.left, row.least_left_frac, "share"),
                f"tell the nutritionist; {row.left.caution or 'assay what is left'}",
            )
            for row in settings.additives
            if not row.keeps
        ]
    return found


def _sent(record: Record, read: RunRead) -> list[Finding]:
    mill = current_mill(record)
    units = mill.settings.units
    found = []
    outlet_c = read.mean("cooler outlet temperature")
    hour = read.at.replace(minute=0, second=0, microsecond=0)
    weather = weather_by_hour(record).get(hour)
    if outlet_c is not None and weather is not None:
        above = outlet_c - air_of(mill, weather[-1]).temperature_c
        most = limits_of_product(mill, read.product).above_ambient_dk
        if above > most:
            found.append(
                _finding(
                    "line.sent_warm",
                    Verdict.ACT,
                    read,
                    f"Pellets left {read.line} {rise_words(above, units)} warmer than the air; "
                    f"{rise_words(most, units)} is the most.",
                    (above, most, "K"),
                    "look for a blocked air intake or a level sensor; watch the bin tonight",
                )
            )
    damp = read.mean("cooler outlet moisture")
    if damp is not None and damp > DAMP_WB:
        found.append(
            _finding(
                "line.sent_damp",
                Verdict.ACT,
                read,
                f"Pellets left {read.line} with {100 * damp:.1f} % moisture.",
                (damp, DAMP_WB, "kg/kg"),
                "hold it until the laboratory has looked; slow the line",
            )
        )
    return found


def _finding(  # noqa: PLR0917 - a row of a finding
    code: str, verdict: Verdict, read: RunRead, text: str, value: tuple[float, float, str], do: str
) -> Finding:
    return Finding(
        code=code,
        verdict=verdict,
        about=read.run,
        text=text,
        value=value[0],
        limit=value[1],
        unit=value[2],
        source=f"readings of {read.line}, pellets and heat_sensitive tables",
        do=do,
    )


def pelleted_by_readings(
    record: Record, run: str, line: str, mash_mg: Mapping[str, int]
) -> tuple[PelletedBatch, ...]:
    """Batches of a run over a line as its readings have their water, for ``record_pelleted``.

    Steam is what the balance of the conditioner gives for the temperature read, or the steam flow
    that was read; pellets hold the dry matter of the mash at the moisture read at the outlet. What
    steam brought and pellets do not hold left with the air, so mass stays accounted for.

    Raises
    ------
    BadInput
        If conditioner temperature or outlet moisture of the run was not read, or pellets would
        weigh more than mash and steam.
    """
    mill = current_mill(record)
    read = next((row for row in run_readings(record, run) if row.line == line), None)
    cond_c = None if read is None else read.mean("conditioner temperature")
    outlet_wb = None if read is None else read.mean("cooler outlet moisture")
    if read is None or cond_c is None or outlet_wb is None:
        raise BadInput(
            f"The water of run {run} cannot be reckoned.",
            seen="no conditioner temperature or no outlet moisture read",
            allowed="both, with the run's number",
            do="record the readings first, or weigh the pellets",
        )
    mash_c = _mash_c(record, read)
    rate = best_rate_kg_s(mill, read.product, line)
    made = conditioned(mill, read.product, line, rate_kg_s=rate, mash_c=mash_c, wanted_c=cond_c)
    flow = read.mean("steam flow")
    share = made.steam_share if flow is None else flow / rate
    machine = mill.machine_by_code[line]
    moisture_wb = mash_moisture_wb(mill, read.product)
    return tuple(
        _through(batch, in_mg, made, steam_frac=share, waters=(moisture_wb, outlet_wb),
                 loss_frac=machine.loss_frac)
        for batch, in_mg in mash_mg.items()
    )  # fmt: skip


def _through(
    batch: str,
    in_mg: int,
    made: Conditioned,
    *,
    steam_frac: float,
    waters: tuple[float, float],
    loss_frac: float,
) -> PelletedBatch:
    """A batch by dry matter, from the moisture of its mash to the one that was read."""
    moisture_wb, outlet_wb = waters
    dust_mg = round(in_mg * loss_frac)
    out_mg = round((in_mg - dust_mg) * (1 - moisture_wb) / (1 - outlet_wb))
    steam_mg = round(in_mg * steam_frac)
    if out_mg + dust_mg > in_mg + steam_mg:
        raise BadInput(
            f"Pellets of {batch} would weigh more than its mash and steam.",
            seen=f"outlet moisture {100 * outlet_wb:.1f} %",
            allowed=f"at most {100 * made.moisture_wb:.1f} %, as after the conditioner",
            do="measure the moisture again",
        )
    return PelletedBatch(
        batch=batch,
        in_mg=in_mg,
        steam_mg=steam_mg,
        dust_mg=dust_mg,
        out_mg=out_mg,
        steam_sd_mg=round(STEAM_SD_FRAC * steam_mg),
        out_sd_mg=round(out_mg * MOISTURE_SD_WB / (1 - outlet_wb)),
    )


def _mash_c(record: Record, read: RunRead) -> float:
    """Mash before steam: as it was read, else the table's, else the air of the hour."""
    mash_c = read.mean("mash temperature")
    if mash_c is None:
        mash_c = line_row(current_mill(record), read.line).mash_c
    if mash_c is None:
        hour = weather_by_hour(record).get(read.at.replace(minute=0, second=0, microsecond=0))
        mash_c = USUAL_MASH_C if hour is None else hour[-1].temperature_c
    return mash_c
