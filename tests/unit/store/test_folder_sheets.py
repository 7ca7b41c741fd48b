"""A mill folder whose tables are sheets of a workbook, as spreadsheet programs and people leave it."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from openpyxl.workbook import Workbook

from bedstone.errors import BadInput, Fault
from bedstone.mill.folder import LoadedFolder
from bedstone.store.folder import read_folder, write_folder
from bedstone.store.folder_sheets import WORKBOOK
from fakes.folders import good_files, put

Change = Callable[[Workbook], None]


@pytest.fixture
def good(tmp_path: Path) -> LoadedFolder:
    """A good folder, as read from CSV files."""
    return read_folder(put(good_files(), tmp_path / "csv"))


@pytest.fixture
def folder(good: LoadedFolder, tmp_path: Path) -> Path:
    """The same as a workbook."""
    write_folder(good, tmp_path / "xlsx", workbook=True)
    return tmp_path / "xlsx"


def changed(folder: Path, *changes: Change) -> Path:
    book = openpyxl.load_workbook(folder / WORKBOOK)
    for change in changes:
        change(book)
    book.save(folder / WORKBOOK)
    return folder


def cell(sheet: str, at: str, value: object, number_format: str = "General") -> Change:
    def change(book: Workbook) -> None:
        book[sheet][at].value = value
        book[sheet][at].number_format = number_format

    return change


def faults_of(folder: Path, *changes: Change) -> tuple[Fault, ...]:
    with pytest.raises(BadInput) as caught:
        read_folder(changed(folder, *changes))
    return caught.value.faults


def test_a_workbook_holds_the_same_mill(folder: Path, good: LoadedFolder):
    """Sheets of the tables' names are read as the CSV files are; only mill.toml lies beside them."""
    assert sorted(path.name for path in folder.iterdir()) == ["mill.toml", WORKBOOK]
    assert read_folder(folder) == good


def test_headings_can_be_read_and_stay_in_sight(folder: Path):
    """The first row is bold and stays, columns have their unit in the name and their meaning beside."""
    book = openpyxl.load_workbook(folder / WORKBOOK)
    sheet = book["bins"]
    headings = [cell.value for cell in sheet[1]]
    assert sheet.freeze_panes == "A2"
    assert "capacity_kg" in headings
    assert all(cell.font.bold and cell.comment.text for cell in sheet[1])
    assert all(book[name].column_dimensions["A"].width >= 9 for name in book.sheetnames)


def test_days_and_moments_are_those_of_the_spreadsheet(folder: Path, good: LoadedFolder):
    """Days, moments and numbers are cells that a spreadsheet can sort and reckon with."""
    book = openpyxl.load_workbook(folder / WORKBOOK)
    orders = book["orders"]
    at = {cell.value: cell.column - 1 for cell in orders[1]}
    first = orders[2]
    assert isinstance(first[at["due_at"]].value, dt.datetime)
    assert first[at["mass_kg"]].value == good.orders[0].mass_kg


def test_a_table_may_stand_in_a_file_and_the_others_in_sheets(folder: Path, good: LoadedFolder):
    """Tables may be mixed, as long as none stands twice."""

    def take_orders_out(book: Workbook) -> None:
        del book["orders"]
        book.create_sheet("# what Olga still has to ask")["A1"] = "anything"

    (folder / "orders.csv").write_bytes(good_files()["orders.csv"])
    assert read_folder(changed(folder, take_orders_out)) == good


def test_a_table_in_a_file_and_a_sheet_is_refused(folder: Path):
    """Which of the two holds cannot be known: nothing is loaded."""
    (folder / "orders.csv").write_bytes(good_files()["orders.csv"])
    (fault,) = faults_of(folder)
    assert (fault.file, fault.found) == (WORKBOOK, "a sheet orders beside the file orders.csv")


@pytest.mark.parametrize(
    ("change", "place", "found"),
    [
        (cell("bins", "D2", "=6*7"), ("bins", 2, "D (capacity_kg)"), "result was never saved"),
        (cell("bins", "E3", "#N/A"), ("bins", 3, "E (volume_m3)"), "spreadsheet error #N/A"),
        (
            cell("bins", "D2", 0.05, "0.0%"),
            ("bins", 2, "D (capacity_kg)"),
            "5 %, a cell shown as per cent, which holds 0.05",
        ),
        (cell("bins", "D2", "40,000"), ("bins", 2, "D (capacity_kg)"), '"40,000"'),
        (cell("bins", "D2", value=True), ("bins", 2, "D (capacity_kg)"), '"TRUE"'),
        (cell("bins", "D2", None), ("bins", 2, "D (capacity_kg)"), "an empty cell"),
        (cell("bins", "D1", "capacity_stone"), ("bins", 1, "D (capacity_stone)"), "the unit"),
        (cell("orders", "G2", 46351), ("orders", 2, "G (due_at)"), '"46351"'),
        (lambda book: book["scales"].merge_cells("A2:B2"), ("scales", 2, ""), "cells A2:B2"),
    ],
)
def test_a_wrong_cell_is_named_with_sheet_row_and_letter(
    folder: Path, change: Change, place: tuple[str, int, str], found: str
):
    """Each way in which a spreadsheet goes wrong is said where it is, as people find it there."""
    sheet, row, column = place
    faults = faults_of(folder, change)
    fitting = [fault for fault in faults if found in fault.found]
    assert [(fault.file, fault.row, fault.column) for fault in fitting] == [
        (f"{WORKBOOK}, sheet {sheet}", row, column)
    ]
    assert fitting[0].allowed


