"""A bin of warm pellets through a night: what it cools, where water runs down, where it wanders.

Three lumps of pellets - the core, a layer below the surface, a layer along the wall - lose heat and
vapour to the headspace, the roof and the wall. How briskly air moves in a closed bin is known to
nobody, so a night is reckoned at every corner of what is usual (see ``bin_bounds``).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from bedstone.cooling.model import Isotherm
from bedstone.errors import BadInput
from bedstone.materials.moist_air import (
    DRY_AIR_J_KG_K,
    VAPOUR_GAS_J_KG_K,
    WATER_J_KG_K,
    dew_point_c,
    humidity_at,
    saturated_humidity,
    saturation_pressure_pa,
    saturation_slope_pa_dk,
)
from bedstone.materials.sorption import water_activity
from bedstone.quantities.moisture import dry_basis

__all__ = ["CORNERS", "HOTTEST_C", "Course", "Exchange", "HourOfNight", "WarmBin", "course"]

COLDEST_C, HOTTEST_C = -40.0, 90.0
DRIEST_WB, WETTEST_WB = 0.01, 0.35
SOLID_J_KG_K: Final = 1650.0  # mid-range of measured protein meals, as for the cooler's pellets
LATENT_J_KG: Final = 2.45e6
BULK_W_M_K: Final = 0.15  # of pellets in heap, from memory; 0.10 to 0.20 is usual for feeds
PORES_M2_S: Final = 7e-6  # vapour in air at 2.5e-5 through pores of two fifths, winding by 1.4
LAYER_M: Final = (
    0.1  # about as deep as a night's cold goes: root of pi times diffusivity times 12 h
)
THINNEST_M: Final = 0.02
LONGEST_S: Final = 240.0
HOUR_S: Final = 3600.0
KELVIN: Final = 273.15
HALVINGS: Final = 32
WET_KG_M2_H: Final = 1e-4  # less water than this runs nowhere


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchange:
    """How briskly heat and vapour go to and fro in a bin and at its skin."""

    film_w_m2_k: float  # still air of the headspace to pellets and to roof
    outside_w_m2_k: float  # skin to the air outside
    stirs: float  # vapour in the heap, to what diffusion alone carries
    sky_dk: float = 0.0  # how much colder than the air the roof is under a clear sky


CORNERS: Final = tuple(
    Exchange(film_w_m2_k=film, outside_w_m2_k=outside, stirs=stirs, sky_dk=sky_dk)
    for film in (1.5, 5.0)
    for outside in (8.0, 25.0)
    for stirs, sky_dk in ((1.0, 0.0), (4.0, 4.0))
)
"""Corners of what is usual, the first the quietest, the last the briskest; all from memory: natural
convection over some kelvins, calm and wind, a covered and a clear sky. Air in a heap of 4 mm pellets
of 3 m with 30 K across it is just short of turning over by itself (Rayleigh number of a porous bed
about 30, against 40 where it begins), so diffusion is not far off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmBin:
    """A bin with pellets."""

    pellet_c: float
    moisture_wb: float
    mass_kg: float
    top_m2: float  # surface of the pellets
    roof_m2: float  # roof and bare wall over them
    wall_m2: float  # wall and hopper that they touch
    bulk_density_kg_m3: float = 620.0
    bulk_w_m_k: float = BULK_W_M_K
    pressure_pa: float = 101_325.0
    isotherm: Isotherm = field(default_factory=Isotherm)

    def __post_init__(self) -> None:
        """Refuse a bin that cannot be."""
        for seen, fits, allowed in (
            (f"pellets at {self.pellet_c:g} C", COLDEST_C <= self.pellet_c <= HOTTEST_C,
             f"{COLDEST_C:g} to {HOTTEST_C:g} C: hotter is no warm bin but a fire to be feared"),
            (f"moisture {self.moisture_wb:g}", DRIEST_WB <= self.moisture_wb <= WETTEST_WB,
             f"{DRIEST_WB:g} to {WETTEST_WB:g} kg/kg"),
            (f"{self.mass_kg:g} kg", self.mass_kg > 0, "above 0 kg: an empty bin has no night"),
            (f"areas {self.top_m2:g}, {self.roof_m2:g}, {self.wall_m2:g} m2",
             min(self.top_m2, self.roof_m2) > 0 and self.wall_m2 >= 0, "top and roof above 0 m2"),
            (f"{self.deep_m(self.top_m2):.3f} m deep", self._is_deep(),
             f"more than {THINNEST_M:g} m over its top and along its wall"),
        ):  # fmt: skip
            if not fits:
                raise BadInput("A bin of pellets cannot be so.", seen=seen, allowed=allowed)

    def deep_m(self, area_m2: float) -> float:
        """How thick all of the pellets would lie over an area."""
        return self.mass_kg / (self.bulk_density_kg_m3 * max(area_m2, 1e-9))

    def _is_deep(self) -> bool:
        return min(self.deep_m(self.top_m2), self.deep_m(self.wall_m2)) >= THINNEST_M


