"""What the equations of a cooler's bed need, and how the bed is cut into cells."""

import math
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from bedstone.materials.moist_air import (
    DRY_AIR_J_KG_K,
    MOLAR_RATIO,
    VAPOUR_GAS_J_KG_K,
    VAPOUR_J_KG,
    WATER_J_KG_K,
    saturation_pressure_pa,
    saturation_slope_pa_dk,
)
from bedstone.materials.sorption import water_activity
from bedstone.quantities.compiling import compiled_and_kept

__all__ = ["BedNumbers", "Floats", "edges_of_m", "first_guess", "mesh_length", "weaker"]

Floats = npt.NDArray[np.float64]

_EVEN: Final = 4.0  # cells spread over the height, to cells spread towards one end, about
_KELVIN: Final = 273.15


class BedNumbers(NamedTuple):
    """What the equations need, for each square metre of bed; all in SI, all floats."""

    pellet_kg_s_m2: float  # dry matter
    air_kg_s_m2: float  # dry air
    depth_m: float
    heat_w_m3_k: float  # exchange coefficient times surface in a cubic metre of bed
    vapour_1_s: float  # the same for vapour
    solid_j_kg_k: float  # specific heat of dry matter
    residence_s: float
    diffusion_1_s: float  # diffusivity over the square of the radius at 60 degrees C; 0 is uniform
    activation_j_mol: float
    pressure_pa: float
    isotherm: float
    isotherm_a: float
    isotherm_b: float
    isotherm_c: float
    pellet_in_c: float
    pellet_in_db: float
    air_in_c: float
    air_in_db: float  # vapour and fog


@compiled_and_kept
def _units(k: BedNumbers) -> tuple[float, float, float, float]:
    """Units of exchange in a metre: pellet temperature and moisture, air temperature and water."""
    hot_c = max(k.pellet_in_c, k.air_in_c)
    sat_pa = saturation_pressure_pa(hot_c)
    activity, by_m, _ = water_activity(
        k.pellet_in_db, hot_c, int(k.isotherm), k.isotherm_a, k.isotherm_b, k.isotherm_c
    )
    per_pa = k.vapour_1_s / (VAPOUR_GAS_J_KG_K * (hot_c + _KELVIN))
    pellet_j = k.pellet_kg_s_m2 * (k.solid_j_kg_k + k.pellet_in_db * WATER_J_KG_K)
    wet_w = per_pa * activity * saturation_slope_pa_dk(hot_c, sat_pa) * VAPOUR_J_KG
    return (
        (k.heat_w_m3_k + wet_w) / pellet_j,
        per_pa * by_m * sat_pa / k.pellet_kg_s_m2,
        k.heat_w_m3_k / (k.air_kg_s_m2 * DRY_AIR_J_KG_K),
        per_pa * k.pressure_pa / MOLAR_RATIO / k.air_kg_s_m2,
    )


@compiled_and_kept
def _thin_m(k: BedNumbers) -> tuple[float, float]:
    """Height in which the entering pellets, and the entering air, give up most of what they do."""
    units = _units(k)
    least, most = 1e-7 * k.depth_m, 0.3 * k.depth_m
    return (
        min(max(1.0 / max(units[0], units[1]), least), most),
        min(max(1.0 / max(units[2], units[3]), least), most),
    )


@compiled_and_kept
def mesh_length(k: BedNumbers) -> float:
    """Into how much the edges of :func:`edges_of_m` are spread; one about for each e-fold."""
    top, bottom = _thin_m(k)
    return math.log((k.depth_m + bottom) / bottom) + math.log((k.depth_m + top) / top) + _EVEN


@compiled_and_kept
def edges_of_m(k: BedNumbers, cells: int) -> Floats:
    """Heights of the cells' edges: thin where pellets come in and where air comes in.

    Edges lie evenly in ``log((d + e) / e)`` from both ends and in the height itself, added up;
    ``e`` is the height in which the entering stream gives up most of its difference.
    """
    depth = k.depth_m
    top, bottom = _thin_m(k)
    even = _EVEN / depth
    whole = mesh_length(k)
    edges = np.zeros(cells + 1)
    z = 0.0
    for i in range(1, cells):
        wanted = whole * i / cells
        low, high = z, depth
        z = low + whole / cells / (1 / (low + bottom) + 1 / (depth - low + top) + even)
        if z >= high:
            z = 0.5 * (low + high)
        for _ in range(50):
            value = (
                math.log((z + bottom) / bottom)
                + math.log((depth + top) / (depth - z + top))
                + even * z
            )
            if value > wanted:
                high = z
            else:
                low = z
            step = (value - wanted) / (1 / (z + bottom) + 1 / (depth - z + top) + even)
            z -= step
            if not low <= z <= high:
                z = 0.5 * (low + high)
            if abs(step) < 1e-13 * depth:
                break
        edges[i] = z
    edges[cells] = depth
    return edges


@compiled_and_kept
def first_guess(k: BedNumbers, edges_m: Floats, pellets: Floats, air: Floats) -> None:
    """A bed in which both streams change evenly from bottom to top."""
    fall_c = 0.85 * (k.pellet_in_c - k.air_in_c)
    dried_db = min(0.0003 * fall_c, 0.3 * k.pellet_in_db)
    ratio = k.pellet_kg_s_m2 / k.air_kg_s_m2
    heat = k.solid_j_kg_k * fall_c / (DRY_AIR_J_KG_K + 3000.0) * ratio
    cells = edges_m.size - 1
    for i in range(cells + 1):
        up = edges_m[i] / k.depth_m
        pellets[i] = 0.0
        pellets[i, 0] = k.pellet_in_c - fall_c * (1 - up)
        pellets[i, 1] = k.pellet_in_db - dried_db * (1 - up)
        air[i, 0] = k.air_in_c + min(heat, fall_c) * up
        air[i, 1] = max(k.air_in_db + ratio * dried_db * up, 1e-5)
    pellets[cells, 0] = k.pellet_in_c
    pellets[cells, 1] = k.pellet_in_db
    air[0, 0] = k.air_in_c
    air[0, 1] = k.air_in_db


@compiled_and_kept
def weaker(k: BedNumbers, share: float) -> BedNumbers:
    """The same bed with a share of its exchange; compiled code knows no ``_replace``."""
    return BedNumbers(
        k.pellet_kg_s_m2, k.air_kg_s_m2, k.depth_m, k.heat_w_m3_k * share, k.vapour_1_s * share,
        k.solid_j_kg_k, k.residence_s, k.diffusion_1_s, k.activation_j_mol, k.pressure_pa,
        k.isotherm, k.isotherm_a, k.isotherm_b, k.isotherm_c,
        k.pellet_in_c, k.pellet_in_db, k.air_in_c, k.air_in_db,
    )  # fmt: skip
