"""Intervals of proofs, measures of tanks, liquids: that they fit the mill and each other."""

from collections.abc import Iterator

from bedstone.errors import Fault
from bedstone.mill.instrument_tables import Liquid, ProofInterval, TankMeasure
from bedstone.mill.validate_places import Check

__all__ = ["instrument_rules"]


def instrument_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of proof intervals, tanks and liquids."""
    yield _intervals(check)
    yield _tanks(check)
    for at, row in check.each(Liquid):
        yield _viscosity(check, at, row)


def _intervals(check: Check) -> Iterator[Fault]:
    meters = {row.meter for row in check.tables.get("meters", ())}
    for at, row in check.each(ProofInterval):
        if row.volume_m3 is not None and row.instrument not in meters:
            yield check.fault(
                ProofInterval,
                at,
                "volume_m3",
                found="a volume for what is no meter",
                allowed="an empty cell; nothing flows through a scale",
            )


def _tanks(check: Check) -> Iterator[Fault]:
    kinds = {row.bin: row.kind for row in check.tables.get("bins", ())}
    for at, row in check.each(TankMeasure):
        if row.lies == "standing" and row.ends != "flat":
            yield check.fault(
                TankMeasure,
                at,
                "ends",
                found=f"{row.ends} ends of a standing tank",
                allowed="flat; give a dished floor as a table of volumes in strapping.csv",
            )
        if kinds.get(row.bin, "tank") != "tank":
            yield check.fault(
                TankMeasure,
                at,
                "bin",
                found=f"a bin of kind {kinds[row.bin]}",
                allowed="a tank; the shape of a bin stands in bin_shapes.csv",
            )


def _viscosity(check: Check, at: int, row: Liquid) -> Iterator[Fault]:
    cells = (row.thick_cp, row.thick_at_c, row.thin_cp, row.thin_at_c)
    if None in cells:
        if any(cell is not None for cell in cells):
            yield check.fault(
                Liquid,
                at,
                "thick_cp",
                found="part of the viscosity",
                allowed="two viscosities, each with its temperature, or none",
            )
        return
    thick, cool_c, thin, warm_c = (float(cell) for cell in cells if cell is not None)
    if cool_c >= warm_c or thin >= thick:
        yield check.fault(
            Liquid,
            at,
            "thin_cp",
            found=f"{thick:g} cP when cool, {thin:g} cP when warm",
            allowed="the warmer temperature last, and thinner there",
        )
