"""A run's readings on its pellet line held against its settings, its motor, its product."""

from collections.abc import Iterator
from statistics import median

from bedstone.desk.heat_assays import assay_findings
from bedstone.desk.line_heat import left_words
from bedstone.desk.line_model import conditioned, lines_of_product, pellets_row, setting_c
from bedstone.desk.line_readings import RunRead, line_finding, runs_of_line
from bedstone.desk.line_sent import cooler_findings, sent_findings
from bedstone.desk.line_settings import settings_for
from bedstone.desk.line_slips import slip_findings
from bedstone.desk.line_tag import shares_inside
from bedstone.desk.line_tests import durability_tests, mill_repeats
from bedstone.desk.line_water import mash_c_of, usual_mash_c
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.model import Mill
from bedstone.mill.pellet_tables import PelletLine
from bedstone.mill.plan import Finding, Verdict
from bedstone.quantities.line_figures import (
    rise_words,
    steam_words,
    temperature_words,
)

__all__ = ["plain_findings", "read_findings"]

OFF_DK = 3.0
DIE_OFF_DK = 6.0
STEAM_OFF_FRAC = 0.2
MOTOR_OFF_FRAC = 0.2
"""Farther off than thermometers, meters and ammeters of a mill are: common practice, no source."""
SURE_FRAC = 0.95  # of what must be left; nearer it is within what a thermometer is off
LEAST_RUNS = 5
USUAL_RUNS = 40
COLDEST_C, HOTTEST_C = 30.0, 105.0  # of a conditioner, as the pellets table has it
NO_CONDENSATE = 0.002
COMMON = "common practice, no source"


def read_findings(record: Record, read: RunRead) -> tuple[Finding, ...]:
    """What the readings of a run on a line say of its heat, steam, motor, pellets and what was
    sent on. Of a product without pellets in the tables only what cannot be true is said.
    """
    mill = current_mill(record)
    slips = slip_findings(mill, read)
    if all(row.product != read.product for row in mill.pellets):
        return slips
    line = next((row for row in mill.pellet_lines if row.line == read.line), None)
    found = [*slips, *_conditioner(record, mill, read), *_die(mill, read)]
    if line is not None:
        found += [*_steam(record, mill, read), *_additives(record, mill, read)]
    return (
        *found,
        *_over_plate(line, read),
        *_unusual_motor(record, read),
        *_durability(record, mill, read),
        *sent_findings(record, read),
        *cooler_findings(record, read),
        *assay_findings(record, read),
    )


def plain_findings(record: Record, read: RunRead) -> tuple[Finding, ...]:
    """Those findings of a run that need no balance of conditioner or cooler, so that a page which
    is asked for all day has them at once: what was sent on, a motor over its plate, dials that
    cannot be right, a tag that a laboratory found short.
    """
    mill = current_mill(record)
    slips = slip_findings(mill, read)
    if all(row.product != read.product for row in mill.pellets):
        return slips
    line = next((row for row in mill.pellet_lines if row.line == read.line), None)
    return (
        *slips,
        *_over_plate(line, read),
        *sent_findings(record, read),
        *assay_findings(record, read),
    )


def _conditioner(record: Record, mill: Mill, read: RunRead) -> Iterator[Finding]:
    cond_c = read.mean("conditioner temperature")
    if cond_c is None:
        return
    set_c, binds = _set(record, mill, read)
    if abs(cond_c - set_c) <= OFF_DK:
        return
    units = mill.settings.units
    side = "above" if cond_c > set_c else "below"
    yield line_finding(
        "line.conditioner",
        Verdict.NOTE,
        read,
        f"The conditioner of {read.line} ran at {temperature_words(cond_c, units)}; "
        f"{temperature_words(set_c, units)} is set: {rise_words(abs(cond_c - set_c), units)} "
        f"{side} it.{f' Of the setting: {binds}.' if binds else ''}",
        (cond_c, set_c, "C"),
        "look at steam valve and thermometer",
        rule=f"setting of the run, more than {rise_words(OFF_DK, units)} off ({COMMON})",
    )


