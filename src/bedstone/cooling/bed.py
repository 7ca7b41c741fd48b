"""Heat and moisture through the bed of a counterflow cooler, compiled.

Pellets sink, air rises. The bed is cut into level cells, thin where pellets enter and where air
enters; in each, what the pellets lose the air gains, exactly, in water and in enthalpy, so that
both balances close to rounding whatever the number of cells. Rates are taken halfway between
the states that enter and leave a cell; the error of the cut falls with the square of the cells,
and the answer is extrapolated from a bed cut twice.

The equations of all cells are solved by Newton steps. In each step the cells are eliminated from
the bottom up, each answering "what leaves me for what the cell above sends down", which does not
grow whatever way the bed is stiff. Where Newton steps fail, the exchange is grown from almost
nothing.
"""

import math
from typing import Final

import numpy as np

from bedstone.cooling.cell import MODES, balance_cell, pellet_enthalpy_j_kg
from bedstone.cooling.numbers import (
    BedNumbers,
    Floats,
    edges_of_m,
    first_guess,
    mesh_length,
    weaker,
)
from bedstone.materials.moist_air import air_temperature_c, enthalpy_j_kg
from bedstone.quantities.compiling import compiled_and_kept

__all__ = ["MODES", "BedNumbers", "Floats", "eliminate", "solve_bed"]

_MOST_CELLS: Final = 768
_LONG: Final = 17.0  # meshes longer than this start with twice the cells
_HEAT_J_KG: Final = 2e4
_WATER_DB: Final = 0.02
_NEAR: Final = 1e-7
_STEP_DK: Final = 10.0
_LEAST_GROWTH: Final = 1.0001
_BELOW_DK: Final = 60.0  # wet pellets in hot dry air cool it well below both that enter
_ABOVE_DK: Final = 30.0


@compiled_and_kept
def eliminate(matrix: Floats, right: Floats, size: int, columns: int) -> bool:
    """Solve in place by Gauss with row exchange; False where the matrix is singular."""
    for col in range(size):
        best = col
        for row in range(col + 1, size):
            if abs(matrix[row, col]) > abs(matrix[best, col]):
                best = row
        if matrix[best, col] == 0.0:
            return False
        if best != col:
            for other in range(size):
                matrix[col, other], matrix[best, other] = matrix[best, other], matrix[col, other]
            for other in range(columns):
                right[col, other], right[best, other] = right[best, other], right[col, other]
        for row in range(col + 1, size):
            share = matrix[row, col] / matrix[col, col]
            if share != 0.0:
                for other in range(col + 1, size):
                    matrix[row, other] -= share * matrix[col, other]
                for other in range(columns):
                    right[row, other] -= share * right[col, other]
    for back in range(size):
        row = size - 1 - back
        for other in range(columns):
            value = right[row, other]
            for col in range(row + 1, size):
                value -= matrix[row, col] * right[col, other]
            right[row, other] = value / matrix[row, row]
    return True


@compiled_and_kept
def _step(
    k: BedNumbers, edges_m: Floats, pellets: Floats, air: Floats, modes: int,
    down_step: Floats, air_step: Floats,
) -> float:  # fmt: skip
    """The Newton step of all cells, by elimination from the bottom up, and the largest residual.

    Residuals are in shares of the heat and water that the bed could move; -1 where a cell cannot
    be solved.
    """
    cells = edges_m.size - 1
    wide = 2 + modes
    size = 4 + modes
    residual = np.zeros(size)
    out = np.zeros(size)
    by_out = np.zeros((size, size))
    by_down = np.zeros((size, wide))
    by_air = np.zeros((size, 2))
    right = np.zeros((size, wide + 1))
    answers = np.zeros((cells, size, wide + 1))
    below = np.zeros((2, wide))
    below_step = np.zeros(2)
    worst = 0.0
    for i in range(cells):
        out[:wide] = pellets[i]
        out[wide:] = air[i + 1]
        cell_m = edges_m[i + 1] - edges_m[i]
        balance_cell(
            k, cell_m, k.residence_s * cell_m / k.depth_m, modes, pellets[i + 1], air[i], out,
            residual, by_out, by_down, by_air,
        )  # fmt: skip
        heat = max(abs(residual[0]), abs(residual[wide])) / _HEAT_J_KG
        water = max(abs(residual[1]), abs(residual[wide + 1])) / _WATER_DB
        worst = max(worst, max(heat, water) / k.pellet_kg_s_m2)
        for row in range(size):
            for col in range(wide):
                by_out[row, col] += by_air[row, 0] * below[0, col] + by_air[row, 1] * below[1, col]
                right[row, col] = -by_down[row, col]
            right[row, wide] = -residual[row] - (
                by_air[row, 0] * below_step[0] + by_air[row, 1] * below_step[1]
            )
        if not eliminate(by_out, right, size, wide + 1):
            return -1.0
        answers[i] = right
        for row in range(2):
            below[row] = right[wide + row, :wide]
            below_step[row] = right[wide + row, wide]
    down_step[cells] = 0.0
    air_step[0] = 0.0
    for back in range(cells):
        i = cells - 1 - back
        for row in range(size):
            value = answers[i, row, wide]
            for col in range(wide):
                value += answers[i, row, col] * down_step[i + 1, col]
            if row < wide:
                down_step[i, row] = value
            else:
                air_step[i + 1, row - wide] = value
    return worst


