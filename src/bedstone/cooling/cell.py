"""The balances of one cell of a cooler's bed, and their slopes.

Inside the pellet, moisture diffuses in a cylinder; its profile is the mean, three modes, and what
the modes left out amount to when they follow at once. Where the air would hold more water than it
can as vapour, the rest floats as droplets and gives up its heat to the air.
"""

import math
from typing import Final

from bedstone.cooling.numbers import BedNumbers, Floats
from bedstone.materials.moist_air import (
    DRY_AIR_J_KG_K,
    MOLAR_RATIO,
    STEAM_J_KG_K,
    VAPOUR_GAS_J_KG_K,
    VAPOUR_J_KG,
    WATER_J_KG_K,
    saturation_pressure_pa,
    saturation_slope_pa_dk,
)
from bedstone.materials.sorption import binding_j_kg, sorption_extra_j_kg, water_activity
from bedstone.quantities.compiling import compiled_and_kept

__all__ = ["MODES", "balance_cell", "pellet_enthalpy_j_kg"]

MODES: Final = 3
"""Of the profile inside the pellet."""
_ROOT_1: Final = 14.681970642123893  # squares of the zeros of the Bessel function J1
_ROOT_2: Final = 49.218456321694600
_ROOT_3: Final = 103.499453895136580
_LEFT_OUT: Final = 0.125 - 1 / _ROOT_1 - 1 / _ROOT_2 - 1 / _ROOT_3
_GAS_J_MOL_K: Final = 8.314462618
_KELVIN: Final = 273.15
_DRIEST_DB: Final = 1e-5
_SHORT: Final = 1e-6


@compiled_and_kept
def _vapour_flow(
    k: BedNumbers, pellet_c: float, surface_db: float, air_c: float, water_db: float
) -> tuple[float, float, float, float, float]:
    """Vapour from pellets to air in a cubic metre each second, and its four slopes.

    The logarithm is that of diffusion through air at rest (Stefan); where vapour is thin it is
    the plain difference of vapour pressures.
    """
    p = k.pressure_pa
    sat_pa = saturation_pressure_pa(pellet_c)
    activity, by_m, by_t = water_activity(
        surface_db, pellet_c, int(k.isotherm), k.isotherm_a, k.isotherm_b, k.isotherm_c
    )
    over_pa = activity * sat_pa
    over_by_t = by_t * sat_pa + activity * saturation_slope_pa_dk(pellet_c, sat_pa)
    over_by_m = by_m * sat_pa
    most_pa = 0.995 * p
    over_pa = min(over_pa, most_pa)
    air_sat_pa = saturation_pressure_pa(air_c)
    air_pa = p * water_db / (MOLAR_RATIO + water_db)
    air_by_t = 0.0
    air_by_y = p * MOLAR_RATIO / (MOLAR_RATIO + water_db) ** 2
    if air_pa > air_sat_pa:
        air_pa = air_sat_pa
        air_by_t = saturation_slope_pa_dk(air_c, air_sat_pa)
        air_by_y = 0.0
    film_k = 0.5 * (pellet_c + air_c) + _KELVIN
    scale = k.vapour_1_s * p / (VAPOUR_GAS_J_KG_K * film_k)
    flow = scale * math.log((p - air_pa) / (p - over_pa))
    by_film = -0.5 * flow / film_k
    up = scale / (p - over_pa)
    down = -scale / (p - air_pa)
    return (
        flow,
        up * over_by_t + by_film,
        up * over_by_m,
        down * air_by_t + by_film,
        down * air_by_y,
    )


@compiled_and_kept
def _air_enthalpy(air_c: float, water_db: float, pressure_pa: float) -> tuple[float, float, float]:
    """Enthalpy of air with its water, and its slopes by temperature and by water."""
    sat_pa = saturation_pressure_pa(air_c)
    air_pa = pressure_pa * water_db / (MOLAR_RATIO + water_db)
    if air_pa <= sat_pa:
        return (
            DRY_AIR_J_KG_K * air_c + water_db * (VAPOUR_J_KG + STEAM_J_KG_K * air_c),
            DRY_AIR_J_KG_K + water_db * STEAM_J_KG_K,
            VAPOUR_J_KG + STEAM_J_KG_K * air_c,
        )
    vapour_db = MOLAR_RATIO * sat_pa / (pressure_pa - sat_pa)
    by_t = (
        MOLAR_RATIO
        * pressure_pa
        * saturation_slope_pa_dk(air_c, sat_pa)
        / (pressure_pa - sat_pa) ** 2
    )
    latent = VAPOUR_J_KG + (STEAM_J_KG_K - WATER_J_KG_K) * air_c
    return (
        DRY_AIR_J_KG_K * air_c + vapour_db * latent + water_db * WATER_J_KG_K * air_c,
        DRY_AIR_J_KG_K
        + by_t * latent
        + vapour_db * (STEAM_J_KG_K - WATER_J_KG_K)
        + water_db * WATER_J_KG_K,
        WATER_J_KG_K * air_c,
    )