@dataclass(frozen=True, slots=True, kw_only=True)
class HourOfNight:
    """A full hour of the night, and what ran down in the hour before it."""

    outside_c: float
    core_c: float  # of all that lies behind those two layers, on average
    top_c: float  # pellets below the surface
    edge_c: float  # pellets along the wall
    dew_point_c: float  # of the air over the pellets
    roof_c: float
    wall_c: float
    roof_kg: float
    wall_kg: float
    roof_film_kg: float  # what hangs there now
    wall_film_kg: float
    mist: bool  # whether the headspace's own air is over-full


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A night at one briskness of exchange."""

    hours: tuple[HourOfNight, ...]
    roof_kg: float  # all that condensed there, though some dries off again
    wall_kg: float
    most_roof_film_kg: float
    most_wall_film_kg: float
    wandered_kg: float  # from the core into the layers below the surface and along the wall
    top_moisture_wb: float
    edge_moisture_wb: float
    heat_out_j: float
    balance_frac: float  # what neither heat nor water balance closes by, the greater of the two


class _Lumps:
    """The pellets and films of a bin as they are, brought forward in steps."""

    def __init__(self, warm: WarmBin, how: Exchange) -> None:
        self.warm, self.how = warm, how
        start_db = dry_basis(warm.moisture_wb)
        self.deep_m = (
            min(LAYER_M, warm.deep_m(warm.top_m2) / 4),
            min(LAYER_M, warm.deep_m(warm.wall_m2) / 4) if warm.wall_m2 else LAYER_M,
        )
        dry_kg = warm.mass_kg * (1 - warm.moisture_wb)
        dense = warm.bulk_density_kg_m3 * (1 - warm.moisture_wb)
        top_kg = dense * warm.top_m2 * self.deep_m[0]
        edge_kg = dense * warm.wall_m2 * self.deep_m[1]
        self.dry_kg = [dry_kg - top_kg - edge_kg, top_kg, edge_kg]  # core, top, edge
        j_kg_k = SOLID_J_KG_K + start_db * WATER_J_KG_K
        self.heat_j_k = [kg * j_kg_k for kg in self.dry_kg]
        self.at_c = [warm.pellet_c] * 3
        self.moist_db = [start_db] * 3
        self.film_kg = [0.0, 0.0]  # roof, wall
        self.skin_c = [warm.pellet_c, warm.pellet_c]
        self.ran_kg = [0.0, 0.0]
        self.wandered_kg = self.heat_out_j = self.over_db = self.air_db = 0.0

    def step_s(self) -> float:
        """A step short enough that no lump runs ahead of its surroundings."""
        at_c = self.warm.pellet_c
        slope = saturation_slope_pa_dk(at_c, saturation_pressure_pa(at_c))
        wet = self.how.film_w_m2_k / DRY_AIR_J_KG_K * LATENT_J_KG * slope / 1.2e5
        thin_m = min(self.deep_m)
        brisk = 3 * self.warm.bulk_w_m_k / thin_m + self.how.film_w_m2_k + wet
        own = self.warm.bulk_density_kg_m3 * (1 - self.warm.moisture_wb) * thin_m * SOLID_J_KG_K
        return min(LONGEST_S, 0.1 * own / brisk)

    def vapour_pa(self, lump: int) -> float:
        """Pressure of vapour over a lump."""
        holds = self.warm.isotherm
        activity, _, _ = water_activity(
            self.moist_db[lump], self.at_c[lump], holds.form, holds.a, holds.b, holds.c
        )
        return float(activity * saturation_pressure_pa(self.at_c[lump]))

    def step(self, outside_c: float, step_s: float) -> None:
        """Bring everything forward."""
        over_pa = [self.vapour_pa(lump) for lump in range(3)]
        out_w, out_kg_s = [0.0] * 3, [0.0] * 3
        for lump, area_m2 in ((1, self.warm.top_m2), (2, self.warm.wall_m2)):
            deep_m = self.deep_m[lump - 1]
            vapour_kg_s = self._creeps(over_pa[0], over_pa[lump], self.at_c[lump], deep_m) * area_m2
            heat_w = self.warm.bulk_w_m_k / deep_m * area_m2 * (self.at_c[0] - self.at_c[lump])
            heat_w += vapour_kg_s * LATENT_J_KG
            out_w[0] += heat_w
            out_w[lump] -= heat_w
            out_kg_s[0] += vapour_kg_s
            out_kg_s[lump] -= vapour_kg_s
            self.wandered_kg += vapour_kg_s * step_s
        roof_w, roof_kg_s = self._roof(over_pa[1], outside_c - self.how.sky_dk, step_s)
        wall_w, wall_kg_s = self._wall(over_pa[2], outside_c, step_s)
        for lump, heat_w, kg_s in ((1, roof_w, roof_kg_s), (2, wall_w, wall_kg_s)):
            out_w[lump] += heat_w
            out_kg_s[lump] += kg_s
            self.film_kg[lump - 1] += kg_s * step_s
            self.ran_kg[lump - 1] += max(kg_s, 0.0) * step_s
            self.heat_out_j += heat_w * step_s
        for lump in range(3):
            if self.dry_kg[lump] > 0:
                self.at_c[lump] -= out_w[lump] * step_s / self.heat_j_k[lump]
                self.moist_db[lump] -= out_kg_s[lump] * step_s / self.dry_kg[lump]

    def _creeps(self, from_pa: float, to_pa: float, at_c: float, over_m: float) -> float:
        """Vapour through a square metre of heap."""
        return (
            PORES_M2_S
            * self.how.stirs
            * (from_pa - to_pa)
            / (VAPOUR_GAS_J_KG_K * (at_c + KELVIN) * over_m)
        )

    def _roof(self, over_pa: float, outside_c: float, step_s: float) -> tuple[float, float]:
        """Heat, and vapour that condenses, from the surface through the headspace to the roof."""
        warm, how = self.warm, self.how
        both_m2 = warm.top_m2 * warm.roof_m2 / (warm.top_m2 + warm.roof_m2)
        carries = how.film_w_m2_k / DRY_AIR_J_KG_K
        self.over_db = float(humidity_at(over_pa, warm.pressure_pa))

        def runs_kg_s(roof_c: float) -> float:
            less = self.over_db - saturated_humidity(roof_c, warm.pressure_pa)
            return max(float(carries * both_m2 * less), -self.film_kg[0] / step_s)

        found = self._skin(
            0, how.film_w_m2_k * both_m2, self.at_c[1], warm.roof_m2, outside_c, runs_kg_s
        )
        self.air_db = self.over_db - found[1] / (carries * warm.top_m2)
        return found

    def _wall(self, over_pa: float, outside_c: float, step_s: float) -> tuple[float, float]:
        """Heat, and vapour that condenses, from the pellets along the wall to it."""
        area_m2, half_m = self.warm.wall_m2, self.deep_m[1] / 2

        def runs_kg_s(wall_c: float) -> float:
            most_pa = float(saturation_pressure_pa(wall_c))
            creeps = self._creeps(over_pa, most_pa, self.at_c[2], half_m) * area_m2
            return max(creeps, -self.film_kg[1] / step_s)

        through_w_k = self.warm.bulk_w_m_k / half_m * area_m2
        return self._skin(1, through_w_k, self.at_c[2], area_m2, outside_c, runs_kg_s)

    def _skin(  # noqa: PLR0917 - the two sides of a sheet of metal
        self, which: int, inside_w_k: float, inside_c: float, area_m2: float, outside_c: float,
        runs_kg_s: Callable[[float], float],
    ) -> tuple[float, float]:  # fmt: skip
        """The sheet's temperature at which what comes in leaves outside; heat and vapour then."""
        low_c, high_c = min(inside_c, outside_c) - 25.0, max(inside_c, outside_c) + 25.0
        out_w_k = self.how.outside_w_m2_k * area_m2
        skin_c = outside_c
        for _ in range(HALVINGS if area_m2 else 0):
            skin_c = (low_c + high_c) / 2
            more_w = inside_w_k * (inside_c - skin_c) + LATENT_J_KG * runs_kg_s(skin_c)
            if more_w > out_w_k * (skin_c - outside_c):
                low_c = skin_c
            else:
                high_c = skin_c
        self.skin_c[which] = skin_c
        vapour_kg_s = runs_kg_s(skin_c) if area_m2 else 0.0
        return inside_w_k * (inside_c - skin_c) + LATENT_J_KG * vapour_kg_s, vapour_kg_s

    def seen(self, outside_c: float, before_kg: Sequence[float]) -> HourOfNight:
        """What a person could read now, and what ran down since ``before_kg``."""
        warm = self.warm
        self._roof(self.vapour_pa(1), outside_c - self.how.sky_dk, LONGEST_S)
        self._wall(self.vapour_pa(2), outside_c, LONGEST_S)
        least_kg = (WET_KG_M2_H * warm.roof_m2, WET_KG_M2_H * warm.wall_m2)
        ran = [
            now - was if now - was > least else 0.0
            for now, was, least in zip(self.ran_kg, before_kg, least_kg, strict=True)
        ]
        share = warm.roof_m2 / (warm.top_m2 + warm.roof_m2)
        air_c = self.at_c[1] + share * (self.skin_c[0] - self.at_c[1])
        return HourOfNight(
            outside_c=outside_c,
            core_c=self.at_c[0],
            top_c=self.at_c[1],
            edge_c=self.at_c[2],
            dew_point_c=float(dew_point_c(self.over_db, warm.pressure_pa)),
            roof_c=self.skin_c[0],
            wall_c=self.skin_c[1],
            roof_kg=ran[0],
            wall_kg=ran[1],
            roof_film_kg=self.film_kg[0],
            wall_film_kg=self.film_kg[1],
            mist=self.air_db > saturated_humidity(air_c, warm.pressure_pa) * (1 + 1e-6),
        )

    def stored(self) -> tuple[float, float]:
        """Heat over 0 degrees C and water of everything. [J], [kg]"""
        heat_j = sum(j * c for j, c in zip(self.heat_j_k, self.at_c, strict=True))
        water_kg = sum(kg * db for kg, db in zip(self.dry_kg, self.moist_db, strict=True))
        return heat_j, water_kg + sum(self.film_kg)


