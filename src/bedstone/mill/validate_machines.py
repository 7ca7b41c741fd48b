"""Machines, scales, meters, bins, shifts: what each kind needs, and bounds that must agree."""

import datetime as dt
from collections.abc import Iterator

from bedstone.errors import Fault
from bedstone.mill.equipment import Bin, Machine, Meter, Scale, Settings, Shift
from bedstone.mill.validate_places import Check

__all__ = ["machine_rules"]

WITHOUT_RATE = ("mixer", "hand-add station")
MIXER_NEEDS = ("mass_max_kg", "mass_min_kg", "volume_max_m3")


def machine_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of machines and instruments."""
    for at, machine in check.each(Machine):
        yield _needs(check, at, machine)
        yield _fill(check, at, machine)
    yield _some_mixer(check)
    for at, scale in check.each(Scale):
        yield _scale(check, at, scale)
        yield _weighs_for(check, at, scale)
    for at, meter in check.each(Meter):
        yield _meter(check, at, meter)
        yield _doses_into(check, at, meter)
    for at, place in check.each(Bin):
        yield _bin(check, at, place)
    for at, shift in check.each(Shift):
        yield _shift(check, at, shift)
        yield _shift_overlap(check, at, shift)
    if check.settings is not None and check.whole("bins"):
        yield _flush_bin(check, check.settings)


def _needs(check: Check, at: int, row: Machine) -> Iterator[Fault]:
    if row.kind == "mixer":
        for field in MIXER_NEEDS:
            if getattr(row, field) is None:
                yield check.fault(
                    Machine, at, field, found="an empty cell", allowed="a number: a mixer needs it"
                )
    elif row.kind not in WITHOUT_RATE and row.rate_kg_s is None:
        yield check.fault(
            Machine,
            at,
            "rate_kg_s",
            found="an empty cell",
            allowed=f"a number: a {row.kind} needs its throughput",
        )


def _fill(check: Check, at: int, row: Machine) -> Iterator[Fault]:
    if row.mass_min_kg is None or row.mass_max_kg is None:
        return
    if row.mass_min_kg > row.mass_max_kg:
        yield check.fault(
            Machine,
            at,
            "mass_min_kg",
            found=f"a smallest fill of {check.shown(Machine, 'mass_min_kg', row.mass_min_kg)} above the largest batch of "
            f"{check.shown(Machine, 'mass_max_kg', row.mass_max_kg)}",
            allowed="a smallest fill up to the largest batch",
            do="look whether the two are changed about",
        )


def _some_mixer(check: Check) -> Iterator[Fault]:
    if not check.whole("machines") or not check.machines:
        return
    if not any(row.kind == "mixer" for row in check.machines.values()):
        yield check.fault(
            Machine, 0, "kind", found="no mixer", allowed="at least one machine that is a mixer"
        )


def _scale(check: Check, at: int, row: Scale) -> Iterator[Fault]:
    if row.smallest_draw_kg < row.division_kg:
        yield check.fault(
            Scale,
            at,
            "smallest_draw_kg",
            found=f"{check.shown(Scale, 'smallest_draw_kg', row.smallest_draw_kg)}, less than the division of {check.shown(Scale, 'division_kg', row.division_kg)}",
            allowed="at least one division",
            do="common practice is ten divisions or more",
        )
    if row.smallest_draw_kg > row.capacity_kg:
        yield check.fault(
            Scale,
            at,
            "smallest_draw_kg",
            found=f"{check.shown(Scale, 'smallest_draw_kg', row.smallest_draw_kg)}, more than the capacity of {check.shown(Scale, 'capacity_kg', row.capacity_kg)}",
            allowed="at most the capacity",
        )


def _weighs_for(check: Check, at: int, row: Scale) -> Iterator[Fault]:
    kind = check.machine_kind(row.machine)
    if kind and kind not in WITHOUT_RATE:
        yield check.fault(
            Scale,
            at,
            "machine",
            found=f"{row.machine}, which is a {kind}",
            allowed="a mixer or a hand-add station",
        )


def _meter(check: Check, at: int, row: Meter) -> Iterator[Fault]:
    if row.smallest_draw_kg < row.division_kg:
        yield check.fault(
            Meter,
            at,
            "smallest_draw_kg",
            found=f"{check.shown(Meter, 'smallest_draw_kg', row.smallest_draw_kg)}, less than the step of {check.shown(Meter, 'division_kg', row.division_kg)}",
            allowed="at least one step",
        )


def _doses_into(check: Check, at: int, row: Meter) -> Iterator[Fault]:
    kind = check.machine_kind(row.machine)
    if kind and kind != "mixer":
        yield check.fault(
            Meter, at, "machine", found=f"{row.machine}, which is a {kind}", allowed="a mixer"
        )


def _bin(check: Check, at: int, row: Bin) -> Iterator[Fault]:
    if row.hold_up_kg > row.capacity_kg:
        yield check.fault(
            Bin,
            at,
            "hold_up_kg",
            found=f"{check.shown(Bin, 'hold_up_kg', row.hold_up_kg)}, more than the bin holds ({check.shown(Bin, 'capacity_kg', row.capacity_kg)})",
            allowed="at most the capacity",
        )


def _shift(check: Check, at: int, row: Shift) -> Iterator[Fault]:
    if row.start_time >= row.end_time:
        yield check.fault(
            Shift,
            at,
            "end_time",
            found=f"{_clock(row.start_time)} to {_clock(row.end_time)}",
            allowed="an end later than the start",
            do="write a shift over midnight as two rows: until 23:59, and from 00:00 the next day",
        )


def _shift_overlap(check: Check, at: int, row: Shift) -> Iterator[Fault]:
    for before, other in check.each(Shift):
        if before >= at:
            return
        if (other.machine, other.weekday) != (row.machine, row.weekday):
            continue
        if other.start_time == row.start_time:
            continue  # said as a key that stands twice
        if other.start_time < row.end_time and row.start_time < other.end_time:
            yield check.fault(
                Shift,
                at,
                "start_time",
                found=f"{row.weekday} {_clock(row.start_time)} to {_clock(row.end_time)}, which "
                f"overlaps {check.row_of(Shift, before)} ({_clock(other.start_time)} to "
                f"{_clock(other.end_time)})",
                allowed="shifts of one day that do not overlap",
            )


def _clock(time: dt.time) -> str:
    return time.isoformat("minutes")


def _flush_bin(check: Check, settings: Settings) -> Iterator[Fault]:
    if settings.flush_material and not settings.flush_bin:
        yield check.settings_fault(
            "flush_bin",
            found="no flush bin for the flush material",
            allowed="the code of a bin of kind flush",
        )
    place = check.bins.get(settings.flush_bin)
    if place is not None and place.kind != "flush":
        yield check.settings_fault(
            "flush_bin",
            found=f"{settings.flush_bin}, which is of kind {place.kind}",
            allowed="a bin of kind flush",
        )
