"""Tanks by their measures and liquids by their warmth: volume, mass and error of a dip."""

import math
from dataclasses import replace

import pytest

from bedstone.desk.bin_room import density_of
from bedstone.desk.levels import record_level
from bedstone.desk.revisions import current_mill
from bedstone.desk.tables import load_tables, recorded_folder
from bedstone.desk.tanks import dip_level
from bedstone.errors import BadInput
from bedstone.mill.instrument_tables import Liquid, TankMeasure
from bedstone.mill.model import Mill
from bedstone.mill.storage_tables import BinMeasure
from fakes.desk_day import a_day, later


def with_tank() -> tuple[Mill, str]:
    """The mill with a lying tank 2 m wide and 4 m long, its liquid 920 kg/m3 at 20 C."""
    mill = current_mill(a_day())
    held = next(row for row in mill.bins if row.kind == "tank" and row.holds)
    tank = TankMeasure(bin=held.bin, lies="lying", diameter_m=2.0, length_m=4.0, ends="elliptical")
    liquid = Liquid(
        ingredient=held.holds, density_kg_m3=920.0, density_at_c=20.0, swells_frac=0.0007
    )
    return replace(mill, tanks=(tank,), liquids=(liquid,), strapping=()), held.bin


def dip(mill: Mill, tank: str, length_m: float, **more: object) -> tuple[float, float]:
    """Mass and its error of a reading. [kg]"""
    asked: dict[str, object] = {"from_bottom": True, "sd_m": 0.005, "temperature_c": 20.0} | more
    _, seen = dip_level(mill, tank, length_m=length_m, by="mara", at=later(1), **asked)  # type: ignore[arg-type]
    return seen.mass_kg, seen.sd_kg


def test_a_half_full_tank_is_half_of_cylinder_and_ends():
    """Half of pi 1 4 and of the ends' ellipsoid 4/3 pi 0.5, at 920 kg/m3 (solid geometry)."""
    mill, tank = with_tank()
    mass_kg, sd_kg = dip(mill, tank, 1.0)
    assert mass_kg == pytest.approx(920 * (math.pi * 4 + 4 / 3 * math.pi * 0.5) / 2, rel=1e-4)
    surface_m2 = 2 * 4 + math.pi * 0.5
    by_rod_kg = 920 * surface_m2 * 0.005
    assert sd_kg == pytest.approx(
        math.hypot(by_rod_kg, mass_kg * math.hypot(0.003, 0.0007)), rel=0.01
    )


def test_dip_and_ullage_of_the_same_level_are_the_same_mass():
    """0.6 m wet and 1.4 m empty in a tank of 2 m."""
    mill, tank = with_tank()
    assert dip(mill, tank, 0.6)[0] == pytest.approx(dip(mill, tank, 1.4, from_bottom=False)[0])


def test_warm_oil_is_lighter_and_an_unknown_warmth_is_less_sure():
    """60 C is 40 K more: 920 / 1.028; without a temperature the error is larger."""
    mill, tank = with_tank()
    code = mill.liquids[0].ingredient
    assert density_of(mill, code, 60.0).density_kg_m3 == pytest.approx(920 / 1.028)
    known, unknown = dip(mill, tank, 1.0), dip(mill, tank, 1.0, temperature_c=None)
    assert unknown[1] > known[1]


def test_a_reading_outside_the_tank_is_refused():
    """2.1 m in a tank of 2 m is told with what is allowed."""
    mill, tank = with_tank()
    with pytest.raises(BadInput, match="outside the tank"):
        dip(mill, tank, 2.1)


def test_a_liquid_is_not_as_hot_as_steam():
    """260 C was typed in another unit; it is refused before anything is reckoned."""
    mill, tank = with_tank()
    with pytest.raises(BadInput, match="not that warm"):
        dip(mill, tank, 1.0, temperature_c=260.0)


def test_a_tape_deeper_than_the_bin_is_refused_in_the_mills_own_unit():
    """A shape of 4 m: 30 m by tape is said with what the bin has, and nothing is recorded."""
    record = a_day()
    mill = current_mill(record)
    shape = BinMeasure(bin="B1", section="round", width_m=2.0, wall_m=4.0, hopper="flat")
    measured = replace(mill, bin_shapes=(shape,))
    folder = replace(recorded_folder(record), mill=measured)
    load_tables(record, folder, by="dell", at=later(1))
    before = record.head()
    with pytest.raises(BadInput, match="deeper than") as caught:
        record_level(
            record, "B1", method="tape", value=30.0, unit="m", sd=0.02, by="mara", at=later(2)
        )
    assert "13.12 ft" in str(caught.value) or "4.00 m" in str(caught.value)
    assert record.head() == before
