"""Residue against numbers that are not ours: a hand-worked series, SciPy's solvers, exponentials."""

import csv
import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from bedstone.mill.residue_chain import batch_map, exponential, run_map

VALUES = Path(__file__).parent / "values" / "carry_over.csv"
ROWS = list(csv.DictReader(VALUES.read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", ROWS, ids=[row["name"] for row in ROWS])
def test_clean_batches_carry_the_geometric_series(row: dict[str, str]):
    """Equal clean batches after one of 120 g/t carry c r^n, r being what stays of batch and rest."""
    batch_kg, left_frac = 1000.0, float(row["left_frac"])
    left_kg = batch_kg * left_frac / (1 - left_frac)
    content = float(row["content_mg_kg"])
    for _ in range(int(row["clean_batches"])):
        carried = batch_map((left_kg,), (1.0,), mass_kg=batch_kg, sack_kg=25.0)
        content = float((carried.after @ [content, 0.0])[0])
    assert content == pytest.approx(float(row["expected_mg_kg"]), abs=float(row["tolerance_mg_kg"]))


@pytest.mark.parametrize("flush_frac", [0.025, 0.05, 0.1, 0.2])
def test_a_flush_leaves_r_over_r_plus_f(flush_frac: float):
    """A flush of a part f of the batch thins what is left to r / (r + f), by hand."""
    left_frac = 0.01
    carried = batch_map((1000.0 * left_frac,), (1.0,), mass_kg=1000.0 * flush_frac, sack_kg=1000.0)
    thinned = float((carried.after @ [120.0, 0.0])[0])
    assert thinned == pytest.approx(120.0 * left_frac / (left_frac + flush_frac), rel=1e-12)


def _by_solver(
    hold_ups: tuple[float, ...], exchanges: tuple[float, ...], start: np.ndarray, mass_kg: float
) -> tuple[np.ndarray, list[float]]:
    """The chain's differential equations by SciPy's stiff solver: end state and portions."""
    left = hold_ups[0]
    mixture = (left * start[0] + mass_kg * start[-1]) / (left + mass_kg)

    def slope(_: float, held: np.ndarray) -> np.ndarray:
        passing, slopes = mixture, []
        for at, (kept, exchange) in enumerate(zip(hold_ups[1:], exchanges[1:], strict=True)):
            slopes.append(-exchange * (held[at] - passing) / kept)
            passing += exchange * (held[at] - passing)
        return np.array([*slopes, passing])

    edges = np.append(np.arange(0.0, mass_kg, 25.0), mass_kg)
    found = solve_ivp(
        slope,
        (0.0, mass_kg),
        np.array([*start[1:-1], 0.0]),
        method="Radau",
        t_eval=edges,
        rtol=1e-10,
        atol=1e-11,
    )
    portions = [
        (found.y[-1, two] - found.y[-1, one]) / (edges[two] - edges[one])
        for one, two in itertools.pairwise(range(len(edges)))
    ]
    return np.array([mixture, *found.y[:-1, -1]]), portions


@pytest.mark.parametrize(
    ("hold_ups", "exchanges", "start"),
    [
        ((10.0, 15.0, 60.0, 10.0), (1.0, 1.0, 0.8, 1.0), (30.0, 0.0, 200.0, 5.0, 8.0)),
        ((10.0, 60.0, 60.0, 60.0), (1.0, 0.5, 0.5, 0.5), (0.0, 0.0, 0.0, 120.0, 0.0)),
        ((5.0, 2.0, 140.0), (1.0, 1.0, 0.1), (500.0, 0.0, 0.0, 0.0)),
    ],
    ids=["mixed rates", "equal rates, dirt at the end", "slow line behind a dirty mixer"],
)
def test_a_chain_agrees_with_the_differential_equations(
    hold_ups: tuple[float, ...], exchanges: tuple[float, ...], start: tuple[float, ...]
):
    """Worst sack and end state agree with SciPy's solution of the equations, equal rates too."""
    column = np.array(start)
    carried = batch_map(hold_ups, exchanges, mass_kg=1010.0, sack_kg=25.0)
    state, portions = _by_solver(hold_ups, exchanges, column, 1010.0)
    assert carried.after @ column == pytest.approx(state, rel=1e-7, abs=1e-8)
    assert carried.sacks @ column == pytest.approx(portions, rel=1e-7, abs=1e-8)


@given(
    hold_ups=st.lists(st.floats(0.5, 300.0), min_size=1, max_size=9),
    exchange=st.floats(0.05, 1.0),
    mass_kg=st.floats(1.0, 3000.0),
)
@settings(max_examples=40, deadline=None)
def test_our_exponential_is_scipys(hold_ups: list[float], exchange: float, mass_kg: float):
    """The exponential of a chain of any size agrees with SciPy's Pade approximation."""
    size = len(hold_ups)
    rates = np.zeros((size, size))
    for at, kept in enumerate(hold_ups):
        rates[at, at] = -exchange / kept
        if at:
            rates[at, at - 1] = exchange / kept
    assert exponential(rates * mass_kg) == pytest.approx(expm(rates * mass_kg), abs=1e-11)


@given(
    hold_ups=st.lists(st.just(0.0) | st.floats(0.01, 200.0), min_size=1, max_size=7),
    exchange=st.floats(0.05, 1.0),
    masses=st.lists(st.floats(30.0, 2000.0), min_size=1, max_size=4),
)
@settings(max_examples=40, deadline=None)
def test_what_is_carried_is_neither_made_nor_lost(
    hold_ups: list[float], exchange: float, masses: list[float]
):
    """What lay in the places and came with the batches is what left in sacks and what lies there."""
    kept = np.array(hold_ups)
    column = np.array([*(100.0 / (at + 1) for at in range(len(kept))), 7.0])
    run = run_map(tuple(hold_ups), (exchange,) * len(kept), masses_kg=tuple(masses), sack_kg=25.0)
    after = run.after @ column
    sizes = [size for mass in masses for size in _sack_sizes(mass)]
    came = float((kept * column[:-1]).sum() + sum(masses) * 7.0)
    left = float(np.dot(sizes, run.sacks @ column) + (kept * after).sum())
    assert left == pytest.approx(came, rel=1e-9)


def _sack_sizes(mass_kg: float) -> list[float]:
    whole = int(mass_kg / 25.0 + 1e-9)
    rest = mass_kg - 25.0 * whole
    return [25.0] * whole + ([rest] if rest > 25e-9 or not whole else [])
