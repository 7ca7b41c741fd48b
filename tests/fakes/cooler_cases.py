"""Random coolers over the whole range, and their profile by SciPy's boundary-value solver.

Written apart from the cooler's own solver: two unknowns (pellet temperature and moisture) over the
height, the air from the balances with what leaves at the bottom as unknown parameters, and SciPy's
collocation with its own mesh and error control.
"""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.integrate import solve_bvp
from scipy.special import jn_zeros

from bedstone.cooling.bed import MODES, BedNumbers, Floats

__all__ = ["ISOTHERMS", "random_bed", "scipy_leaving"]

ISOTHERMS = (
    (0.0, 8.6541e-5, 1.8634, 49.810),
    (1.0, 312.3, 0.16958, 30.205),
    (3.0, 15.303, -0.10184, 3.0358),
    (0.0, 2.2919e-5, 2.0123, 195.267),
    (2.0, 2.87, -0.0054, 1.38),
)
ROOTS = jn_zeros(1, MODES) ** 2
LEFT_OUT = 1 / 8 - float(np.sum(1 / ROOTS))


def _saturation(t: Any) -> Any:
    """ASHRAE's equations 5 and 6, over arrays."""
    k = np.asarray(t) + 273.15
    ice = np.exp(
        -5.6745359e3 / k + 6.3925247 - 9.677843e-3 * k + 6.2215701e-7 * k**2
        + 2.0747825e-9 * k**3 - 9.484024e-13 * k**4 + 4.1635019 * np.log(k)
    )  # fmt: skip
    water = np.exp(
        -5.8002206e3 / k + 1.3914993 - 4.8640239e-2 * k + 4.1764768e-5 * k**2
        - 1.4452093e-8 * k**3 + 6.5459673 * np.log(k)
    )  # fmt: skip
    return np.where(np.asarray(t) <= 0.01, ice, water)


def _humidity(pressure_pa: Any, vapour: Any) -> Any:
    return 0.621945 * vapour / (pressure_pa - vapour)


def random_bed(seed: int, number: int, *, exchange: float = 1.0) -> BedNumbers:
    """A bed drawn over the whole range of inputs; the same for the same seed and number."""
    draw = np.random.default_rng([seed, number])

    def spread(low: float, high: float) -> float:
        return float(math.exp(draw.uniform(math.log(low), math.log(high))))

    pressure = float(draw.uniform(7e4, 1.03e5))
    boils = 100.0 - 27.7 * (1 - pressure / 101_325.0)  # about; below the true boiling point
    air_c, relative = float(draw.uniform(-30, 45)), float(draw.uniform(0.05, 1.0))
    heat = spread(5e3, 1.5e5)
    isotherm = ISOTHERMS[int(draw.integers(len(ISOTHERMS)))]
    return BedNumbers(
        spread(0.3, 4), spread(0.1, 4), float(draw.uniform(0.2, 3)), heat * exchange,
        heat / 1500 * spread(0.5, 2) * exchange, float(draw.uniform(1300, 1900)),
        spread(60, 1200), 1e-9 * spread(0.1, 4) / float(draw.uniform(0.001, 0.006)) ** 2, 26_000.0,
        pressure, *isotherm, float(min(draw.uniform(46, 97), boils - 3)),
        float(draw.uniform(0.09, 0.25)), air_c,
        float(_humidity(pressure, relative * _saturation(air_c))),
    )  # fmt: skip


def _activity(k: BedNumbers, moisture: Floats, t: Floats) -> Floats:
    m, held = np.maximum(100 * moisture, 1e-6), np.maximum(t, 0.0)
    a, b, c = k.isotherm_a, k.isotherm_b, k.isotherm_c
    forms: dict[int, Callable[[], Floats]] = {
        0: lambda: 1 - np.exp(-a * (held + c) * m**b),
        1: lambda: np.exp(-a / (held + c) * np.exp(-b * m)),
        2: lambda: np.exp(-np.exp(a + b * held) / m**c),
        3: lambda: 1 / (1 + ((a + b * held) / m) ** c),
    }
    return forms[int(k.isotherm)]()


def _pellet_enthalpy(k: BedNumbers, t: Any, x: Any) -> Any:
    bound = 1.255e6 * 0.0914 * (1 - np.exp(-x / 0.0914))
    return (k.solid_j_kg_k + 4186 * x) * t - bound


def _air_enthalpy(k: BedNumbers, t: Any, y: Any) -> Any:
    vapour = np.minimum(
        y, _humidity(k.pressure_pa, np.minimum(_saturation(t), 0.99 * k.pressure_pa))
    )
    return 1006 * t + vapour * (2.501e6 + 1860 * t) + (y - vapour) * 4186 * t