def course(warm: WarmBin, outside_c: Sequence[float], how: Exchange) -> Course:
    """A night of a bin at one briskness of exchange.

    Parameters
    ----------
    warm : WarmBin
        The bin.
    outside_c : sequence of float
        Air outside at each full hour, straight between; one more than there are hours.
        [degrees C]
    how : Exchange
        How briskly.

    Returns
    -------
    found : Course
        Each full hour from the first on, and what the night came to.

    Raises
    ------
    BadInput
        If there is no hour, or an outside that no place on earth has.

    Sources
    -------
    [1] Air over pellets is at rest with them: its vapour pressure is their water activity times
        saturation. Heat and vapour go to a sheet together (Lewis number one), each through half
        of the headspace's two films; the sheet is where what comes in, heat of condensation
        included, leaves outside. Headspace and sheets store nothing; what hangs on a sheet dries
        off again when the sheet is warm enough.
    """
    if len(outside_c) < 2 or not all(-60 <= one <= 60 for one in outside_c):  # noqa: PLR2004 - both ends of an hour
        raise BadInput(
            "A night has air outside, hour by hour.",
            seen=", ".join(f"{one:g} C" for one in outside_c[:5]) or "nothing",
            allowed="two full hours or more, each from -60 to 60 C",
        )
    lumps = _Lumps(warm, how)
    heat_j, water_kg = lumps.stored()
    count = max(1, round(HOUR_S / lumps.step_s() + 0.5))
    hours = [lumps.seen(outside_c[0], lumps.ran_kg)]
    for start_c, end_c in pairwise(outside_c):
        before = tuple(lumps.ran_kg)
        for number in range(count):
            lumps.step(start_c + (end_c - start_c) * (number + 0.5) / count, HOUR_S / count)
        hours.append(lumps.seen(end_c, before))
    heat_now_j, water_now_kg = lumps.stored()
    moved_j = max(abs(heat_j), abs(lumps.heat_out_j), 1.0)
    off = (
        abs(heat_j - lumps.heat_out_j - heat_now_j) / moved_j,
        abs(water_kg - water_now_kg) / water_kg,
    )
    wet = [one / (1 + one) for one in lumps.moist_db]
    return Course(
        hours=tuple(hours),
        roof_kg=sum(row.roof_kg for row in hours),
        wall_kg=sum(row.wall_kg for row in hours),
        most_roof_film_kg=max(row.roof_film_kg for row in hours),
        most_wall_film_kg=max(row.wall_film_kg for row in hours),
        wandered_kg=lumps.wandered_kg,
        top_moisture_wb=wet[1],
        edge_moisture_wb=wet[2],
        heat_out_j=lumps.heat_out_j,
        balance_frac=max(off),
    )
