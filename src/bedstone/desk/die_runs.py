"""What the logged runs of a pellet line say of its dies: load, heat, length, energy for a tonne."""

import datetime as dt
from dataclasses import dataclass

from bedstone.desk.line_readings import RunRead, runs_of_line
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.model import DieRow, Mill
from bedstone.mill.pellet_tables import PelletLine
from bedstone.pelleting.die import Die, DieWork, die_work, motor_kw, pellet_length_mm

__all__ = ["RunOnDie", "die_of", "runs_on_dies"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOnDie:
    """A run whose feeder and ammeter were read."""

    run: str
    product: str
    die: str
    at: dt.datetime
    rate_kg_s: float
    power_kw: float
    work: DieWork
    length_mm: float  # to which the knives cut
    rise_read_dk: float | None  # below the die over the conditioner, where both were read


def die_of(row: DieRow) -> Die:
    """The die of a row of the tables."""
    return Die(
        hole_mm=row.hole_mm,
        effective_mm=row.effective_mm,
        holes=row.holes,
        inner_diameter_mm=row.inner_diameter_mm,
        face_width_mm=row.face_width_mm,
    )


def runs_on_dies(record: Record, line: str) -> tuple[RunOnDie, ...]:
    """Runs of a line with mash flow and motor current, whose die and motor the tables know."""
    mill = current_mill(record)
    machine = next((row for row in mill.pellet_lines if row.line == line), None)
    if machine is None or machine.motor_v is None:
        return ()
    dies = {row.die: row for row in mill.dies if row.line == line}
    found = (_on_die(mill, machine, dies, read) for read in runs_of_line(record, line))
    return tuple(one for one in found if one is not None)


def _on_die(
    mill: Mill, machine: PelletLine, dies: dict[str, DieRow], read: RunRead
) -> RunOnDie | None:
    rate, amps = read.mean("mash flow"), read.mean("motor current")
    product = next((row for row in mill.products if row.product == read.product), None)
    row = dies.get(product.die) if product else None
    if row is None or not rate or amps is None or machine.motor_v is None:
        return None
    power = motor_kw(machine.motor_v, amps, machine.power_factor_frac)
    work = die_work(die_of(row), rate, power, usd_per_kwh=machine.power_usd_kwh)
    hot_c, cond_c = read.mean("die temperature"), read.mean("conditioner temperature")
    return RunOnDie(
        run=read.run,
        product=read.product,
        die=row.die,
        at=read.at,
        rate_kg_s=rate,
        power_kw=power,
        work=work,
        length_mm=pellet_length_mm(work, row.knives, row.turns_per_min),
        rise_read_dk=None if hot_c is None or cond_c is None else hot_c - cond_c,
    )
