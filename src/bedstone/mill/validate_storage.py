"""Shapes of bins and tables of volumes: that they are bins that can be built."""

from collections.abc import Iterator
from itertools import pairwise

from bedstone.errors import Fault
from bedstone.mill.goods import Composition, Guarantee, Substance
from bedstone.mill.storage_tables import BinMeasure, KeepApart, VolumeAtDepth
from bedstone.mill.validate_places import Check

__all__ = ["storage_rules"]


def storage_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of shapes and tables of volumes."""
    for at, row in check.each(BinMeasure):
        yield _section(check, at, row)
        yield _hopper(check, at, row)
    yield _tables_of_volumes(check)
    yield _kept_apart(check)


def _section(check: Check, at: int, row: BinMeasure) -> Iterator[Fault]:
    if (row.section == "rectangle") != (row.length_m is not None):
        yield check.fault(
            BinMeasure,
            at,
            "length_m",
            found="an empty cell" if row.length_m is None else "a length",
            allowed="a length for a rectangle, none for a round bin",
        )
    fits = {"flat": True, "cone": row.section == "round"}
    if not fits.get(row.hopper, row.section == "rectangle"):
        yield check.fault(
            BinMeasure,
            at,
            "hopper",
            found=f"a {row.hopper} under a {row.section} section",
            allowed="a cone under a round bin; a pyramid or wedge under a rectangle",
        )
    if row.wall_m + row.hopper_m <= 0:
        yield check.fault(BinMeasure, at, "wall_m", found="no height", allowed="above 0")


def _hopper(check: Check, at: int, row: BinMeasure) -> Iterator[Fault]:
    if (row.hopper == "flat") != (row.hopper_m == 0):
        yield check.fault(
            BinMeasure,
            at,
            "hopper_m",
            found=f"{check.shown(BinMeasure, 'hopper_m', row.hopper_m)} of a bottom that is "
            f"{row.hopper}",
            allowed="0 for a flat bottom, more for a hopper",
        )
    length_m = row.width_m if row.length_m is None else row.length_m
    outlet_m = row.outlet_width_m if row.outlet_length_m is None else row.outlet_length_m
    if row.outlet_width_m > row.width_m or outlet_m > length_m:
        yield check.fault(
            BinMeasure,
            at,
            "outlet_width_m",
            found="an outlet larger than the bin",
            allowed="up to the bin's own section",
            do="look at the unit",
        )
    elif abs(row.outlet_off_m) + row.outlet_width_m / 2 > row.width_m / 2:
        yield check.fault(
            BinMeasure,
            at,
            "outlet_off_m",
            found="an outlet beyond the wall",
            allowed="within the bin's own section",
            do="measure from the middle of the bin to the middle of the outlet",
        )


def _tables_of_volumes(check: Check) -> Iterator[Fault]:
    by_bin: dict[str, list[tuple[int, VolumeAtDepth]]] = {}
    for at, step in check.each(VolumeAtDepth):
        by_bin.setdefault(step.bin, []).append((at, step))
    for steps in by_bin.values():
        yield from _falls(check, steps)


def _kept_apart(check: Check) -> Iterator[Fault]:
    known = {row.nutrient for _, row in check.each(Composition)}
    known |= {row.substance for _, row in check.each(Substance)}
    known |= {row.nutrient for _, row in check.each(Guarantee)} | {"moisture"}
    for at, row in check.each(KeepApart):
        if row.nutrient not in known:
            yield check.fault(
                KeepApart,
                at,
                "nutrient",
                found=repr(row.nutrient),
                allowed="a nutrient of composition or guarantees, a substance, or moisture",
            )


def _falls(check: Check, steps: list[tuple[int, VolumeAtDepth]]) -> Iterator[Fault]:
    steps = sorted(steps, key=lambda step: step[1].depth_m)
    if len(steps) == 1:
        yield check.fault(
            VolumeAtDepth, steps[0][0], "depth_m", found="one row", allowed="two rows or more a bin"
        )
    for (_, above), (at, below) in pairwise(steps):
        if below.volume_m3 > above.volume_m3:
            yield check.fault(
                VolumeAtDepth,
                at,
                "volume_m3",
                found="more than at a smaller depth",
                allowed="volumes that fall as the tape goes down",
            )