@compiled_and_kept
def pellet_enthalpy_j_kg(k: BedNumbers, pellet_c: float, moisture_db: float) -> float:
    """Enthalpy of a pellet with its water, bound as it is, over dry matter and water at 0 C.

    Parameters
    ----------
    k : BedNumbers
        Whose specific heat of dry matter counts.
    pellet_c : float
        Temperature of the pellet. [degrees C]
    moisture_db : float
        Water for dry matter. [kg/kg]

    Returns
    -------
    enthalpy_j_kg : float
        Joule for each kilogram of dry matter.

    Sources
    -------
    [1] Specific heats added up, less the heat of sorption
        (:func:`bedstone.materials.sorption.binding_j_kg`).
    """
    return (k.solid_j_kg_k + moisture_db * WATER_J_KG_K) * pellet_c - binding_j_kg(moisture_db)


@compiled_and_kept
def _mode(root: float, spread: float, by_t: float, tau: float) -> tuple[float, float, float, float]:
    """What is left of a mode after a cell, what a loss of moisture adds to it, and both slopes."""
    units = root * spread * tau
    if units < _SHORT:
        return 1.0 - units, 1.0 - 0.5 * units, -root * by_t * tau, -0.5 * root * by_t * tau
    left = math.exp(-units)
    adds = (1.0 - left) / units
    slope = root * by_t * tau
    return left, adds, -left * slope, (left - adds) / units * slope