def _air_temperature(k: BedNumbers, enthalpy: Floats, y: Floats) -> Floats:
    """Solved by halving an interval: slow, sure, and nothing like the solver's own way."""
    clear = (enthalpy - 2.501e6 * y) / (1006 + 1860 * y)
    low, high = np.full_like(clear, -90.0), np.full_like(clear, 190.0)
    top = 0.985 * k.pressure_pa
    foggy = y > _humidity(k.pressure_pa, np.minimum(_saturation(np.clip(clear, -95, 195)), top))
    if not np.any(foggy):
        return clear
    for _ in range(60):
        middle = (low + high) / 2
        over = _air_enthalpy(k, middle, y) > enthalpy
        high = np.where(over, middle, high)
        low = np.where(over, low, middle)
    return np.where(foggy, (low + high) / 2, clear)


def _slopes(k: BedNumbers, modes: int) -> Callable[[Floats, Floats, Floats], Floats]:
    ratio = k.pellet_kg_s_m2 / k.air_kg_s_m2
    air_in = _air_enthalpy(k, k.air_in_c, k.air_in_db)
    p = k.pressure_pa

    def slopes(_z: Floats, state: Floats, bottom: Floats) -> Floats:
        t, x = state[0], np.maximum(state[1], 1e-4)
        y = np.maximum(k.air_in_db + ratio * (x - bottom[1]), 1e-7)
        enthalpy = air_in + ratio * (
            _pellet_enthalpy(k, t, x) - _pellet_enthalpy(k, bottom[0], bottom[1])
        )
        air = np.clip(_air_temperature(k, enthalpy, y), -80, 180)
        over_air = np.minimum(p * y / (0.621945 + y), _saturation(air))
        scale = k.vapour_1_s * p / (461.526 * ((t + air) / 2 + 273.15))

        def flow_at(surface: Floats) -> Floats:
            over = np.minimum(_activity(k, surface, t) * _saturation(t), 0.995 * p)
            return np.asarray(scale * np.log((p - over_air) / (p - over)))

        rows = [t, x]
        if modes == 0:
            flow = flow_at(x)
        else:
            spread = k.diffusion_1_s * np.exp(
                -k.activation_j_mol / 8.314462618 * (1 / (t + 273.15) - 1 / 333.15)
            )
            inner = x + np.sum(state[2:], axis=0)
            per_flow = LEFT_OUT / spread * k.depth_m / k.residence_s / k.pellet_kg_s_m2
            # the surface lies below the mean by what flows: solved by halving
            low, high = np.full_like(t, -1e4), np.full_like(t, 1e4)
            for _ in range(90):
                middle = (low + high) / 2
                more = flow_at(np.maximum(inner - per_flow * middle, 1e-5)) > middle
                low = np.where(more, middle, low)
                high = np.where(more, high, middle)
            flow = (low + high) / 2
        dx = flow / k.pellet_kg_s_m2
        heat = k.heat_w_m3_k * (t - air) + flow * (2.501e6 + 1860 * t)
        bound = 1.255e6 * np.exp(-x / 0.0914)
        dt = (heat / k.pellet_kg_s_m2 - (4186 * t - bound) * dx) / (k.solid_j_kg_k + 4186 * x)
        rows = [dt, dx]
        # a mode decays in time and grows with what is lost; time runs down the bed
        slow = k.residence_s / k.depth_m
        rows += [slow * ROOTS[i] * spread * state[2 + i] + dx for i in range(modes)]
        return np.stack(rows)

    return slopes


def scipy_leaving(
    k: BedNumbers, modes: int, height_m: Floats, start: Floats, tolerance: float = 1e-7
) -> tuple[bool, float, float]:
    """Temperature and moisture at the bottom by SciPy, begun from a profile (rows of states)."""

    def ends(bottom: Floats, top: Floats, leaving: Floats) -> Floats:
        wanted = [top[0] - k.pellet_in_c, (top[1] - k.pellet_in_db) * 100]
        wanted += [top[2 + i] * 100 for i in range(modes)]
        wanted += [bottom[0] - leaving[0], (bottom[1] - leaving[1]) * 100]
        return np.array(wanted)

    found = solve_bvp(
        _slopes(k, modes), ends, height_m, start, p=start[:2, 0].copy(), tol=tolerance,
        max_nodes=20_000,
    )  # fmt: skip
    return bool(found.success), float(found.p[0]), float(found.p[1])