@compiled_and_kept
def _moved(
    k: BedNumbers, pellets: Floats, air: Floats, down_step: Floats, air_step: Floats,
    share: float, moved: Floats, moved_air: Floats,
) -> None:  # fmt: skip
    """A share of a step, kept where temperatures and moistures make sense."""
    low_c = min(k.pellet_in_c, k.air_in_c) - _BELOW_DK
    high_c = max(k.pellet_in_c, k.air_in_c) + _ABOVE_DK
    for i in range(pellets.shape[0]):
        for col in range(pellets.shape[1]):
            moved[i, col] = pellets[i, col] + share * down_step[i, col]
        moved[i, 0] = min(max(moved[i, 0], low_c), high_c)
        moved[i, 1] = max(moved[i, 1], 0.2 * pellets[i, 1])
        moved_air[i, 0] = min(max(air[i, 0] + share * air_step[i, 0], low_c), high_c)
        moved_air[i, 1] = max(air[i, 1] + share * air_step[i, 1], 0.2 * air[i, 1])


@compiled_and_kept
def _length(down_step: Floats, air_step: Floats) -> float:
    """How long a step is, in tens of kelvins and in hundredths of water."""
    whole = 0.0
    for i in range(down_step.shape[0]):
        whole += (down_step[i, 0] ** 2 + air_step[i, 0] ** 2) / _STEP_DK**2
        whole += (down_step[i, 1] ** 2 + air_step[i, 1] ** 2) / _WATER_DB**2
    return math.sqrt(whole)


@compiled_and_kept
def _settle(
    k: BedNumbers,
    edges_m: Floats,
    pellets: Floats,
    air: Floats,
    modes: int,
    by_length: bool,  # noqa: FBT001 - compiled code takes no keyword
) -> bool:
    """Newton steps until the cells agree; False where they do not.

    A step is taken where it lessens the residual or, ``by_length``, where the step after it is
    shorter: in stiff beds a good step may raise the residual of a thin layer for a while.
    """
    down_step, air_step = np.zeros_like(pellets), np.zeros_like(air)
    next_step, next_air_step = np.zeros_like(pellets), np.zeros_like(air)
    tried, tried_air = np.zeros_like(pellets), np.zeros_like(air)
    error = _step(k, edges_m, pellets, air, modes, down_step, air_step)
    length = _length(down_step, air_step)
    for _ in range(60):
        if error < 0.0:
            return False
        share = 1.0
        came, next_length = math.inf, math.inf
        taken = False
        for _ in range(10):
            _moved(k, pellets, air, down_step, air_step, share, tried, tried_air)
            if error < _NEAR:
                # the step squares the error: nothing is left to check
                pellets[:] = tried
                air[:] = tried_air
                return True
            came = _step(k, edges_m, tried, tried_air, modes, next_step, next_air_step)
            next_length = _length(next_step, next_air_step)
            shorter = by_length and next_length < (1.0 - 0.25 * share) * length
            taken = came >= 0.0 and (came < (1.0 - 0.1 * share) * error or shorter)
            if taken:
                break
            share *= 0.5
        if not taken:
            return False
        pellets[:] = tried
        air[:] = tried_air
        down_step[:] = next_step
        air_step[:] = next_air_step
        error, length = came, next_length
    return False


@compiled_and_kept
def _finer(coarse: Floats, cells: int) -> Floats:
    fine = np.zeros((2 * cells + 1, coarse.shape[1]))
    for i in range(cells):
        fine[2 * i] = coarse[i]
        fine[2 * i + 1] = 0.5 * (coarse[i] + coarse[i + 1])
    fine[2 * cells] = coarse[cells]
    return fine


@compiled_and_kept
def _by_growing(
    k: BedNumbers,
    edges_m: Floats,
    pellets: Floats,
    air: Floats,
    modes: int,
    by_length: bool,  # noqa: FBT001 - compiled code takes no keyword
) -> bool:
    """From a bed that exchanges almost nothing to the one asked for, in steps as they succeed."""
    share, growth = 1e-2, 8.0
    pellets[:] = 0.0
    pellets[:, 0] = k.pellet_in_c
    pellets[:, 1] = k.pellet_in_db
    air[:, 0] = k.air_in_c
    air[:, 1] = k.air_in_db
    done = 0.0
    kept, kept_air = pellets.copy(), air.copy()
    for _ in range(200):
        if _settle(weaker(k, share), edges_m, pellets, air, modes, by_length):
            if share == 1.0:
                return True
            done = share
            kept[:] = pellets
            kept_air[:] = air
            share = min(1.0, share * growth)
            growth = min(4.0, growth * 1.5)
        else:
            pellets[:] = kept
            air[:] = kept_air
            growth = math.sqrt(growth)
            if growth < _LEAST_GROWTH:
                return False
            share = max(done, 1e-4) * growth
    return False


