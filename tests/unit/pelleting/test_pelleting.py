"""What the pellet line refuses, and which way its answers must move."""


import numpy as np
import pytest

from bedstone.errors import BadInput
from bedstone.pelleting.die import Die, die_life, die_work, motor_kw, pellet_length_mm
from bedstone.pelleting.durability import durability, fit_runs, suggest
from bedstone.pelleting.particle_size import STANDARD_STACK_UM, particle_size


def test_dies_and_motors_that_cannot_be_are_refused() -> None:
    """Holes over holes, negative amps, no knife, a die of no life."""
    with pytest.raises(BadInput, match="cut into one another"):
        Die(hole_mm=6, effective_mm=50, holes=9000, inner_diameter_mm=520, face_width_mm=130)
    with pytest.raises(BadInput, match="motor"):
        motor_kw(460, -1)
    die = Die(hole_mm=4.8, effective_mm=44.5, holes=2500, inner_diameter_mm=520, face_width_mm=130)
    with pytest.raises(BadInput, match="Load and rate"):
        die_work(die, 2.0, 10.0, idle_kw=30.0)
    with pytest.raises(BadInput, match="Nothing cuts"):
        pellet_length_mm(die_work(die, 2.0, 70.0), 0, 250)
    with pytest.raises(BadInput, match="Tonnes and price"):
        die_life(10.0, 0.0, 4000)
    assert die_life(9_100.0, 10_000.0, 4_000).due
    assert not die_life(8_000.0, 10_000.0, 4_000).due


def test_durability_has_an_interval_and_refuses_more_than_was_put_in() -> None:
    """One test rests on the usual repeatability, several on their own spread."""
    one, several = durability([450.0]), durability([450.0, 451.0, 449.0, 450.5])
    assert one.index_lo < 90 < one.index_hi
    assert several.index_hi - several.index_lo < one.index_hi - one.index_lo
    with pytest.raises(BadInput, match="durability test"):
        durability([510.0])


def runs(count: int = 24, seed: int = 4) -> list[dict[str, float]]:
    """Runs in which durability rises with heat and falls with size of grind."""
    draw = np.random.default_rng(seed)
    made = []
    for _ in range(count):
        heat, grind = float(draw.uniform(68, 86)), float(draw.uniform(500, 800))
        index = 60 + 0.5 * (heat - 70) - 0.02 * (grind - 600) + float(draw.normal())
        made.append({"heat": heat, "grind": grind, "durability": index})
    return made


def test_a_regression_holds_new_runs_nine_times_in_ten() -> None:
    """Of 400 new runs inside what was seen, 86 to 94 % lie in the interval."""
    held = total = 0
    for seed in range(20):
        fitted = fit_runs(["heat", "grind"], runs(seed=seed), "durability")
        for run in runs(20, seed=1000 + seed):
            found = fitted.forecast(run)
            if found.seen:
                total += 1
                held += found.low <= run["durability"] <= found.high
    assert 0.86 < held / total < 0.94


def test_a_regression_says_where_it_has_not_been() -> None:
    """Beyond a factor's range nothing is claimed, and nothing outside is suggested."""
    fitted = fit_runs(["heat", "grind"], runs(), "durability")
    beyond = fitted.forecast({"heat": 95.0, "grind": 600.0})
    assert not beyond.seen
    assert "outside" in beyond.why_not
    found = suggest(fitted, {"heat": 72.0, "grind": 650.0}, 62.0)
    assert found is not None
    assert fitted.forecast(found).seen
    assert fitted.forecast(found).low >= 62.0
    assert suggest(fitted, {"heat": 72.0, "grind": 650.0}, 90.0) is None


def test_runs_that_cannot_tell_are_refused() -> None:
    """Too few, a setting never moved, two moved together, a value missing."""
    with pytest.raises(BadInput, match="Too few runs"):
        fit_runs(["heat", "grind"], runs(4), "durability")
    still = [{**run, "grind": 600.0} for run in runs()]
    with pytest.raises(BadInput, match="do not tell"):
        fit_runs(["heat", "grind"], still, "durability")
    together = [{**run, "grind": 10 * run["heat"]} for run in runs()]
    with pytest.raises(BadInput, match="moved together"):
        fit_runs(["heat", "grind"], together, "durability")
    with pytest.raises(BadInput, match="lacks a value"):
        fit_runs(["heat", "steam"], runs(), "durability")


def test_sieves_out_of_order_or_lossy_are_refused() -> None:
    """Fine before coarse, a negative mass, and a tenth of the sample gone."""
    with pytest.raises(BadInput, match="not in order"):
        particle_size([100, 200], [1, 1, 1])
    with pytest.raises(BadInput, match="Masses"):
        particle_size([200, 100], [1, -1, 1])
    masses = [5.0] * 15
    with pytest.raises(BadInput, match="do not account"):
        particle_size(STANDARD_STACK_UM, masses, sample_g=100.0)
