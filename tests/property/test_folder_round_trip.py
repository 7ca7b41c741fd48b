"""Numbers, times and whole folders come back from text exactly as they were."""

import datetime as dt
import tempfile
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from bedstone.mill.cells import SHEET_ERRORS, read_cell, write_cell
from bedstone.mill.columns import Column, columns_of
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import TABLES
from bedstone.quantities.masses import mass_typed, round_to_division, shown_mass
from bedstone.quantities.moisture import dry_basis, wet_basis
from bedstone.quantities.units import DIMENSIONS, from_si, plain_text, shortest_text, to_si
from bedstone.store.folder import read_folder, write_folder
from bedstone.store.folder_sheets import read_sheets
from bedstone.store.folder_table import read_records
from bedstone.store.folder_workbook import workbook_bytes
from fakes.folders import good_files, put

CHICAGO = ZoneInfo("America/Chicago")
ZONES = st.sampled_from(["America/Chicago", "Europe/Berlin", "Australia/Lord_Howe", "UTC"])
MOMENTS = st.datetimes(
    min_value=dt.datetime(1990, 1, 1),  # noqa: DTZ001  the zone is given beside it
    max_value=dt.datetime(2090, 1, 1),  # noqa: DTZ001  likewise
    timezones=st.just(dt.UTC),
)
UNITS = st.sampled_from(
    [(suffix, unit) for suffix, item in DIMENSIONS.items() for unit in item.units]
)


@given(UNITS, st.decimals(min_value="-1000000", max_value="1000000", places=4))
def test_typed_number_comes_back_as_typed(which: tuple[str, str], number: Decimal):
    """What a person typed in any unit is written again as typed, through the SI float."""
    unit = DIMENSIONS[which[0]].units[which[1]]
    si = float(to_si(number, unit))
    assert float(to_si(Decimal(shortest_text(si, unit)), unit)) == si
    if unit.offset == 0:
        assert shortest_text(si, unit) == plain_text(number)


@given(UNITS, st.floats(min_value=1e-6, max_value=1e9))
def test_any_si_number_survives_any_unit(which: tuple[str, str], si: float):
    """A float written in any unit of its kind is read back as the same float."""
    unit = DIMENSIONS[which[0]].units[which[1]]
    assert float(to_si(Decimal(shortest_text(si, unit)), unit)) == si


@given(
    st.integers(min_value=0, max_value=10**7),
    st.sampled_from(["0.01", "0.02", "0.05", "0.1", "0.2", "0.5", "1", "2", "5", "10", "20"]),
)
def test_pounds_to_milligrams_and_back_is_exact_to_the_division(count: int, division_lb: str):
    """Whole divisions of a pound scale come back as the same number of divisions."""
    pounds = DIMENSIONS["kg"].units["lb"]
    division_kg = float(to_si(Decimal(division_lb), pounds))
    shown = f"{count * Decimal(division_lb)} lb"
    mass_mg = mass_typed(shown, units="SI").mass_mg
    assert round_to_division(mass_mg, division_kg) == mass_mg
    text = shown_mass(mass_mg, units="US", division_kg=division_kg)
    assert Decimal(text.removesuffix(" lb").replace(",", "")) == count * Decimal(division_lb)


@given(st.integers(min_value=0, max_value=10**12), st.floats(min_value=1e-3, max_value=100))
def test_nearest_division_is_at_most_half_a_division_away(mass_mg: int, division_kg: float):
    """Rounding moves a mass by no more than half a division, and rounding twice changes nothing."""
    rounded = round_to_division(mass_mg, division_kg)
    assert abs(rounded - mass_mg) <= division_kg * 1e6 / 2 + 1
    assert round_to_division(rounded, division_kg) == rounded


@given(st.floats(min_value=0, max_value=0.99))
def test_wet_and_dry_basis_are_inverse(moisture_wb: float):
    """Wet to dry to wet basis is the same moisture; the dry-basis figure is never smaller."""
    assert abs(wet_basis(dry_basis(moisture_wb)) - moisture_wb) < 1e-12
    assert dry_basis(moisture_wb) >= moisture_wb


@given(MOMENTS, ZONES)
def test_moments_come_back_in_any_zone(at: dt.datetime, zone_name: str):
    """A moment written in the mill's time is read back the same, through nights of two clocks."""
    zone = ZoneInfo(zone_name)
    column = next(item for item in columns_of(TABLES["weather"]) if item.field == "hour_at")
    text = write_cell(at, unit=None, zone=zone)
    assert read_cell(text, column=column, unit=None, zone=zone) == at


@given(st.integers(min_value=0, max_value=8), st.sampled_from([0, 15, 30, 45]))
def test_hours_of_the_long_night_come_back(hour: int, minute: int):
    """Every quarter of an hour of the night in which the clock is put back is told apart."""
    at = dt.datetime(2026, 11, 1, 4, tzinfo=dt.UTC) + dt.timedelta(hours=hour, minutes=minute)
    column = next(item for item in columns_of(TABLES["weather"]) if item.field == "hour_at")
    text = write_cell(at, unit=None, zone=CHICAGO)
    assert read_cell(text, column=column, unit=None, zone=CHICAGO) == at


