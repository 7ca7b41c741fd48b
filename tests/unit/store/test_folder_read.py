"""What a mill folder may look like, and what is made of it."""

import datetime as dt
from pathlib import Path

import pytest

from bedstone.errors import BadInput
from bedstone.mill.folder import LoadedFolder
from bedstone.store.folder import read_folder
from bedstone.store.folder_settings import record_address
from fakes.folders import Damage, add, all_of, good_files, put, raw, recoded, swap, without


def read_with(folder: Path, *damages: Damage) -> LoadedFolder:
    files = good_files()
    all_of(*damages)(files)
    return read_folder(put(files, folder))


def test_several_damages_are_said_together(tmp_path: Path):
    """Faults of settings, headers, cells and rules across tables are all in one answer, by file."""
    with pytest.raises(BadInput) as caught:
        read_with(
            tmp_path,
            swap("mill.toml", "flush_bin", "flush_bn"),
            recoded("firms.csv", "cp1252", extra="m,Müller,customer\n"),
            swap("scales", ",1500,", ",1500 kg,"),
            swap("formula_lines", "2,SBM,18", "2,SBM,17"),
            swap("formula_lines", "CORE,1,SBM", "CORE,1,CORE"),
            swap("limits", "level,15,", "level,,"),
            swap("orders", "2026-11-24 12:00", "tomorrow"),
            swap("orders", "1200,bags", "1200,bulk"),
            swap("opening_stock", "30000", "50000"),
            add("bins", "B01,again,ingredient,5,,mass flow,,,0"),
        )
    places = [(fault.file, fault.row, fault.column) for fault in caught.value.faults]
    assert set(places) >= {
        ("mill.toml", 6, "flush_bn"),
        ("firms.csv", 5, ""),
        ("bins.csv", 12, "bin"),
        ("scales.csv", 2, "capacity_kg"),
        ("formula_lines.csv", 3, "parts_pct"),
        ("formula_lines.csv", 14, "ingredient"),
        ("limits.csv", 2, "level_mg_kg"),
        ("orders.csv", 2, "due_at"),
        ("orders.csv", 3, "pack"),
    }
    assert len(places) == len(set(map(str, caught.value.faults)))
    assert caught.value.faults[0].file == "mill.toml"


def test_damaged_cell_brings_no_faults_of_its_own_making(tmp_path: Path):
    """A cell that cannot be understood is one fault, not a row of others that follow from it."""
    with pytest.raises(BadInput) as caught:
        read_with(
            tmp_path,
            swap("formula_lines", "2,SBM,18", "2,SBM,?"),
            swap("bins", "SBM,SC1,0", "SBM,SC1,zero"),
            swap("products", "swine,grower,pellet", "swine,grower,pelet"),
        )
    assert [(fault.file, fault.row) for fault in caught.value.faults] == [
        ("bins.csv", 4),
        ("products.csv", 2),
        ("formula_lines.csv", 4),
    ]


def test_unreadable_table_does_not_make_its_codes_unknown(tmp_path: Path):
    """Where a table cannot be read at all, nobody is told that its codes do not exist."""
    with pytest.raises(BadInput) as caught:
        read_with(tmp_path, raw("ingredients.csv", b""), raw("bins.csv", b"\xff\xfeb"))
    assert {fault.file for fault in caught.value.faults} == {"ingredients.csv", "bins.csv"}


def test_values_are_si_inside(tmp_path: Path):
    """Per cent, tonnes an hour and local time become parts, kg/s and UTC."""
    loaded = read_folder(put(good_files(), tmp_path))
    mill = loaded.mill
    assert mill.machine_by_code["PL1"].rate_kg_s == 4000 / 3600
    assert mill.ingredient_by_code["BARLEY"].moisture_wb == 0.115
    assert mill.lines_of("PIG-GR", 2)[1].parts_frac == 0.18
    assert loaded.orders[0].due_at == dt.datetime(2026, 11, 24, 18, tzinfo=dt.UTC)
    assert loaded.orders[1].note == "call first, gate shut"
    assert mill.settings.labour_usd_h == 40.5


def test_customary_columns_are_the_same_mill(tmp_path: Path):
    """A column in pounds, short tons an hour, minutes or Fahrenheit holds the same values."""
    loaded = read_with(
        tmp_path,
        swap("scales", "capacity_kg,division_kg", "capacity_lb,division_g"),
        swap("machines", "rate_t_h", "rate_ton_h"),
        swap("machines", "dry_mix_s", "dry_mix_min"),
        swap("machines", ",180,", ",3,"),
        swap("weather", "temperature_c", "temperature_f"),
        swap("weather", "-2.5,88", "14,88"),
    )
    scale = loaded.mill.scale_by_code["SC1"]
    assert scale.capacity_kg == 1500 * 0.45359237
    assert scale.division_kg == 0.0005
    assert loaded.mill.machine_by_code["HM1"].rate_kg_s == pytest.approx(8 * 907.18474 / 3600)
    assert loaded.mill.machine_by_code["MX1"].dry_mix_s == 180
    assert loaded.weather[0].temperature_c == -10


