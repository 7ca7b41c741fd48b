"""What stands on the run sheet of a pellet line, in the words and units of the mill."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.cooling.limits import HourLimit
from bedstone.desk.die_runs import knife_setting
from bedstone.desk.die_words import gap_words, pellet_length_words
from bedstone.desk.line_cooler import leaving_words
from bedstone.desk.line_heat import left_words, most_words
from bedstone.desk.line_regression import DurabilityAhead, LoadAhead
from bedstone.desk.line_settings import LineSettings
from bedstone.desk.line_start import RunStart
from bedstone.desk.regression_words import durability_words, load_words, throughput_words
from bedstone.mill.model import Mill
from bedstone.mill.pellet_tables import DieRow, Pellets
from bedstone.mill.plan import Finding, Run
from bedstone.papers.printing import Printing
from bedstone.papers.render import Printed
from bedstone.quantities.line_figures import (
    depth_words,
    moisture_words,
    pressure_words,
    rate_unit,
    rate_words,
    rise_words,
    steam_words,
    temperature_unit,
    temperature_words,
)

__all__ = [
    "RunOnSheet",
    "columns",
    "facts",
    "figures",
    "start_and_stop_lines",
    "state",
    "times",
    "watch",
]

ROWS, BLANK_ROWS = 6, 1
STEPS = tuple(dt.timedelta(minutes=one) for one in (15, 30, 60))
"""Between readings: the shortest that leaves a blank row for changes."""
S_IN_MIN = 60
FAST_FRAC = 1.01  # of the limit: less is the same rate
NOT_RECKONED = (
    "Gate shut and fan on until the bed is at its level. Set the first bed-full aside until conditioner "
    "and die are at their temperature. Leave the fan on after the last pellet until the bed feels cool."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOnSheet:
    """The run a sheet is for: when it is on which line, its settings and the limits it meets."""

    run: Run
    line: str
    start_at: dt.datetime
    end_at: dt.datetime
    planned_kg_s: float
    settings: LineSettings
    limits: Sequence[HourLimit]  # of the hours it is on the line
    rate_why: str = ""  # what binds the rate of the settings
    durability: DurabilityAhead | None = None  # by the mill's own tests, where they tell
    load: LoadAhead | None = None  # by the mill's own runs, where they tell
    start: RunStart | None = None  # at the cooler, where its air is known
    heating: Sequence[Finding] = ()  # why nothing may run into its bin


def facts(printing: Printing, on: RunOnSheet) -> list[Printed]:
    """Where and when the run is, how much, into what, in what air."""
    run = on.run
    air = on.settings.air_c
    outside = "not on record"
    if air is not None and on.settings.air_humidity_frac is not None:
        warm = temperature_words(air, printing.units)
        outside = f"{warm}, {100 * on.settings.air_humidity_frac:.0f} % humid"
    return [
        ["On the line", printing.span(on.start_at, on.end_at)],
        ["Mass", printing.mass(run.mass_mg)],
        ["Into", printing.named(run.finished_bin) + (": STOP, see Watch" if on.heating else "")],
        ["Formula", f"{run.product}, version {run.formula_version}"],
        ["Air expected at the start", outside],
        ["Batches", str(len(run.batches))],
        ["Order", run.order or "for stock"],
        ["Rate by plan", rate_words(on.planned_kg_s, printing.units)],
    ]


def figures(printing: Printing, on: RunOnSheet) -> list[Printed]:
    """The settings: name, the figure, and a line of words under it."""
    units, found = printing.units, on.settings
    die = _die(printing.mill, on)
    gauge = next(
        (row.steam_gauge_pa for row in printing.mill.pellet_lines if row.line == on.line), None
    )
    return [
        ["Conditioner", *_conditioner(printing, on)],
        [
            "Steam",
            steam_words(found.conditioned.steam_kg_s, units),
            f"at {rate_words(found.rate_kg_s, units)} of mash"
            + ("" if gauge is None else f", gauge {pressure_words(gauge, units)}"),
        ],
        ["Rate of mash", *_rate(printing, on)],
        [
            "Die",
            found.die or "–",
            f"mash into it {moisture_words(found.conditioned.moisture_wb)} of water; pellets leave it "
            f"at about {temperature_words(found.die_c, units)}"
            + ("" if die is None else f"; {die.knives} knives"),
        ],
        ["Knives off the die", *_knives(printing, on)],
        ["Motor load expected", *_load(printing, on)],
        ["Cooler bed", *_cooler(printing, on)],
        ["First good pellet", *_first_good(on)],
        ["Durability expected", *_durability(printing, on)],
    ]


def _conditioner(printing: Printing, on: RunOnSheet) -> tuple[str, str]:
    """The setting to use, and why it is not what the tables want."""
    units, found = printing.units, on.settings
    setting, most = found.setting, found.most_c_for_die
    said = f"{found.residence_s:.0f} s inside"
    if setting.binds and setting.wanted_c is not None:
        said += f"; the tables want {temperature_words(setting.wanted_c, units)}: {setting.binds}"
    elif most is not None and not found.die_always:
        said += f"; the die takes up to {temperature_words(most, units)}"
    return temperature_words(found.conditioned.temperature_c, units), said


def _knives(printing: Printing, on: RunOnSheet) -> tuple[str, str]:
    """Where the knives stand for the length wanted."""
    units = printing.units
    set_at = knife_setting(printing.mill, on.run.product, on.line, on.settings.rate_kg_s)
    if set_at is None:
        return "–", "neither length nor die is in the tables"
    if set_at.gap_mm is None:
        return "–", gap_words(None, set_at.wanted_mm, units)
    return pellet_length_words(set_at.gap_mm, units), (
        f"for pellets of {pellet_length_words(set_at.wanted_mm, units)}; they grow "
        f"{pellet_length_words(set_at.cut_mm, units)} between knives. Measure some, set again"
    )


def _load(printing: Printing, on: RunOnSheet) -> tuple[str, str]:
    if on.load is None:
        return "–", "too few runs with motor current and mash flow are on record"
    said = load_words(on.load, printing.units)
    if on.load.forecast.unseen is not None:
        return "–", said
    allowed = throughput_words(on.load, printing.units)
    return f"{on.load.forecast.value:.0f} A", f"{said}; {allowed}" if allowed else said


def _durability(printing: Printing, on: RunOnSheet) -> tuple[str, str]:
    if on.durability is None:
        return "–", "too few tumbling tests are on record"
    said = durability_words(on.durability, printing.units)
    if on.durability.forecast.unseen is not None:
        return "–", said
    return f"{on.durability.forecast.value:.0f} %", said


def _first_good(on: RunOnSheet) -> tuple[str, str]:
    if on.start is None:
        return "–", "not reckoned: no weather of its hour"
    start = on.start.start
    full = f"the bed is full, the gate opens at {_minutes(start.fill_s)}"
    if start.first_good_s is None:
        return "none", f"{full}; at this rate nothing leaves cool and dry enough"
    return _minutes(start.first_good_s), f"after the first went into the cooler; {full}"


def _minutes(time_s: float) -> str:
    return f"{time_s / S_IN_MIN:.0f} min"


def start_and_stop_lines(printing: Printing, on: RunOnSheet) -> list[Printed]:
    """Beginning and end of the run: bed, first bed-full, fan."""
    if on.start is None:
        return [NOT_RECKONED]
    start = on.start.start
    full = f"A bed-full is {printing.mass(on.start.bed_mg)}, {_minutes(start.fill_s)} of run."
    run_on = (
        "the bed does not get cool by itself in this air: do not send it to the bin warm"
        if start.run_on_s is None
        else f"leave the fan on for {_minutes(start.run_on_s)}, the gate shut, then empty the bed"
    )
    product = printing.mill.product_by_code.get(on.run.product)
    if product is not None and product.medicated:
        full += " It holds a drug: mark it, and rework it only into this feed."
    return [f"Start: {start.advice} {full}", f"Stop: after the last pellet {run_on}."]


def times(printing: Printing, on: RunOnSheet) -> list[Printed]:
    """The times at which the dials are read, and blank rows for changes."""
    most = ROWS - BLANK_ROWS
    whole = on.end_at - on.start_at
    step = next((one for one in STEPS if whole < most * one), STEPS[-1])
    count = min(most, whole // step + 1)
    start_at = on.start_at.astimezone(printing.mill.settings.zone)
    found: list[Printed] = [f"{start_at + number * step:%H:%M}" for number in range(count)]
    return found + [""] * (ROWS - count)


def _rate(printing: Printing, on: RunOnSheet) -> tuple[str, str]:
    """The rate to run, why, and what the air lets through in the slowest hour that the run meets."""
    units, rate = printing.units, rate_words(on.settings.rate_kg_s, printing.units)
    if not on.limits:
        return rate, f"{on.rate_why} No weather of its hours is on record.".strip()
    slow = min(on.limits, key=lambda row: row.rate_kg_s)
    if not slow.because:
        return rate, f"{on.rate_why} The air does not hold it back.".strip()
    low, high = (rate_words(one, units) for one in (slow.rate_lo_kg_s, slow.rate_hi_kg_s))
    air = f"The air lets {rate_words(slow.rate_kg_s, units)} through, {low} to {high}"
    because = "" if slow.because in on.rate_why else f": {slow.because}"
    return rate, f"{on.rate_why} {air}{because}.".strip()


def _cooler(printing: Printing, on: RunOnSheet) -> tuple[str, str]:
    row = next((one for one in printing.mill.coolers if one.line == on.line), None)
    leaving, units = on.settings.leaving, printing.units
    depth = "–" if row is None else depth_words(row.depth_m, units)
    if leaving is None:
        return depth, "what leaves it is not reckoned: no weather of its hour"
    return depth, (
        f"pellets leave at {temperature_words(leaving.pellet_c, units)}, "
        f"{leaving_words(printing.mill, on.settings)}"
    )


def watch(printing: Printing, on: RunOnSheet) -> list[Printed]:
    """What is to be kept in this run: limits of the cooler and of live additives, findings."""
    units = printing.units
    said: list[Printed] = [
        f"STOP. {one.text} Run nothing into it: send this to another bin, or let it wait. Stop what "
        "feeds it, keep people away and out; call the fire service if it smokes or smells burnt."
        for one in on.heating
    ]
    pellets = _pellets(printing.mill, on)
    if pellets is not None:
        said.append(
            f"Pellets leave the cooler no more than {rise_words(pellets.above_ambient_dk, units)} above "
            f"the air, at a water activity of {pellets.water_activity_frac:.2f} or less. Warmer or "
            "wetter: slow down."
        )
    if on.settings.conditioned.moisture_wb > on.settings.die_moisture_max_wb:
        said.append(
            f"The mash would reach the die with {moisture_words(on.settings.conditioned.moisture_wb)} "
            f"of water; the tables allow {moisture_words(on.settings.die_moisture_max_wb)}: it may "
            "choke. Bring the temperature up slowly and watch the amps."
        )
    slow = min((row.rate_kg_s for row in on.limits), default=None)
    if slow is not None and on.planned_kg_s > FAST_FRAC * slow:
        trusted = on.settings.factors.is_trusted
        said.append(
            f"The plan has {rate_words(on.planned_kg_s, units)}: more than this air "
            + (
                f"lets through. Run at {rate_words(slow, units)}, and say that it will take longer."
                if trusted
                else f"may let through ({rate_words(slow, units)}; the cooler is not calibrated). "
                "Watch what leaves it, and slow down if it is warm."
            )
        )
    for row in on.settings.additives:
        name = printing.mill.name_of(row.ingredient)
        left = left_words(row)
        said.append(f"{name}: {left}; {most_words(row, units)}.")
    if on.settings.leaving is not None and on.settings.leaving.wet_duct:
        said.append("The exhaust duct will drip: look for wet dust, and keep it out of the feed.")
    return said


def state(on: RunOnSheet) -> str:
    """Whether the cooler's figures can be relied on."""
    known = on.settings.factors
    if known.is_trusted:
        return f"Cooler calibrated from {known.readings} logged runs."
    if known.factors.calibrated:
        return (
            "The logged runs do not fit the cooler as the tables have it: do not rely on the rate; "
            "watch what leaves the cooler."
        )
    return (
        "Cooler not calibrated: the range is wide. Logging the temperature of the air that leaves "
        "narrows it most."
    )


def columns(printing: Printing) -> list[Printed]:
    """What is read, in the order of the way through the line."""
    degrees = temperature_unit(printing.units)
    return [
        "Time",
        f"Rate, {rate_unit(printing.units)}",
        f"Mash in, {degrees}",
        "Mash water, %",
        f"Steam, {'lb/h' if printing.units == 'US' else 'kg/h'}",
        f"Mash out, {degrees}",
        "Amps",
        f"At the die, {degrees}",
        f"Pellets out, {degrees}",
        "Water out, %",
        f"Air in, {degrees}",
        f"Air out, {degrees}",
        "By",
    ]


def _die(mill: Mill, on: RunOnSheet) -> DieRow | None:
    return next(
        (row for row in mill.dies if (row.die, row.line) == (on.settings.die, on.line)), None
    )


def _pellets(mill: Mill, on: RunOnSheet) -> Pellets | None:
    return next((row for row in mill.pellets if row.product == on.run.product), None)