def test_a_fault_across_sheets_speaks_of_sheets(folder: Path):
    """A rule between tables names the sheet, not a file that is not there."""
    (fault,) = faults_of(folder, cell("formula_lines", "C3", "NOPE"))
    assert (fault.file, fault.column) == (f"{WORKBOOK}, sheet formula_lines", "C (ingredient)")
    assert ".csv" not in str(fault)


def test_all_faults_of_workbook_and_files_are_said_at_once(folder: Path):
    """Sheets of unknown names, hidden sheets and cells are one answer."""

    def hide(book: Workbook) -> None:
        book["rates"].sheet_state = "hidden"
        book.create_sheet("binz")

    faults = faults_of(folder, hide, cell("bins", "D2", "many"), cell("scales", "D2", "much"))
    assert [fault.file.removeprefix(f"{WORKBOOK}, sheet ") for fault in faults] == [
        "rates",
        "binz",
        "bins",
        "scales",
    ]
    assert "bins" in faults[1].do


@pytest.mark.parametrize(
    "data", [b"", b"no workbook at all", b"PK\x03\x04 cut off", b"\xd0\xcf\x11\xe0 an old one" * 99]
)
def test_a_file_that_is_no_workbook_is_one_fault(folder: Path, data: bytes):
    """A broken or foreign file is named once, not once for each table that would stand in it."""
    (folder / WORKBOOK).write_bytes(data)
    with pytest.raises(BadInput) as caught:
        read_folder(folder)
    (fault,) = caught.value.faults
    assert fault.file == WORKBOOK
    assert "workbook" in fault.found


@pytest.mark.parametrize("name", ["mill.xls", "mill.ods", "Mill.xlsx", "bins.xlsx"])
def test_another_kind_of_workbook_is_not_overlooked(folder: Path, name: str):
    """A spreadsheet that would not be read is said, rather than left out in silence."""
    (folder / name).write_bytes(b"whatever")
    with pytest.raises(BadInput) as caught:
        read_folder(folder)
    assert [fault.file for fault in caught.value.faults] == [name]


def test_formulas_that_a_spreadsheet_has_worked_out_are_their_values(
    folder: Path, good: LoadedFolder
):
    """What a spreadsheet program last showed is what counts."""
    from zipfile import ZipFile

    changed(folder, cell("bins", "D2", "=8*5000"))
    path = folder / WORKBOOK
    with ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    name = next(name for name, part in parts.items() if b"<f>8*5000</f>" in part)
    before = parts[name]
    parts[name] = before.replace(b"<f>8*5000</f><v></v>", b"<f>8*5000</f><v>40000</v>").replace(
        b"<f>8*5000</f><v />", b"<f>8*5000</f><v>40000</v>"
    )
    assert parts[name] != before
    with ZipFile(path, "w") as packed:
        for inner, part in parts.items():
            packed.writestr(inner, part)
    assert read_folder(folder) == good


def test_texts_that_look_like_something_else_stay_texts(good: LoadedFolder, tmp_path: Path):
    """A name that begins with "=", looks like a number, a day or a coded sign is kept as it is."""
    from dataclasses import replace

    names = ("=SUM(A1:A9)", "0012", "2026-11-25", "_x0041_ bin", "TRUE", "'quoted")
    bins = (
        tuple(replace(row, name=name) for row, name in zip(good.mill.bins, names, strict=False))
        + good.mill.bins[len(names) :]
    )
    folder = replace(good, mill=replace(good.mill, bins=bins))
    write_folder(folder, tmp_path / "odd", workbook=True)
    assert read_folder(tmp_path / "odd") == folder


def test_a_format_to_the_end_of_the_sheet_is_said(folder: Path):
    """A sheet with a cell at its very end would take minutes: it is refused in words."""
    faults = faults_of(folder, cell("bins", "XFD1048576", 1))
    assert any("mostly empty" in fault.found for fault in faults)