def test_spreadsheet_habits_are_accepted(tmp_path: Path):
    """A mark at the start, line ends of Windows, spare commas, comments and empty rows do no harm."""
    files = good_files()
    text = files["firms.csv"].decode().replace("\n", ",,\r\n")
    text = '"# our firms, and ""theirs""",,\r\n,,,,\r\n' + text + "# end\r\n\r\n"
    files["firms.csv"] = b"\xef\xbb\xbf" + text.encode()
    loaded = read_folder(put(files, tmp_path))
    assert [row.firm for row in loaded.mill.firms] == ["stiles", "lowfield", "hauler"]


def test_row_is_the_line_of_an_editor(tmp_path: Path):
    """Comments, empty rows and cells of two lines count when a fault names its row."""
    files = good_files()
    files["firms.csv"] = b'# one\n\nfirm,name,role\na,"Two\nlines",supplier\nb,Bee,nobody\n'
    files["orders.csv"] = b""
    del files["orders.csv"], files["opening_stock.csv"]
    with pytest.raises(BadInput) as caught:
        read_folder(put(files, tmp_path))
    assert [(fault.row, fault.column) for fault in caught.value.faults] == [(6, "role")]


def test_tables_that_may_be_left_out_are_empty(tmp_path: Path):
    """A mill without meters, rates, orders or weather files loads; the tables are empty."""
    loaded = read_with(
        tmp_path, *(without(f"{name}.csv") for name in ("rates", "orders", "weather", "guarantees"))
    )
    assert loaded.orders == loaded.weather == loaded.mill.rates == loaded.mill.guarantees == ()


def test_ambiguous_time_is_read_with_its_offset(tmp_path: Path):
    """An hour that the clock shows twice is told apart by its offset."""
    loaded = read_with(
        tmp_path,
        add("weather", "2026-11-01 01:00-05:00,1,50"),
        add("weather", "2026-11-01 01:00-06:00,1,50"),
    )
    hours = [row.hour_at for row in loaded.weather[-2:]]
    assert hours[1] - hours[0] == dt.timedelta(hours=1)


def test_other_files_in_the_folder_are_left_alone(tmp_path: Path):
    """The record, notes, hidden files and subfolders beside the tables are no faults."""
    put(good_files(), tmp_path)
    for name in ("bedstone.sqlite", "notes.txt", ".~lock.bins.csv#", "._bins.csv", "~$bins.xlsx"):
        (tmp_path / name).write_bytes(b"\x00")
    (tmp_path / "old.csv").mkdir()
    assert read_folder(tmp_path).mill.settings.name == "Rushmere Mill"


def test_missing_folder_is_bad_input(tmp_path: Path):
    """A folder that is not there is said in a sentence."""
    with pytest.raises(BadInput, match="cannot be read"):
        read_folder(tmp_path / "nowhere")


def test_record_address_is_read(tmp_path: Path):
    """The address of another database in [record] comes with the folder."""
    loaded = read_with(tmp_path, add("mill.toml", '[record]\naddress = "postgresql:///mill"'))
    assert loaded.record_place.address == "postgresql:///mill"


def test_huge_table_is_read_in_time(tmp_path: Path):
    """Ten thousand hours of weather are read without a fault."""
    start = dt.datetime(2025, 1, 1, tzinfo=dt.UTC)
    rows = "".join(f"{start + dt.timedelta(hours=n):%Y-%m-%d %H:%M}Z,1,50\n" for n in range(10_000))
    loaded = read_with(
        tmp_path, raw("weather.csv", f"hour_at,temperature_c,humidity_pct\n{rows}".encode())
    )
    assert len(loaded.weather) == 10_000


ADDRESS = '[record]\naddress = "postgresql:///mill"\n'


@pytest.mark.parametrize(
    ("text", "address"),
    [
        ("format = 1\n", ""),
        (ADDRESS, "postgresql:///mill"),
        (f'units = "UK"\n{ADDRESS}', "postgresql:///mill"),
    ],
)
def test_record_is_found_beside_other_faults(text: str, address: str):
    """Where the record lies is known even while another setting is wrong."""
    assert record_address(text.encode()) == address


@pytest.mark.parametrize(
    "text",
    ["[recrd]\naddress = 1\n", "[record]\nadress = 'x'\n", "[record]\naddress = 5\n", "a = ", ""],
)
def test_doubtful_record_is_never_guessed(text: str):
    """Where mill.toml may mean another record, none is opened."""
    with pytest.raises(BadInput, match="where the record lies"):
        record_address(text.encode() if text else b"\xff")


def test_file_too_large_is_not_read(tmp_path: Path):
    """A file of over 64 MB is no table of a mill; it is said, not read."""
    put(good_files(), tmp_path)
    with (tmp_path / "weather.csv").open("r+b") as file:
        file.truncate(64 * 1024 * 1024 + 1)
    with pytest.raises(BadInput) as caught:
        read_folder(tmp_path)
    assert [(fault.file, fault.found) for fault in caught.value.faults] == [
        ("weather.csv", "over 64 MB")
    ]
