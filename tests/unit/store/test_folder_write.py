"""Writing a mill folder and reading it again."""

import datetime as dt
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bedstone.errors import BedstoneError, Refused
from bedstone.mill.folder import LoadedFolder, RecordPlace
from bedstone.store.folder import read_folder, write_folder
from bedstone.store.starter import starter_texts, write_starter
from fakes.folders import good_files, put


@pytest.fixture
def loaded(tmp_path: Path) -> LoadedFolder:
    return read_folder(put(good_files(), tmp_path / "in"))


@pytest.mark.parametrize("units", ["SI", "US"])
def test_written_folder_reads_the_same(loaded: LoadedFolder, tmp_path: Path, units: str):
    """What is written in SI or customary units is read back equal, to the last bit."""
    mill = loaded.mill
    chosen = replace(
        loaded,
        mill=replace(mill, settings=replace(mill.settings, units=units)),
        record_place=RecordPlace(address='sqlite:///a "b"\\c'),
    )
    write_folder(chosen, tmp_path / "out")
    assert read_folder(tmp_path / "out") == chosen
    header = (tmp_path / "out" / "bins.csv").read_text().splitlines()[0]
    assert ("capacity_lb" in header) is (units == "US")


def test_typed_pounds_come_back_as_typed(tmp_path: Path):
    """A table typed in pounds is exported with the numbers that were typed."""
    files = good_files()
    files["mill.toml"] = files["mill.toml"].replace(b'"SI"', b'"US"')
    files["scales.csv"] = (
        b"scale,machine,capacity_lb,division_lb,smallest_draw_lb\nSC1,MX1,3300,1,22.5\n"
        b"HS1,HA1,66,0.02,0.5\n"
    )
    write_folder(read_folder(put(files, tmp_path / "in")), tmp_path / "out")
    rows = (tmp_path / "out" / "scales.csv").read_text().splitlines()
    assert rows[1:] == ["SC1,,MX1,3300,1,22.5,", "HS1,,HA1,66,0.02,0.5,"]


def test_nothing_is_written_over(loaded: LoadedFolder, tmp_path: Path):
    """A folder with a file in it is refused and left as it is."""
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("mine")
    for write in (lambda out: write_folder(loaded, out), write_starter):
        with pytest.raises(Refused, match="not empty"):
            write(tmp_path / "out")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["letter.txt"]


def test_place_that_cannot_be_a_folder_is_refused(loaded: LoadedFolder, tmp_path: Path):
    """A path under a file is refused with a sentence."""
    (tmp_path / "file").write_text("")
    for out in (tmp_path / "file", tmp_path / "file" / "under"):
        with pytest.raises(BedstoneError):
            write_folder(loaded, out)


def test_starter_loads_without_a_fault(tmp_path: Path):
    """The starter folder is a mill that loads as it stands, orders and all."""
    write_starter(tmp_path / "new")
    loaded = read_folder(tmp_path / "new")
    assert [row.product for row in loaded.mill.products] == ["SHEEP-16"]
    assert loaded.orders
    assert loaded.mill.lines_of("SHEEP-16", 1)


def test_starter_explains_each_column():
    """Each column of each table has its comment above the header."""
    for name, text in starter_texts().items():
        if not name.endswith(".csv"):
            continue
        comments = [line for line in text.splitlines() if line.startswith("#")]
        header = next(line for line in text.splitlines() if not line.startswith("#"))
        for column in header.split(","):
            assert any(line.startswith(f"#   {column}: ") for line in comments), (name, column)


def test_starter_written_in_customary_units_is_a_good_folder(tmp_path: Path):
    """The starter, exported in pounds, loads again and is the same mill."""
    write_starter(tmp_path / "new")
    loaded = read_folder(tmp_path / "new")
    us = replace(
        loaded,
        mill=replace(loaded.mill, settings=replace(loaded.mill.settings, units="US")),
    )
    write_folder(us, tmp_path / "us")
    assert read_folder(tmp_path / "us") == us


@pytest.mark.parametrize(
    ("today", "due"),
    [
        (dt.date(2027, 3, 1), dt.date(2027, 3, 3)),  # a Monday
        (dt.date(2027, 3, 4), dt.date(2027, 3, 8)),  # a Thursday
        (dt.date(2027, 3, 5), dt.date(2027, 3, 9)),  # a Friday
        (dt.date(2027, 3, 6), dt.date(2027, 3, 9)),
        (dt.date(2027, 3, 7), dt.date(2027, 3, 9)),
    ],
)
def test_starter_order_is_due_on_the_second_working_day(
    tmp_path: Path, today: dt.date, due: dt.date
):
    """Begun on any day and at any hour, a whole shift lies before the order is due."""
    write_starter(tmp_path / "new", today=today)
    order = read_folder(tmp_path / "new").orders[0]
    zone = ZoneInfo("America/Chicago")
    assert order.due_at.astimezone(zone).date() == due
    assert order.entered_at.astimezone(zone).date() == today - dt.timedelta(days=1)
