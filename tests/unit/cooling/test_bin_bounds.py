"""What a night can do to a bin of warm pellets, between the corners of what is usual."""

from functools import cache

import pytest

from bedstone.cooling.after_cooler import HOT_C
from bedstone.cooling.bin_bounds import BinNight, bin_through_the_night
from bedstone.cooling.bin_night import CORNERS, Exchange, WarmBin, course
from bedstone.errors import BadInput

NIGHT = (15, 13, 11, 9, 7, 6, 5, 4, 3, 3, 3, 4, 6, 9, 12, 14, 15)


def bin_of(pellet_c: float, moisture_wb: float) -> WarmBin:
    """A bin of eight tonnes."""
    return WarmBin(
        pellet_c=pellet_c, moisture_wb=moisture_wb, mass_kg=8000, top_m2=5, roof_m2=10, wall_m2=16
    )


@cache
def night(
    pellet_c: float, moisture_wb: float = 0.12, outside_c: tuple[float, ...] = NIGHT
) -> BinNight:
    """The night of that bin."""
    return bin_through_the_night(bin_of(pellet_c, moisture_wb), outside_c)


def test_a_hot_bin_is_a_matter_for_caution():
    """From 55 C on the advice keeps people out, names fire, bad air and local codes."""
    found = night(60)
    assert found.is_hot
    for word in ("Do not climb in", "carbon monoxide", "fire service", "local code"):
        assert word in found.advice
    assert not night(HOT_C - 1).is_hot


def test_advice_goes_by_the_crust():
    """Damp pellets are held; where the crust may mould its day is named; cool dry ones need nothing."""
    assert night(45, 0.15).advice.startswith("Too damp to keep")
    wet = night(38, 0.122)
    assert wet.wets
    worst = min(wet.crusts, key=lambda one: one.mould_days)
    assert f"day {worst.mould_days:.0f}" in wet.advice
    little = night(25, 0.112)
    assert little.sweats
    assert not little.wets
    assert "not enough to wet a crust" in little.advice
    dry = night(5, 0.11, (4.0, 4.0, 5.0))
    assert not dry.sweats
    assert not dry.wets
    assert dry.advice.startswith("Nothing runs down")


def test_a_crust_is_wetter_by_what_ran_down():
    """A crust's water is the pellets' own and all that hung on its sheet, none lost."""
    found = night(40)
    warm = bin_of(40, 0.12)
    film_kg = max(course(warm, NIGHT, how).most_roof_film_kg for how in CORNERS)
    top = next(one for one in found.crusts if one.where == "under the roof")
    mass_kg = 5 * 0.05 * 620
    water_kg = mass_kg * 0.12 + film_kg
    assert top.moisture_wb == pytest.approx(water_kg / (mass_kg + film_kg), rel=1e-12)


@pytest.mark.parametrize(("pellet_c", "outside_c"), [(20, NIGHT), (45, NIGHT), (30, (-5,) * 9)])
@pytest.mark.parametrize("sky_dk", [0.0, 4.0])
@pytest.mark.parametrize("film", [1.5, 2.5, 5.0])
def test_whatever_is_usual_lies_between_the_ends(
    pellet_c: float, outside_c: tuple[float, ...], sky_dk: float, film: float
):
    """A night inside the corners, of any middle mix, is within the ends to 5 % and 20 g."""
    ends = night(pellet_c, 0.12, outside_c)
    how = Exchange(film_w_m2_k=film, outside_w_m2_k=14.0, stirs=2.0, sky_dk=sky_dk)
    found = course(bin_of(pellet_c, 0.12), outside_c, how)
    for kg, (low, high) in (
        (found.roof_kg, ends.roof_kg),
        (found.wall_kg, ends.wall_kg),
        (found.wandered_kg, ends.wandered_kg),
    ):
        assert 0.95 * low - 0.02 <= kg <= 1.05 * high + 0.02
    for row, bounds in zip(found.hours, ends.hours, strict=True):
        assert bounds.roof_c[0] - 0.5 <= row.roof_c <= bounds.roof_c[1] + 0.5
        assert bounds.core_c[0] - 0.1 <= row.core_c <= bounds.core_c[1] + 0.1


def test_hours_are_wet_surely_maybe_or_not():
    """An hour is wet for sure where every corner has water, maybe where some have; counts agree."""
    found = night(20)
    wet = [row.wet for row in found.hours]
    assert set(wet) >= {"no", "maybe"}
    for row in found.hours:
        most_kg = row.roof_kg[1] + row.wall_kg[1]
        assert (row.wet == "no") == (most_kg == 0)
    assert found.roof_hours[0] <= found.roof_hours[1] <= len(found.hours) - 1
    assert all(row.wet == "yes" for row in night(45, 0.13).hours[2:8])


@pytest.mark.parametrize(
    "wrong",
    [
        {"moisture_wb": -0.01}, {"moisture_wb": 1.1}, {"pellet_c": 400}, {"pellet_c": -80},
        {"mass_kg": 0}, {"mass_kg": -5}, {"top_m2": 0}, {"wall_m2": -1}, {"mass_kg": 20},
    ],
)  # fmt: skip
def test_a_bin_that_cannot_be_is_refused(wrong: dict[str, float]):
    """Moisture below nothing or above one, absurd heat, an empty bin, a skin of pellets."""
    right = {"pellet_c": 30, "moisture_wb": 0.12, "mass_kg": 8000, "top_m2": 5, "roof_m2": 10,
             "wall_m2": 16}  # fmt: skip
    with pytest.raises(BadInput) as caught:
        WarmBin(**{**right, **wrong})
    assert caught.value.allowed


@pytest.mark.parametrize("outside_c", [(), (5.0,), (5.0, 200.0)])
def test_a_night_needs_its_air(outside_c: tuple[float, ...]):
    """No hour, or air that no place has, is refused in words."""
    with pytest.raises(BadInput):
        night(30, outside_c=outside_c)
