"""The run sheet of a pellet line: settings, what to watch, cautions, and room for readings."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.cooling.limits import HourLimit
from bedstone.desk.line_settings import LineSettings
from bedstone.desk.record import Head
from bedstone.errors import Refused
from bedstone.mill.model import Mill
from bedstone.mill.pellet_tables import DieRow, Pellets
from bedstone.mill.plan import Plan, Run
from bedstone.papers.printing import Printing
from bedstone.papers.render import Printed, barcode, pdf
from bedstone.papers.words import clock_words, day_words
from bedstone.quantities.line_figures import (
    depth_words,
    length_words,
    moisture_words,
    pressure_words,
    rate_words,
    rise_words,
    steam_words,
    temperature_unit,
    temperature_words,
)

__all__ = ["RunOnSheet", "run_sheet"]

DEFERRAL = (
    "This sheet advises; its numbers are reckoned, not measured. Local codes, the makers of boiler and "
    "machines, the label, the nutritionist and the veterinarian come first: where they differ, stop and ask."
)
# 29 CFR 1910.147 (lock-out, tag-out) is cited from memory; 1910.272 on bins was seen.
CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "Steam",
        (
            "Burns through gloves and clothes. Open valves slowly and drain the water first; stand aside. "
            "Boiler, steam pipes and safety valves are for licensed people only, under the local code."
        ),
    ),
    (
        "Hot",
        (
            "Conditioner, die, pellets and exhaust are hot enough to burn. Take samples with gloves into "
            "an insulated jug."
        ),
    ),
    (
        "Moving",
        (
            "Die, rolls, knives, feeder and gate crush and cut. Never clear a choked die, reach past a "
            "guard or take off a cover while it can turn."
        ),
    ),
    (
        "Lock out",
        (
            "Before a cover is opened: shut down, close and lock steam and power, tag out, let it cool, and "
            "test that it will not start (29 CFR 1910.147). Bins are entered by permit only "
            "(29 CFR 1910.272)."
        ),
    ),
    (
        "Fire, mould",
        (
            "Hot or damp pellets sweat, mould and can heat up by themselves: do not send them to the bin. "
            "Burning smell: stop, call the fire service, open nothing."
        ),
    ),
)
READINGS_ROWS = 9


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


def run_sheet(plan: Plan, mill: Mill, on: RunOnSheet, *, head: Head | str) -> bytes:
    """The run sheet as PDF.

    Parameters
    ----------
    plan : Plan
        The plan that the run belongs to.
    mill : Mill
        The mill, with the tables that the settings were reckoned from.
    on : RunOnSheet
        The run with its settings.
    head : Head or str
        End of the journal when it is printed.

    Returns
    -------
    pdf : bytes
        PDF/A-2b, the same bytes for the same input.

    Raises
    ------
    Refused
        If the plan was refused by the verifier.
    """
    if plan.status == "refused":
        raise Refused(
            f"Plan {plan.plan} is rejected by the verifier, so nothing is printed of it.",
            do="plan the day again",
        )
    at = head if isinstance(head, Head) else None
    printing = Printing(
        plan=plan,
        mill=mill,
        head=at.head if at is not None else str(head),
        position=at.position if at is not None else None,
    )
    bars = barcode(on.run.run)
    return pdf(
        "run_sheet",
        printing.document(f"run sheet {on.run.run}")
        | {
            "id": on.run.run,
            "mill": mill.settings.name,
            "place": mill.settings.place,
            "day": day_words(plan.day),
            "barcode": bars.svg,
            "barcode_mm": bars.width_mm,
            "is_square": bars.is_square,
            "product": mill.name_of(on.run.product),
            "line": printing.named(on.line),
            "facts": _facts(printing, on),
            "figures": _figures(printing, on),
            "watch": _watch(printing, on),
            "cautions": [list(row) for row in CAUTIONS],
            "state": _state(on),
            "columns": _columns(printing),
            "rows": READINGS_ROWS,
            "foot": printing.foot(),
            "deferral": DEFERRAL,
        },
    )


def _facts(printing: Printing, on: RunOnSheet) -> list[Printed]:
    mill, run = printing.mill, on.run
    air = on.settings.air_c
    outside = "not on record"
    if air is not None and on.settings.air_humidity_frac is not None:
        warm = temperature_words(air, printing.units)
        outside = f"{warm}, {100 * on.settings.air_humidity_frac:.0f} % humid"
    return [
        ["On the line", printing.span(on.start_at, on.end_at)],
        ["Mass", printing.mass(run.mass_mg)],
        ["Into", printing.named(run.finished_bin)],
        ["Formula", f"{run.product}, version {run.formula_version}"],
        ["Order", run.order or "for stock"],
        ["Air expected at the start", outside],
        ["Rate by plan", rate_words(on.planned_kg_s, printing.units)],
        ["Start", clock_words(on.start_at, mill, day=printing.plan.day)],
        ["Batches", str(len(run.batches))],
    ]


def _figures(printing: Printing, on: RunOnSheet) -> list[Printed]:
    """The settings: name, the figure, and a line of words under it."""
    units, found = printing.units, on.settings
    die = _die(printing.mill, on)
    pellets = _pellets(printing.mill, on)
    most = found.most_c_for_die
    gauge = next(
        (row.steam_gauge_pa for row in printing.mill.pellet_lines if row.line == on.line), None
    )
    return [
        [
            "Conditioner",
            temperature_words(found.conditioned.temperature_c, units),
            f"{found.residence_s:.0f} s inside"
            + ("" if most is None else f"; the die takes up to {temperature_words(most, units)}"),
        ],
        [
            "Steam",
            steam_words(found.conditioned.steam_kg_s, units),
            f"at {rate_words(found.rate_kg_s, units)} of mash"
            + ("" if gauge is None else f", gauge {pressure_words(gauge, units)}"),
        ],
        ["Most rate", *_rate(printing, on)],
        [
            "Die",
            found.die or "–",
            f"mash into it {moisture_words(found.conditioned.moisture_wb)} of water"
            + ("" if die is None else f"; {die.knives} knives"),
        ],
        [
            "Knife for",
            "–" if pellets is None else length_words(pellets.length_mm, units),
            "length of pellets",
        ],
        ["Cooler bed", *_cooler(printing, on)],
    ]


def _rate(printing: Printing, on: RunOnSheet) -> tuple[str, str]:
    """The slowest of the hours that the run meets, with its interval and why."""
    if not on.limits:
        return "–", "no weather of its hours on record"
    units = printing.units
    slow = min(on.limits, key=lambda row: row.rate_kg_s)
    ends = f"{rate_words(slow.rate_lo_kg_s, units)} to {rate_words(slow.rate_hi_kg_s, units)}"
    why = f"; {slow.because}" if slow.because else "; the air does not hold it back"
    return rate_words(slow.rate_kg_s, units), ends + why


def _cooler(printing: Printing, on: RunOnSheet) -> tuple[str, str]:
    row = next((one for one in printing.mill.coolers if one.line == on.line), None)
    leaving, units = on.settings.leaving, printing.units
    depth = "–" if row is None else depth_words(row.depth_m, units)
    if leaving is None:
        return depth, "what leaves it is not reckoned: no weather of its hour"
    return depth, (
        f"pellets leave at {temperature_words(leaving.pellet_c, units)}, "
        f"{moisture_words(leaving.moisture_wb)} of water"
    )


def _watch(printing: Printing, on: RunOnSheet) -> list[Printed]:
    """What is to be kept in this run: limits of the cooler and of live additives, findings."""
    units = printing.units
    said: list[Printed] = []
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
    for row in on.settings.additives:
        name = f"{row.what} ({printing.mill.name_of(row.ingredient)})"
        most = (
            "no setting surely keeps it"
            if row.hottest_c is None
            else f"surely kept up to {temperature_words(row.hottest_c, units)} in the conditioner"
        )
        said.append(
            f"{name[:1].upper()}{name[1:]}: {100 * row.left.left:.0f} % left at the setting "
            f"({100 * row.left.left_lo:.0f} to {100 * row.left.left_hi:.0f} %), "
            f"{100 * row.least_left_frac:.0f} % needed; {most}."
        )
    if on.settings.leaving is not None and on.settings.leaving.wet_duct:
        said.append("The exhaust duct will drip: look for wet dust, and keep it out of the feed.")
    return said


def _state(on: RunOnSheet) -> str:
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


def _columns(printing: Printing) -> list[Printed]:
    degrees = temperature_unit(printing.units)
    return [
        "Time",
        f"Mash, {degrees}",
        f"Conditioner, {degrees}",
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
