"""A bed while it fills and after pellets stop coming: layer by layer, step by step, compiled.

The pellets of a layer stay together; air passes each layer from below and holds next to nothing
itself. A layer in a time step obeys the same balances as a level cell of the steady bed
(:mod:`bedstone.cooling.cell`), with time in the place of the way down.
"""

from typing import Final

import numpy as np

from bedstone.cooling.bed import eliminate
from bedstone.cooling.cell import balance_cell
from bedstone.cooling.numbers import BedNumbers, Floats
from bedstone.quantities.compiling import compiled_and_kept

__all__ = ["fill_and_run", "stand"]

_STEPS: Final = 40
_NEAR: Final = 1e-10
_CLOSE: Final = 1e-6


@compiled_and_kept
def _with_flow(k: BedNumbers, solid_kg_s_m2: float) -> BedNumbers:
    """The bed with another flow of dry matter through a cell."""
    return BedNumbers(
        solid_kg_s_m2, k.air_kg_s_m2, k.depth_m, k.heat_w_m3_k, k.vapour_1_s, k.solid_j_kg_k,
        k.residence_s, k.diffusion_1_s, k.activation_j_mol, k.pressure_pa, k.isotherm,
        k.isotherm_a, k.isotherm_b, k.isotherm_c, k.pellet_in_c, k.pellet_in_db, k.air_in_c,
        k.air_in_db,
    )  # fmt: skip


@compiled_and_kept
def _size(residual: Floats, flow: BedNumbers, wide: int) -> float:
    """The largest residual in the share of the heat and water that a layer could give."""
    heat = max(abs(residual[0]), abs(residual[wide])) / 2e4
    water = max(abs(residual[1]), abs(residual[wide + 1])) / 0.02
    inside = 0.0
    for row in range(2, wide):
        inside = max(inside, abs(residual[row]) / 0.02)
    return float(max(max(heat, water) / flow.pellet_kg_s_m2, inside))


@compiled_and_kept
def _pass_air(k: BedNumbers, layers: Floats, count: int, layer_m: float, step_s: float) -> bool:
    """Air through the lowest ``count`` layers for a step; the layers change in place."""
    wide = layers.shape[1]
    modes, size = wide - 2, wide + 2
    solid = k.pellet_kg_s_m2 * k.residence_s / k.depth_m * layer_m
    flow = _with_flow(k, solid / step_s)
    air = np.array([k.air_in_c, k.air_in_db])
    out, tried, residual = np.zeros(size), np.zeros(size), np.zeros(size)
    by_out, right = np.zeros((size, size)), np.zeros((size, 1))
    by_down, by_air = np.zeros((size, wide)), np.zeros((size, 2))
    for i in range(count):
        before = layers[i].copy()
        out[:wide] = before
        out[wide:] = air
        balance_cell(
            flow, layer_m, step_s, modes, before, air, out, residual, by_out, by_down, by_air
        )
        error = _size(residual, flow, wide)
        for _ in range(_STEPS):
            if error < _NEAR:
                break
            for row in range(size):
                right[row, 0] = -residual[row]
            if not eliminate(by_out, right, size, 1):
                return False
            share = 1.0
            for _ in range(12):
                for row in range(size):
                    tried[row] = out[row] + share * right[row, 0]
                tried[1] = max(tried[1], 0.2 * out[1])
                tried[wide + 1] = max(tried[wide + 1], 0.2 * out[wide + 1])
                balance_cell(
                    flow, layer_m, step_s, modes, before, air, tried, residual,
                    by_out, by_down, by_air,
                )  # fmt: skip
                came = _size(residual, flow, wide)
                if came < error:
                    break
                share *= 0.5
            out[:] = tried
            error = came
        if not error < _CLOSE:
            return False
        layers[i] = out[:wide]
        air[:] = out[wide:]
    return True


@compiled_and_kept
def fill_and_run(
    k: BedNumbers, modes: int, layers: int, beds: int, steps: int
) -> tuple[bool, Floats, Floats]:
    """Fill an empty bed with the fan on and the gate shut, then let as much out as comes in.

    Parameters
    ----------
    k : BedNumbers
        The bed when it is full.
    modes : int
        Of the profile inside a pellet.
    layers : int
        That a full bed is cut into.
    beds : int
        Bed-fulls to let out after the filling.
    steps : int
        Time steps in which a layer comes in.

    Returns
    -------
    settled : bool
        False where a layer could not be solved.
    out : Floats
        Layers in the order in which they leave, (layers * beds, 2): temperature and moisture.
    bed : Floats
        The bed at the end from bottom to top, (layers, 2 + modes).
    """
    wide = 2 + modes
    bed = np.zeros((layers, wide))
    out = np.zeros((layers * beds, 2))
    layer_m = k.depth_m / layers
    step_s = k.residence_s / layers / steps
    count = 0
    left = 0
    while left < layers * beds:
        if count == layers:
            out[left] = bed[0, :2]
            left += 1
            for i in range(layers - 1):
                bed[i] = bed[i + 1]
            count -= 1
        bed[count] = 0.0
        bed[count, 0] = k.pellet_in_c
        bed[count, 1] = k.pellet_in_db
        count += 1
        for _ in range(steps):
            if not _pass_air(k, bed, count, layer_m, step_s):
                return False, out, bed
    return True, out, bed


@compiled_and_kept
def stand(
    k: BedNumbers, bed: Floats, step_s: float, most_steps: int, above_dk: float
) -> tuple[bool, int]:
    """Steps of air through a full bed that nothing enters or leaves, until all of it is cool.

    Parameters
    ----------
    k : BedNumbers
        The bed.
    bed : Floats
        Its layers from bottom to top, changed in place.
    step_s : float
        Length of a step. [s]
    most_steps : int
        After which it is given up.
    above_dk : float
        Above the air that counts as cool. [K]

    Returns
    -------
    settled : bool
        False where a layer could not be solved, or the bed did not get cool in time.
    steps : int
        That it took.
    """
    layers = bed.shape[0]
    for step in range(most_steps):
        if np.max(bed[:, 0]) <= k.air_in_c + above_dk:
            return True, step
        if not _pass_air(k, bed, layers, k.depth_m / layers, step_s):
            return False, step
    return False, most_steps
