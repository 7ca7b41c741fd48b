"""Which reading of a logged run tells a cooler's two factors apart."""

import random
from dataclasses import replace

import numpy as np

from bedstone.cooling.cooler import cool
from bedstone.cooling.model import DEFAULT_FACTORS, AirIn, Cooler, PelletKind, PelletsIn

PELLET = PelletKind(diameter_mm=4.0, length_mm=11.0, bulk_density_kg_m3=620.0)
COOLER = Cooler(area_m2=1.67, depth_m=0.43, air_kg_s=2.1)
ERRORS = (0.5, 0.002, 1.0)  # K, kg/kg wet basis, K
STEP = 0.02
RUNS = 24


def trial() -> list[tuple[PelletsIn, AirIn]]:
    """Two dozen runs of one product in a month's air, drawn with their own dice."""
    dice = random.Random(7)
    return [
        (
            PelletsIn(
                rate_kg_s=dice.uniform(1.2, 1.4),
                temperature_c=dice.uniform(80.0, 84.0),
                moisture_wb=dice.uniform(0.15, 0.16),
            ),
            AirIn(
                temperature_c=dice.uniform(10.0, 20.0),
                relative_humidity_frac=dice.uniform(0.5, 0.8),
                pressure_pa=98_000.0,
            ),
        )
        for _ in range(RUNS)
    ]


def leaving(runs: list[tuple[PelletsIn, AirIn]], heat: float, moisture: float) -> np.ndarray:
    """What each run would show: outlet, moisture, air that leaves."""
    factors = replace(DEFAULT_FACTORS, heat=heat, moisture=moisture)
    shown = [cool(COOLER, PELLET, hot, air, factors)[0] for hot, air in runs]
    return np.array([(row.pellet_c, row.moisture_wb, row.air_c) for row in shown])


def uncertain() -> list[tuple[float, float]]:
    """Standard deviation of both factors, as parts of them, by how many readings are logged."""
    runs = trial()
    here = leaving(runs, 1.0, 1.0)
    up = [leaving(runs, 1 + STEP, 1.0), leaving(runs, 1.0, 1 + STEP)]
    slopes = np.stack([(there - here) / STEP for there in up], axis=2) / np.array(ERRORS)[:, None]
    found = []
    for logged in (1, 2, 3):
        part = slopes[:, :logged, :].reshape(-1, 2)
        heat, moisture = np.sqrt(np.diag(np.linalg.inv(part.T @ part)))
        found.append((float(heat), float(moisture)))
    return found


def test_moisture_logged_as_well_tells_the_moisture_factor_of_two_dozen_runs() -> None:
    """Outlet alone leaves it tens of per cent uncertain; with moisture read about a tenth is left."""
    (_, alone), (_, with_moisture), _ = uncertain()
    assert 0.15 < alone < 0.6
    assert 0.05 < with_moisture < 0.2
    assert with_moisture < alone / 3


def test_all_three_readings_of_two_dozen_runs_leave_both_factors_under_an_eighth_uncertain() -> (
    None
):
    """No reading more makes a factor less sure, and all three leave each between 3 and 12 %."""
    told = np.array(uncertain())
    assert (np.diff(told, axis=0) <= 0).all()
    assert (told[-1] > 0.03).all()
    assert (told[-1] < 0.12).all()