def _set(record: Record, mill: Mill, read: RunRead) -> tuple[float, str]:
    """The temperature that the run sheet sets, and what keeps it from the tables'."""
    row = pellets_row(mill, read.product)
    known = any(line.line == read.line for line in mill.pellet_lines)
    if not known or read.line not in lines_of_product(mill, read.product):
        return row.conditioning_c, ""
    if _delicate(mill, read.product):
        setting = settings_for(record, read.product, read.line, at=read.at).setting
        return setting.use_c, setting.binds
    mash_c = usual_mash_c(record, read)
    set_c = setting_c(mill, read.product, read.line, mash_c=mash_c)
    less = "the die, or boiling, takes less than the tables want"
    return set_c, less if row.conditioning_c - set_c > OFF_DK else ""


def _delicate(mill: Mill, product: str) -> bool:
    """Whether the running formula holds anything that heat takes away."""
    inside = shares_inside(mill, product)
    return any(row.ingredient in inside for row in mill.heat_sensitive)


def _die(mill: Mill, read: RunRead) -> Iterator[Finding]:
    die_c, cond_c = read.mean("die temperature"), read.mean("conditioner temperature")
    usual_dk = pellets_row(mill, read.product).die_rise_dk
    if die_c is None or cond_c is None or abs(die_c - cond_c - usual_dk) <= DIE_OFF_DK:
        return
    units = mill.settings.units
    hotter = die_c - cond_c > usual_dk
    yield line_finding(
        "line.die",
        Verdict.NOTE,
        read,
        f"Pellets left the die at {temperature_words(die_c, units)}, "
        f"{rise_words(die_c - cond_c, units)} over the conditioner; {rise_words(usual_dk, units)} "
        "is usual for the product.",
        (die_c - cond_c, usual_dk, "K"),
        "look for mash too dry or too coarse, worn rolls, a plugged die"
        if hotter
        else "check both thermometers; mash too wet, or a worn die, rubs less",
        rule=f"pellets table, more than {rise_words(DIE_OFF_DK, units)} off ({COMMON})",
    )


def _steam(record: Record, mill: Mill, read: RunRead) -> Iterator[Finding]:
    """The steam that was read against what heat and mash ask; only where the mash was read too."""
    flow, rate = read.mean("steam flow"), read.mean("mash flow")
    cond_c = read.mean("conditioner temperature")
    if flow is None or not rate or cond_c is None or not COLDEST_C <= cond_c <= HOTTEST_C:
        return
    units = mill.settings.units
    made = conditioned(
        mill,
        read.product,
        read.line,
        rate_kg_s=rate,
        mash_c=mash_c_of(record, read),
        wanted_c=cond_c,
        moisture_wb=read.mean("mash moisture"),
    )
    need = made.steam_kg_s
    if abs(flow - need) <= STEAM_OFF_FRAC * need + NO_CONDENSATE * rate:
        return
    off = f"{100 * abs(flow / need - 1):.0f} %" if need > 0 else "all of it"
    side = "more" if flow > need else "less"
    yield line_finding(
        "line.steam",
        Verdict.NOTE,
        read,
        f"{steam_words(flow, units)} of steam went into the conditioner of {read.line}; for "
        f"{temperature_words(cond_c, units)} the balance asks {steam_words(need, units)}: {off} "
        f"{side}.",
        (flow, need, "kg/s"),
        "look for wet steam: trap and separator ahead of the valve, then a leak behind the meter"
        if flow > need
        else "check the thermometer of the conditioner and the steam meter",
        rule=f"the conditioner's balance, more than {100 * STEAM_OFF_FRAC:.0f} % off ({COMMON})",
    )


def _additives(record: Record, mill: Mill, read: RunRead) -> Iterator[Finding]:
    cond_c = read.mean("conditioner temperature")
    if cond_c is None or not COLDEST_C <= cond_c <= HOTTEST_C:
        return
    if not _delicate(mill, read.product) or read.line not in lines_of_product(mill, read.product):
        return
    units = mill.settings.units
    settings = settings_for(
        record,
        read.product,
        read.line,
        at=read.at,
        conditioning_c=cond_c,
        rate_kg_s=read.mean("mash flow"),
    )
    for row in settings.additives:
        if not row.keeps:
            is_far = row.left.left < SURE_FRAC * row.least_left_frac
            yield line_finding(
                "line.additive",
                Verdict.ACT if is_far else Verdict.NOTE,
                read,
                f"After {temperature_words(cond_c, units)} in the conditioner: {left_words(row)}.",
                (row.left.left, row.least_left_frac, "share"),
                f"tell the nutritionist; {row.left.caution or 'assay what is left'}",
                rule="heat_sensitive table, guarantees of the tag",
            )


