"""What the logged runs of a pellet line say of its dies: load, heat, length, energy for a tonne."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.desk.line_readings import RunRead, runs_of_line
from bedstone.desk.record import Record
from bedstone.desk.tables_then import TablesThen
from bedstone.mill.model import DieRow, Mill
from bedstone.pelleting.die import (
    Die,
    DieWork,
    die_work,
    knife_gap_mm,
    motor_kw,
    pellet_length_mm,
)
from bedstone.pelleting.specific_heat import TYPICAL_FEED, specific_heat_j_kg_k

__all__ = [
    "HOT_MASH_J_KG_K",
    "KnifeSetting",
    "ProductOnDie",
    "RunOnDie",
    "die_of",
    "knife_setting",
    "products_on_dies",
    "runs_on_dies",
]

HOT_MASH_J_KG_K = specific_heat_j_kg_k(TYPICAL_FEED.with_water(0.155), 80.0)
"""Of a usual feed as it enters a die."""


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
    length_mm: float  # that pellets grow between two knives
    rise_read_dk: float | None  # below the die over the conditioner, where both were read
    full_frac: float | None  # of the plate's full load, where the tables know it


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductOnDie:
    """Logged runs of a product on a die, together: means, and what the tables want of it."""

    product: str
    die: str
    runs: int
    rate_kg_s: float
    kwh_t: float
    kwh_t_sd: float | None  # between runs; None of a single one
    usd_t: float
    full_frac: float | None
    rise_table_dk: float | None
    rise_read_dk: float | None
    rise_energy_dk: float  # if four fifths of the motor's work went into the pellets
    heat_frac: float | None  # of the motor's work that was found again as heat of the pellets
    cut_mm: float  # that pellets grow between two knives
    wanted_mm: float | None
    gap_mm: float | None  # of the knives, for the length wanted; None where none gives it


@dataclass(frozen=True, slots=True, kw_only=True)
class KnifeSetting:
    """Knives of a die for the length of pellets wanted, at a rate."""

    wanted_mm: float
    cut_mm: float  # that pellets grow between two knives
    gap_mm: float | None  # off the face; None where no setting gives it


def knife_setting(mill: Mill, product: str, line: str, rate_kg_s: float) -> KnifeSetting | None:
    """Where the knives stand for a product; None where its length or its die is not in the tables."""
    wants = next((row for row in mill.pellets if row.product == product), None)
    made = mill.product_by_code.get(product)
    row = next((one for one in mill.dies if made and (one.die, one.line) == (made.die, line)), None)
    if wants is None or row is None or rate_kg_s <= 0:
        return None
    cut_mm = pellet_length_mm(die_work(die_of(row), rate_kg_s, 0.0), row.knives, row.turns_per_min)
    return KnifeSetting(
        wanted_mm=wants.length_mm, cut_mm=cut_mm, gap_mm=knife_gap_mm(wants.length_mm, cut_mm)
    )


def die_of(row: DieRow) -> Die:
    """The die of a row of the tables."""
    return Die(
        hole_mm=row.hole_mm,
        effective_mm=row.effective_mm,
        holes=row.holes,
        inner_diameter_mm=row.inner_diameter_mm,
        face_width_mm=row.face_width_mm,
        thickness_mm=row.thickness_mm,
    )


def runs_on_dies(record: Record, line: str) -> tuple[RunOnDie, ...]:
    """Runs of a line with mash flow and motor current, whose die and motor the tables knew then."""
    then = TablesThen(record)
    found = (_on_die(then.at(read.at), read) for read in runs_of_line(record, line))
    return tuple(one for one in found if one is not None)


def _on_die(mill: Mill, read: RunRead) -> RunOnDie | None:
    machine = next((row for row in mill.pellet_lines if row.line == read.line), None)
    rate, amps = read.mean("mash flow"), read.mean("motor current")
    product = mill.product_by_code.get(read.product)
    at_die = (product.die if product else "", read.line)
    row = next((one for one in mill.dies if (one.die, one.line) == at_die), None)
    if machine is None or machine.motor_v is None or row is None or not rate or amps is None:
        return None
    power = motor_kw(machine.motor_v, amps, machine.power_factor_frac)
    work = die_work(
        die_of(row), rate, power, mash_j_kg_k=HOT_MASH_J_KG_K, usd_per_kwh=machine.power_usd_kwh
    )
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
        full_frac=None if machine.motor_full_a is None else amps / machine.motor_full_a,
    )


def products_on_dies(mill: Mill, runs: Sequence[RunOnDie]) -> tuple[ProductOnDie, ...]:
    """Runs of each product on each die together, in order of die and product."""
    found: dict[tuple[str, str], list[RunOnDie]] = {}
    for run in runs:
        found.setdefault((run.die, run.product), []).append(run)
    return tuple(_together(mill, rows) for _, rows in sorted(found.items()))


def _together(mill: Mill, runs: list[RunOnDie]) -> ProductOnDie:
    count = len(runs)
    energy = [run.work.kwh_t for run in runs]
    kwh_t = sum(energy) / count
    read = [run.rise_read_dk for run in runs if run.rise_read_dk is not None]
    full = [run.full_frac for run in runs if run.full_frac is not None]
    rise_read_dk = sum(read) / len(read) if read else None
    wants = next((row for row in mill.pellets if row.product == runs[0].product), None)
    cut_mm = sum(run.length_mm for run in runs) / count
    work_j_kg = kwh_t * 3600
    return ProductOnDie(
        product=runs[0].product,
        die=runs[0].die,
        runs=count,
        rate_kg_s=sum(run.rate_kg_s for run in runs) / count,
        kwh_t=kwh_t,
        kwh_t_sd=math.sqrt(sum((one - kwh_t) ** 2 for one in energy) / (count - 1))
        if count > 1
        else None,
        usd_t=sum(run.work.usd_t for run in runs) / count,
        full_frac=sum(full) / len(full) if full else None,
        rise_table_dk=None if wants is None else wants.die_rise_dk,
        rise_read_dk=rise_read_dk,
        rise_energy_dk=sum(run.work.rise_dk for run in runs) / count,
        heat_frac=None if rise_read_dk is None else rise_read_dk * HOT_MASH_J_KG_K / work_j_kg,
        cut_mm=cut_mm,
        wanted_mm=None if wants is None else wants.length_mm,
        gap_mm=None if wants is None else knife_gap_mm(wants.length_mm, cut_mm),
    )