# A failing folder is too large to be worth making smaller.
NO_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)
TEXTS = st.text(
    st.characters(codec="utf-8", categories=("L", "M", "N", "P", "S", "Zs")), max_size=30
).map(lambda text: "x" if text in SHEET_ERRORS else text.strip(" "))
FREE = ("name", "note", "caution", "address", "phone", "life_stage", "source")


def values_of(column: Column) -> st.SearchStrategy[object] | None:
    """Return values that a column may have, or None where other tables say what it may be."""
    attribute = column.attribute
    if column.kind is float and column.dimension is not None and not attribute.key:
        low = attribute.low if attribute.low is not None else -1000.0
        high = attribute.high if attribute.high is not None else max(1e6, low)
        return st.floats(low, high, exclude_min=attribute.low_open, allow_subnormal=False).filter(
            lambda value: value == 0 or abs(value) > 1e-9
        )
    if column.kind is str and column.field in FREE:
        return TEXTS.filter(bool) if column.needed else st.one_of(TEXTS, st.just('a\nb, "c"'))
    return None


CHANGED = {
    "bins": ("name", "volume_m3"),
    "machines": ("name", "rate_kg_s", "fill_s", "loss_frac", "exchange_frac", "hold_up_kg"),
    "scales": ("name", "sd_kg"),
    "routes": ("hold_up_kg", "exchange_frac", "clean_out_s"),
    "ingredients": ("name", "density_kg_m3", "moisture_wb", "price_usd_t", "caution"),
    "contents": ("content_mg_kg", "source"),
    "products": ("name", "life_stage", "density_kg_m3", "price_usd_t", "dry_mix_s", "caution"),
    "rates": ("rate_kg_s",),
    "orders": ("mass_kg", "note"),
    "weather": ("temperature_c", "humidity_frac", "pressure_pa"),
    "firms": ("name", "address", "phone"),
}


@st.composite
def folders(draw: st.DrawFn) -> LoadedFolder:
    """A good folder with other numbers and texts in it."""
    loaded = read_folder_once()
    tables = {}
    for name, names in CHANGED.items():
        columns = [item for item in columns_of(TABLES[name]) if item.field in names]
        rows = getattr(loaded if hasattr(loaded, name) else loaded.mill, name)
        values = {item.field: draw(values_of(item)) for item in columns}
        tables[name] = (replace(rows[0], **values), *rows[1:])
    merged = {name: tables.pop(name) for name in ("orders", "weather")}
    own = replace(
        loaded.mill.settings,
        units=draw(st.sampled_from(["SI", "US"])),
        name=draw(TEXTS.filter(bool)),
        sack_kg=draw(st.floats(1, 100)),
        labour_usd_h=draw(st.floats(0, 500, allow_subnormal=False)),
        late_usd_t_h=draw(st.floats(0.01, 500)),
    )
    return replace(loaded, mill=replace(loaded.mill, settings=own, **tables), **merged)


@pytest.mark.parametrize("workbook", [False, True], ids=["CSV", "xlsx"])
@settings(max_examples=30, deadline=None, phases=NO_SHRINKING)
@given(loaded=folders())
def test_folder_written_and_read_is_the_same(loaded: LoadedFolder, *, workbook: bool):
    """Any good folder, written in SI or customary units, as CSV files or as one workbook, is read
    back equal to the last bit.
    """
    with tempfile.TemporaryDirectory() as out:
        write_folder(loaded, Path(out), workbook=workbook)
        assert read_folder(Path(out)) == loaded


@settings(max_examples=40, deadline=None)
@given(at=MOMENTS, zone_name=ZONES)
def test_moments_come_back_from_a_spreadsheet(at: dt.datetime, zone_name: str):
    """A moment in a cell, kept as part of a day as spreadsheets do, is the same moment again."""
    zone = ZoneInfo(zone_name)
    hour = replace(read_folder_once().weather[0], hour_at=at)
    book = workbook_bytes({"weather": (hour,)}, system="SI", zone=zone)
    sheet = read_sheets(book).sheets["weather"]
    table = read_records(sheet, file="weather.csv", row_type=TABLES["weather"], zone=zone)
    assert (table.rows, table.faults) == ([hour], [])


@cache
def read_folder_once() -> LoadedFolder:
    with tempfile.TemporaryDirectory() as folder:
        return read_folder(put(good_files(), Path(folder)))


def test_from_si_takes_what_is_shown():
    """A float in a table stands for the number it is shown as, not for its binary neighbour."""
    assert from_si(0.1, DIMENSIONS["kg"].units["g"]) == 100