def _over_plate(line: PelletLine | None, read: RunRead) -> Iterator[Finding]:
    rows = read.rows.get("motor current", ())
    full_a = None if line is None else line.motor_full_a
    most_a = max((row.value for row in rows), default=0.0)
    if full_a is not None and most_a > full_a:
        yield line_finding(
            "line.motor",
            Verdict.ACT,
            read,
            f"The main motor of {read.line} drew up to {most_a:.0f} A; its plate allows "
            f"{full_a:.0f} A: {100 * (most_a / full_a - 1):.0f} % more.",
            (most_a, full_a, "A"),
            "take feed off at once when it happens; then look at die and rolls, locked out",
            rule="pellet_lines table, full load by the plate",
        )


def _unusual_motor(record: Record, read: RunRead) -> Iterator[Finding]:
    """Amps, for each kilogram of mash where that was read, against earlier runs of the product."""
    before = [
        run
        for run in runs_of_line(record, read.line)
        if run.product == read.product and run.at < read.at
    ][-USUAL_RUNS:]
    by_mash = bool(read.mean("mash flow"))
    usual = [load for run in before if (load := _load(run, by_mash=by_mash)) is not None]
    seen, amps = _load(read, by_mash=by_mash), read.mean("motor current")
    if seen is None or amps is None or len(usual) < LEAST_RUNS:
        return
    off = seen / median(usual) - 1 if median(usual) > 0 else 0.0
    if abs(off) <= MOTOR_OFF_FRAC:
        return
    at_rate = " at its rate of mash" if by_mash else ""
    yield line_finding(
        "line.motor_usual",
        Verdict.NOTE,
        read,
        f"The main motor of {read.line} drew {amps:.0f} A{at_rate}; {amps / (1 + off):.0f} A is "
        f"usual for the product: {100 * abs(off):.0f} % {'more' if off > 0 else 'less'}.",
        (amps, amps / (1 + off), "A"),
        "look for mash cold, dry or coarse, then worn rolls or a plugged die, locked out"
        if off > 0
        else "look whether rolls slip or are worn, and whether the feeder gave what it showed",
        rule=f"median of {len(usual)} earlier runs, more than {100 * MOTOR_OFF_FRAC:.0f} % off "
        f"({COMMON})",
    )


def _load(run: RunRead, *, by_mash: bool) -> float | None:
    amps, rate = run.mean("motor current"), run.mean("mash flow")
    if amps is None or (by_mash and not rate):
        return None
    return amps / rate if by_mash and rate else amps


def _durability(record: Record, mill: Mill, read: RunRead) -> Iterator[Finding]:
    wanted = pellets_row(mill, read.product).durability_frac
    every = durability_tests(record)
    rows = [one for one in every if (one.run, one.line) == (read.run, read.line)]
    if wanted is None or not rows:
        return
    repeats = mill_repeats(every)
    tests = [one.found_by(repeats) for one in rows]
    worst = min(tests, key=lambda one: one.index)
    if worst.index >= 100 * wanted:
        return
    is_sure = worst.index_hi < 100 * wanted
    yield line_finding(
        "line.durability",
        Verdict.ACT if is_sure else Verdict.NOTE,
        read,
        f"Pellets tumbled to an index of {worst.index:.1f} % ({worst.index_lo:.1f} to "
        f"{worst.index_hi:.1f} %); the product asks {100 * wanted:.0f} %.",
        (worst.index / 100, wanted, "share"),
        "screen the fines off before the bags; next run: particle size, heat, die"
        if is_sure
        else "tumble two more samples before anything is changed",
        rule="tumbling test, pellets table",
    )