@compiled_and_kept
def _solved(k: BedNumbers, edges_m: Floats, pellets: Floats, air: Floats, modes: int) -> bool:
    """Whether the cells could be brought to agree, from what is given or by growing.

    Uniform pellets are quicker by the length of steps, the gradient by the residual; where one
    fails the other may do.
    """
    kept, kept_air = pellets.copy(), air.copy()
    by_length = modes == 0
    if _settle(k, edges_m, pellets, air, modes, by_length):
        return True
    if _by_growing(k, edges_m, pellets, air, modes, by_length):
        return True
    pellets[:] = kept
    air[:] = kept_air
    if _settle(k, edges_m, pellets, air, modes, not by_length):
        return True
    return _by_growing(k, edges_m, pellets, air, modes, not by_length)


@compiled_and_kept
def solve_bed(
    k: BedNumbers, modes: int, cells: int, close_c: float, close_db: float,
    guess: Floats, guess_air: Floats,
) -> tuple[bool, Floats, Floats, Floats, Floats, Floats, Floats]:  # fmt: skip
    """Profile through the bed, and what leaves it extrapolated from beds cut ever finer.

    Parameters
    ----------
    k : BedNumbers
        The bed.
    modes : int
        Of the profile inside a pellet: 0 takes the pellet as uniform, else ``MODES``.
    cells : int
        Of the first cut; the second has twice as many, and so on until two answers agree.
    close_c, close_db : float
        How near two extrapolated answers must lie. [K], [kg/kg]
    guess, guess_air : Floats
        Profile of a bed like it, (cells + 1, 2 + modes) and (cells + 1, 2); no rows if there is
        none.

    Returns
    -------
    settled : bool
        False where the equations could not be solved.
    edges_m : Floats
        Heights of the edges of the cells from bottom to top.
    pellets : Floats
        Temperature, mean moisture and modes of the pellets from bottom to top.
    air : Floats
        Temperature and water of the air from bottom to top.
    leaving : Floats
        Extrapolated: pellet temperature and moisture; air temperature and water, which close
        the balances with them; estimate of what the cells leave, in K and kg/kg.
    coarse, coarse_air : Floats
        Profile of the first cut: the guess for a bed like it.
    """
    leaving = np.zeros(6)
    if mesh_length(k) > _LONG:
        cells *= 2
    while True:
        edges_m = edges_of_m(k, cells)
        pellets, air = np.zeros((cells + 1, 2 + modes)), np.zeros((cells + 1, 2))
        first_guess(k, edges_m, pellets, air)
        if guess.shape[0] == cells + 1:
            pellets[:cells] = guess[:cells]
            air[1:] = guess_air[1:]
        if _solved(k, edges_m, pellets, air, modes):
            break
        cells *= 2
        if cells > _MOST_CELLS:
            return False, edges_m, pellets, air, leaving, pellets, air
    coarse, coarse_air = pellets, air
    rows = np.zeros((12, 2))
    rows[0] = pellets[0, :2]
    depth = 0
    while True:
        pellets, air = _finer(pellets, cells), _finer(air, cells)
        cells *= 2
        edges_m = edges_of_m(k, cells)
        if not _solved(k, edges_m, pellets, air, modes):
            return False, edges_m, pellets, air, leaving, pellets, air
        depth += 1
        # Romberg's triangle: the error goes with the even powers of the cell
        came = np.zeros((12, 2))
        came[0] = pellets[0, :2]
        for level in range(1, depth + 1):
            share = 1.0 / (4.0**level - 1.0)
            came[level] = came[level - 1] + (came[level - 1] - rows[level - 1]) * share
        rows = came
        best = came[min(depth, 2)]
        leaving[4] = 0.25 * abs(best[0] - came[min(depth, 2) - 1, 0])
        leaving[5] = 0.25 * abs(best[1] - came[min(depth, 2) - 1, 1])
        if (leaving[4] < close_c and leaving[5] < close_db) or cells >= _MOST_CELLS:
            break
    leaving[0], leaving[1] = best[0], best[1]
    ratio = k.pellet_kg_s_m2 / k.air_kg_s_m2
    leaving[3] = k.air_in_db + ratio * (k.pellet_in_db - leaving[1])
    came_j = enthalpy_j_kg(k.air_in_c, k.air_in_db, k.pressure_pa)
    gained_j = ratio * (
        pellet_enthalpy_j_kg(k, k.pellet_in_c, k.pellet_in_db)
        - pellet_enthalpy_j_kg(k, leaving[0], leaving[1])
    )
    leaving[2] = air_temperature_c(came_j + gained_j, leaving[3], k.pressure_pa)
    return True, edges_m, pellets, air, leaving, coarse, coarse_air
