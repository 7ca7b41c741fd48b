"""What comes out of a chain of machines, sack by sack, and what stays in them: exact, linear."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["BatchMap", "batch_map", "exponential", "run_map"]

Matrix = NDArray[np.float64]
MAPS_KEPT = 20_000
LEAST_HELD_KG = 1e-3  # less than a gram stays behind: nothing does, as far as a sack can tell
TAYLOR_TERMS = 16  # of a matrix with norm one half: what is left out is below 1e-18


@dataclass(frozen=True)
class BatchMap:
    """Concentrations after a batch, or several in a row, as linear readings of those before.

    Both act on the column (mixer, each place after it, own content of the batch), in mg/kg:
    ``sacks`` gives the mean of each consecutive sack-sized portion, ``after`` the state left.
    """

    sacks: Matrix  # shape (portions, places + 1)
    after: Matrix  # shape (places, places + 1)
    portions: tuple[int, ...]  # number of portions of each batch


@lru_cache(maxsize=MAPS_KEPT)
def batch_map(
    hold_ups_kg: tuple[float, ...],
    exchanges_frac: tuple[float, ...],
    *,
    mass_kg: float,
    sack_kg: float,
) -> BatchMap:
    """How one batch through mixer and chain carries what it finds, and what it leaves.

    The mixer mixes what is left in it evenly with the batch. Each place after it keeps h kg of
    concentration q that exchanges with what passes: dq/dm = -k (q - c_in) / h, and
    c_out = c_in + k (q - c_in). Solved exactly by the matrix exponential.

    Parameters
    ----------
    hold_ups_kg : tuple of float
        What stays behind in the mixer and in each place after it, in order. [kg]
    exchanges_frac : tuple of float
        Exchange of the same places; that of the mixer is not used. [0 to 1]
    mass_kg : float
        Mass of the batch. [kg]
    sack_kg : float
        Portion over which the outlet is averaged; the last portion may be smaller. [kg]

    Returns
    -------
    carried : BatchMap
        Portions in order and the state after.

    Raises
    ------
    ValueError
        If a mass is not above nothing.

    Valid for
    ---------
    Hold-ups of nought (below a gram) or more; a batch that is mixed evenly before it leaves.

    Examples
    --------
    Two places without hold-up hand on what they get; a mixer that keeps 20 kg of 2,000 passes on
    20/2020 of what it held:

    >>> carried = batch_map((20.0, 0.0), (1.0, 1.0), mass_kg=2000.0, sack_kg=25.0)
    >>> round(float(carried.sacks[0, 0]), 6)
    0.009901

    Sources
    -------
    [1] Ideal stirred vessels in series with a by-pass (part k of the flow meets the vessel's
        content), as in any text on residence times of flow reactors; from memory.
    """
    if mass_kg <= 0 or sack_kg <= 0:
        raise ValueError("mass_kg and sack_kg must be above nothing")
    held = [number for number in range(1, len(hold_ups_kg)) if hold_ups_kg[number] >= LEAST_HELD_KG]
    rates = _rates(
        [hold_ups_kg[number] for number in held], [exchanges_frac[number] for number in held]
    )
    portions, last = _portions(rates, mass_kg=mass_kg, sack_kg=sack_kg)
    size = len(hold_ups_kg)
    spread = np.zeros((len(held) + 1, size + 1))  # (held places, mixture) from the full column
    for row, number in enumerate(held):
        spread[row, number] = 1.0
    left = hold_ups_kg[0]
    spread[-1, 0] = left / (mass_kg + left)
    spread[-1, -1] = mass_kg / (mass_kg + left)
    after = np.zeros((size, size + 1))
    after[0] = spread[-1]
    for row, number in enumerate(held):
        after[number] = last[row] @ spread
    # nothing is below nothing: the exponential may miss nought by its last digit
    return BatchMap(
        sacks=np.maximum(portions @ spread, 0.0),
        after=np.maximum(after, 0.0),
        portions=(len(portions),),
    )


@lru_cache(maxsize=MAPS_KEPT)
def run_map(
    hold_ups_kg: tuple[float, ...],
    exchanges_frac: tuple[float, ...],
    *,
    masses_kg: tuple[float, ...],
    sack_kg: float,
) -> BatchMap:
    """The same for batches of one material in a row.

    Parameters
    ----------
    hold_ups_kg : tuple of float
        What stays behind in the mixer and in each place after it, in order. [kg]
    exchanges_frac : tuple of float
        Exchange of the same places; that of the mixer is not used. [0 to 1]
    masses_kg : tuple of float
        Mass of each batch. [kg]
    sack_kg : float
        Portion over which the outlet is averaged. [kg]

    Returns
    -------
    carried : BatchMap
        Portions of all batches in order and the state after the last.

    Sources
    -------
    Composition of linear maps; the equations are those of :func:`batch_map`.
    """
    size = len(hold_ups_kg)
    so_far = np.eye(size + 1)
    sacks: list[Matrix] = []
    portions: list[int] = []
    for mass_kg in masses_kg:
        one = batch_map(hold_ups_kg, exchanges_frac, mass_kg=mass_kg, sack_kg=sack_kg)
        sacks.append(one.sacks @ so_far)
        portions.extend(one.portions)
        so_far[:size] = one.after @ so_far
    return BatchMap(sacks=np.vstack(sacks), after=so_far[:size].copy(), portions=tuple(portions))


def exponential(matrix: Matrix) -> Matrix:
    """The exponential of a small matrix, by scaling, Taylor's series and squaring.

    Written out because a chain has a dozen rows: a threaded library takes 400 times as long for
    that on a busy machine of two cores (8 ms against 0.02 ms), and slow to import it is besides.

    Parameters
    ----------
    matrix : ndarray, shape (n, n)
        What is raised. [1]

    Returns
    -------
    raised : ndarray, shape (n, n)
        exp(matrix). [1]

    Valid for
    ---------
    Rates with nothing negative off the diagonal, as those of a chain: squaring then loses no
    figures. Tested against SciPy's Pade approximation and its solver of differential equations.

    Sources
    -------
    [1] Moler, Van Loan, Nineteen Dubious Ways to Compute the Exponential of a Matrix, Twenty-Five
        Years Later, SIAM Review 45 (2003), method 3 (scaling and squaring); from memory.
    """
    norm = float(np.abs(matrix).sum(axis=1).max())
    halvings = max(0, math.ceil(math.log2(norm)) + 1) if norm > 0 else 0
    small = matrix / 2.0**halvings
    term = np.eye(len(matrix))
    raised = term.copy()
    for number in range(1, TAYLOR_TERMS):
        term = term @ small / number
        raised += term
    for _ in range(halvings):
        raised = raised @ raised
    return raised


def _rates(hold_ups_kg: Sequence[float], exchanges_frac: Sequence[float]) -> Matrix:
    """d/dm of (places, mixture, integral of the outlet); the mixture stays as it is."""
    count = len(hold_ups_kg)
    rates = np.zeros((count + 2, count + 2))
    inlet = np.zeros(count + 2)
    inlet[count] = 1.0
    for number, (hold_up_kg, exchange) in enumerate(zip(hold_ups_kg, exchanges_frac, strict=True)):
        rates[number] = inlet * (exchange / hold_up_kg)
        rates[number, number] -= exchange / hold_up_kg
        inlet = inlet * (1.0 - exchange)
        inlet[number] += exchange
    rates[count + 1] = inlet
    return rates


def _portions(rates: Matrix, *, mass_kg: float, sack_kg: float) -> tuple[Matrix, Matrix]:
    """Mean of each portion, and the state at the end, from (places, mixture)."""
    count = len(rates) - 2
    whole = int(mass_kg / sack_kg + 1e-9)
    rest_kg = mass_kg - whole * sack_kg
    state = np.eye(count + 1)
    rows: list[Matrix] = []
    if whole:
        step = exponential(rates * sack_kg)
        for _ in range(whole):
            rows.append(step[-1, :-1] @ state / sack_kg)
            state = step[:-1, :-1] @ state
    if rest_kg > 1e-9 * sack_kg or not whole:
        step = exponential(rates * rest_kg)
        rows.append(step[-1, :-1] @ state / rest_kg)
        state = step[:-1, :-1] @ state
    return np.vstack(rows), state[:count]
