"""The night ahead of a bin of warm pellets, by the figures that are meant."""

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bedstone.cooling.after_cooler import HOT_C
from bedstone.cooling.bin_bounds import BinNight, bin_through_the_night
from bedstone.cooling.bin_night import HOTTEST_C, WarmBin
from bedstone.desk.bag_activity import AsItCools, as_it_cools, other_isotherms
from bedstone.desk.bin_findings import HEATING
from bedstone.desk.bin_room import holds_of
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.warm_bin import UNREAD, FilledIn
from bedstone.errors import BadInput
from bedstone.mill.bin_asked import AskedOfBin
from bedstone.mill.model import Mill
from bedstone.mill.plan import Finding
from bedstone.quantities.line_figures import depth_words, temperature_words
from bedstone.quantities.masses import shown_mass

__all__ = ["WarmBinNight", "night_ahead"]

THINNEST_M = 0.05
SLACK_FRAC = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmBinNight:
    """The night ahead of a bin of pellets."""

    bin: str  # empty where no bin is meant
    material: str
    runs: tuple[str, ...]
    first_at: dt.datetime | None
    asked: AskedOfBin
    said: Mapping[str, str]
    night: BinNight
    cools: AsItCools
    findings: tuple[Finding, ...]

    @property
    def unread(self) -> str:
        """What nobody read of the pellets, in words; empty where warmth and moisture were."""
        words = (("pellet_c", "how warm"), ("moisture_wb", "how damp"))
        return " and ".join(said for name, said in words if self.said[name].startswith(UNREAD))

    @property
    def heating(self) -> Finding | None:
        """That the bin reads hot or warms by itself: then no fan, and no other advice."""
        return next((one for one in self.findings if one.code in HEATING), None)


def night_ahead(
    found: FilledIn, asked: AskedOfBin, *, mill: Mill | None = None, units: str = "US"
) -> WarmBinNight:
    """The night ahead with the figures that are meant.

    Another coldest hour than the one filled in moves every hour by as much.

    Parameters
    ----------
    found : FilledIn
        What the record knows, or :func:`plain`.
    asked : AskedOfBin
        The figures to go by.
    mill : Mill, optional
        The mill of the bin, for what the bin holds.
    units : str
        "US" or "SI", for round temperatures and for words.

    Raises
    ------
    BadInput
        If mass and areas cannot be of one bin, or the bin holds less.
    """
    _must_fit(found, asked, mill, units)
    moved_dk = asked.coldest_c - min(found.outside_c)
    outside_c = tuple(one + moved_dk for one in found.outside_c)
    warm = WarmBin(
        pellet_c=asked.pellet_c,
        moisture_wb=asked.moisture_wb,
        mass_kg=asked.mass_kg,
        top_m2=asked.top_m2,
        roof_m2=asked.roof_m2,
        wall_m2=asked.wall_m2,
        bulk_density_kg_m3=found.bulk_density_kg_m3,
        pressure_pa=found.pressure_pa,
    )
    held = found.pellets
    return WarmBinNight(
        bin="" if held is None else held.bin.bin,
        material="" if held is None else held.material,
        runs=() if held is None else held.runs,
        first_at=found.first_at,
        asked=asked,
        said={name: _whose(found, asked, name) for name in found.said},
        night=bin_through_the_night(warm, outside_c, other_isotherms()),
        cools=as_it_cools(
            asked.moisture_wb, (asked.pellet_c, asked.coldest_c), units, bag_c=found.bag_c
        ),
        findings=() if held is None else held.findings,
    )


def _whose(found: FilledIn, asked: AskedOfBin, name: str) -> str:
    """Where a figure is from: what was filled in, unless another one is meant."""
    same = getattr(asked, name) == getattr(found.asked, name)
    return found.said[name] if same else "typed"


def _must_fit(found: FilledIn, asked: AskedOfBin, mill: Mill | None, units: str) -> None:
    """Refuse a fire, more than the bin holds, and areas of another bin's pellets."""

    def shown(mass_kg: float) -> str:
        return shown_mass(round(mass_kg * MG_IN_KG), units=units)

    if asked.pellet_c > HOTTEST_C:
        raise BadInput(
            "This is no bin that cools down: fear a fire.",
            seen=temperature_words(asked.pellet_c, units),
            allowed=f"up to {temperature_words(HOTTEST_C, units)}",
            do="keep out, keep people away, call the fire service if it smokes or smells burnt",
        )
    if mill is not None and found.pellets is not None:
        most = holds_of(mill, found.pellets.bin, found.pellets.material)
        if (
            asked.mass_kg
            > max(most.most_kg * (1 + SLACK_FRAC), found.pellets.mass_mg / MG_IN_KG)
            + 3 * most.sd_kg
        ):
            raise BadInput(
                f"{mill.name_of(found.pellets.bin.bin)} does not hold this much.",
                seen=shown(asked.mass_kg),
                allowed=f"at most {shown(most.most_kg)}, by its {most.by}",
                do="look at the mass and its unit",
            )
    _must_be_there(found, asked, shown)
    volume_m3 = asked.mass_kg / found.bulk_density_kg_m3
    for what, area_m2 in (("surface", asked.top_m2), ("wall", asked.wall_m2)):
        if volume_m3 < THINNEST_M * area_m2:
            raise BadInput(
                f"So few pellets do not belong to this {what}: they would lie no deeper than "
                f"{depth_words(volume_m3 / area_m2, units)}.",
                seen=f"{shown(asked.mass_kg)} of pellets",
                allowed=f"{depth_words(THINNEST_M, units)} deep or more over surface and wall",
                do="look at mass and areas and their units",
            )


def _must_be_there(found: FilledIn, asked: AskedOfBin, shown: Callable[[float], str]) -> None:
    """Refuse a night of a remainder that may be nothing but the books', unless it reads hot."""
    held = found.pellets
    if held is None or not held.is_remainder or asked.mass_kg >= held.least_kg:
        return
    if asked.pellet_c >= HOT_C or any(one.code in HEATING for one in held.findings):
        return
    raise BadInput(
        f"By the books {held.bin.bin} holds only a remainder: it may well be empty.",
        seen=shown(asked.mass_kg),
        allowed=f"{shown(held.least_kg)} or more, which the books can tell from an empty bin",
        do="look from outside: if it is empty, record that on its page; if not, type what lies in it",
    )