@compiled_and_kept
def balance_cell(
    k: BedNumbers,
    cell_m: float,
    tau: float,
    modes: int,
    down_in: Floats,
    air_in: Floats,
    out: Floats,
    residual: Floats,
    by_out: Floats,
    by_down: Floats,
    by_air: Floats,
) -> None:
    """Residual of a cell and its slopes.

    ``down_in`` is what pellets bring (temperature, moisture, modes), ``air_in`` what air brings
    (temperature, water), ``out`` what leaves: pellets' and then air's.
    """
    size = 4 + modes
    at, ay = 2 + modes, 3 + modes
    by_out[:size, :size] = 0.0
    by_down[:size, : 2 + modes] = 0.0
    by_air[:size, :2] = 0.0
    tp = 0.5 * (out[0] + down_in[0])
    xm = 0.5 * (out[1] + down_in[1])
    ta = 0.5 * (out[at] + air_in[0])
    yw = 0.5 * (out[ay] + air_in[1])
    surface = xm
    lost = down_in[1] - out[1]
    spread, spread_t = 0.0, 0.0
    surface_t, surface_lost = 0.0, 0.0
    if modes > 0:
        kelvin = tp + _KELVIN
        spread = k.diffusion_1_s * math.exp(
            -k.activation_j_mol / _GAS_J_MOL_K * (1 / kelvin - 1 / (60.0 + _KELVIN))
        )
        spread_t = spread * k.activation_j_mol / (_GAS_J_MOL_K * kelvin * kelvin)
        surface_lost = -_LEFT_OUT / (spread * tau)
        surface_t = -surface_lost * lost * spread_t / spread
        surface += surface_lost * lost
        for index in range(modes):
            root = _ROOT_1 if index == 0 else (_ROOT_2 if index == 1 else _ROOT_3)
            left, adds, left_t, adds_t = _mode(root, spread, spread_t, tau)
            row = 2 + index
            residual[row] = out[row] - left * down_in[row] + adds * lost
            slope_t = -left_t * down_in[row] + adds_t * lost
            by_out[row, row] = 1.0
            by_out[row, 0] = slope_t * 0.5
            by_out[row, 1] = -adds
            by_down[row, row] = -left
            by_down[row, 0] = slope_t * 0.5
            by_down[row, 1] = adds
            surface += 0.5 * (out[row] + down_in[row])
    held = surface > _DRIEST_DB
    if not held:
        surface = _DRIEST_DB
    flow, n_t, n_x, n_a, n_y = _vapour_flow(k, tp, surface, ta, yw)
    if not held:
        n_x = 0.0
    n_t += n_x * surface_t
    heat = k.heat_w_m3_k * (tp - ta)
    carried = VAPOUR_J_KG + STEAM_J_KG_K * tp
    # rows 0, 1: enthalpy and water of pellets; rows at, ay: of air
    h_out = pellet_enthalpy_j_kg(k, out[0], out[1])
    h_in = pellet_enthalpy_j_kg(k, down_in[0], down_in[1])
    air_out, air_out_t, air_out_y = _air_enthalpy(out[at], out[ay], k.pressure_pa)
    air_came, air_in_t, air_in_y = _air_enthalpy(air_in[0], air_in[1], k.pressure_pa)
    given = (heat + flow * carried) * cell_m
    residual[0] = k.pellet_kg_s_m2 * (h_in - h_out) - given
    residual[1] = k.pellet_kg_s_m2 * lost - flow * cell_m
    residual[at] = k.air_kg_s_m2 * (air_out - air_came) - given
    residual[ay] = k.air_kg_s_m2 * (out[ay] - air_in[1]) - flow * cell_m
    # slopes of the given enthalpy and water by the weighted states
    g_t = (k.heat_w_m3_k + n_t * carried + flow * STEAM_J_KG_K) * cell_m
    g_x = n_x * carried * cell_m
    g_a = (-k.heat_w_m3_k + n_a * carried) * cell_m
    g_y = n_y * carried * cell_m
    for half in range(2):
        row = 0 if half == 0 else at
        wet = row + 1
        by_out[row, 0] -= g_t * 0.5
        by_out[row, 1] -= g_x * (0.5 - surface_lost)
        by_out[row, at] -= g_a * 0.5
        by_out[row, ay] -= g_y * 0.5
        by_out[wet, 0] -= n_t * cell_m * 0.5
        by_out[wet, 1] -= n_x * cell_m * (0.5 - surface_lost)
        by_out[wet, at] -= n_a * cell_m * 0.5
        by_out[wet, ay] -= n_y * cell_m * 0.5
        by_down[row, 0] -= g_t * 0.5
        by_down[row, 1] -= g_x * (0.5 + surface_lost)
        by_down[wet, 0] -= n_t * cell_m * 0.5
        by_down[wet, 1] -= n_x * cell_m * (0.5 + surface_lost)
        by_air[row, 0] -= g_a * 0.5
        by_air[row, 1] -= g_y * 0.5
        by_air[wet, 0] -= n_a * cell_m * 0.5
        by_air[wet, 1] -= n_y * cell_m * 0.5
        for index in range(modes):
            col = 2 + index
            by_out[row, col] -= g_x * 0.5
            by_out[wet, col] -= n_x * cell_m * 0.5
            by_down[row, col] -= g_x * 0.5
            by_down[wet, col] -= n_x * cell_m * 0.5
    solid_out = k.solid_j_kg_k + out[1] * WATER_J_KG_K
    solid_in = k.solid_j_kg_k + down_in[1] * WATER_J_KG_K
    by_out[0, 0] -= k.pellet_kg_s_m2 * solid_out
    by_out[0, 1] -= k.pellet_kg_s_m2 * (WATER_J_KG_K * out[0] - sorption_extra_j_kg(out[1]))
    by_down[0, 0] += k.pellet_kg_s_m2 * solid_in
    by_down[0, 1] += k.pellet_kg_s_m2 * (
        WATER_J_KG_K * down_in[0] - sorption_extra_j_kg(down_in[1])
    )
    by_out[1, 1] -= k.pellet_kg_s_m2
    by_down[1, 1] += k.pellet_kg_s_m2
    by_out[at, at] += k.air_kg_s_m2 * air_out_t
    by_out[at, ay] += k.air_kg_s_m2 * air_out_y
    by_air[at, 0] -= k.air_kg_s_m2 * air_in_t
    by_air[at, 1] -= k.air_kg_s_m2 * air_in_y
    by_out[ay, ay] += k.air_kg_s_m2
    by_air[ay, 1] -= k.air_kg_s_m2
