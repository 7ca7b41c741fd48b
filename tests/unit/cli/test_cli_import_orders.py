"""A customer's list of orders from the command line: CSV and workbook, shown, kept, faults."""

import csv
import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from bedstone.cli.main import run
from bedstone.cli.parts import Parts
from bedstone.desk.import_orders import read_orders
from bedstone.errors import BadInput
from bedstone.start import parts

NOW = dt.datetime(2026, 1, 20, 12, 0, tzinfo=dt.UTC)
HEADER = ("Ref", "Item", "Qty", "Needed by")
MAPPING = """\
[brook]
order = "BR-{Ref}"
customer = "CUSTOMER"
product = "{Item}"
mass = "{Qty}"
unit = "lb"
pack = "bulk"
due = "{Needed by}"
dates = "MM/DD/YYYY"
due_time = "12:00"

[brook.words.product]
"House feed" = "PRODUCT"

[old]
order = "{Auftrag}"
customer = "CUSTOMER"
product = "PRODUCT"
mass = "{Menge}"
unit = "t"
pack = "bulk"
due = "{Termin}"
dates = "DD.MM.YYYY"
due_time = "12:00"
decimal = "comma"
separator = "semicolon"
encoding = "windows-1252"
header_row = 3
"""


@pytest.fixture
def joined() -> Parts:
    """The real parts, with a clock that stands still."""
    return parts(lambda: NOW)


@pytest.fixture
def mill(tmp_path: Path, joined: Parts, capsys: pytest.CaptureFixture[str]) -> Path:
    """A starter mill that has been loaded and has mappings."""
    folder = tmp_path / "mill"
    assert run(["new", str(folder)], joined) == 0
    assert run(["load", str(folder), "--by", "ana"], joined) == 0
    loaded = joined.read_folder(folder)
    customer = next(row.firm for row in loaded.mill.firms if row.role == "customer")
    text = MAPPING.replace("CUSTOMER", customer)
    product = loaded.mill.products[0].product
    (folder / "order_mappings.toml").write_text(text.replace("PRODUCT", product))
    capsys.readouterr()
    return folder


def a_csv(path: Path, *rows: tuple[object, ...]) -> Path:
    with path.open("w", newline="") as out:
        csv.writer(out).writerows([HEADER, *rows])
    return path


def a_workbook(path: Path, *rows: tuple[object, ...]) -> Path:
    book = openpyxl.Workbook()
    for row in (HEADER, *rows):
        book.worksheets[0].append(row)
    book.save(path)
    return path


def orders(joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]) -> set[str]:
    capsys.readouterr()
    assert run(["orders", str(mill), "--json"], joined) == 0
    return {row["order"]["order"] for row in json.loads(capsys.readouterr().out)}


def test_a_list_is_shown_then_kept_and_the_same_again_changes_nothing(
    joined: Parts, mill: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """A dry run shows what was understood and records nothing; the second import finds all there."""
    file = a_csv(tmp_path / "list.csv", (7, "house feed", "2,000", "1/22/2026"))
    words = ["import-orders", str(mill), str(file), "--mapping", "brook"]
    assert run([*words, "--dry-run"], joined) == 0
    said = capsys.readouterr().out
    assert "BR-7" in said
    assert "nothing was" in said
    assert "BR-7" not in orders(joined, mill, capsys)
    assert run([*words, "--by", "ana"], joined) == 0
    assert "1 order recorded, signed by ana" in capsys.readouterr().out
    assert "BR-7" in orders(joined, mill, capsys)
    assert run([*words, "--by", "ana", "--json"], joined) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["recorded"] == 0
    assert [row["standing"] for row in answer["read"]["rows"]] == ["as it is"]


def test_a_workbook_says_the_same_as_a_csv(
    joined: Parts, mill: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """Numbers and days that a spreadsheet keeps as such are the orders that the CSV gives."""
    text = a_csv(tmp_path / "list.csv", (7, "House feed", 2000.5, "1/22/2026"))
    day = dt.datetime(2026, 1, 22)  # noqa: DTZ001 - spreadsheets know no zones
    cells = a_workbook(tmp_path / "list.xlsx", (7, "House feed", 2000.5, day), (None, None))
    answers = []
    for file in (text, cells):
        words = ["import-orders", str(mill), str(file), "--mapping", "brook", "--dry-run", "--json"]
        assert run(words, joined) == 0
        answers.append(
            [row["order"] for row in json.loads(capsys.readouterr().out)["read"]["rows"]]
        )
    assert answers[0] == answers[1]


def test_other_ways_of_writing_are_settings_of_the_mapping(
    joined: Parts, mill: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """Semicolons, decimal commas, old encodings and lines above the names are read."""
    file = tmp_path / "liste.csv"
    file.write_bytes("Müller\n\nAuftrag;Menge;Termin\n12;1,5;22.01.2026\n".encode("cp1252"))
    words = ["import-orders", str(mill), str(file), "--mapping", "old", "--dry-run", "--json"]
    assert run(words, joined) == 0
    (row,) = json.loads(capsys.readouterr().out)["read"]["rows"]
    assert (row["row"], row["order"]["order"], row["order"]["mass_kg"]) == (4, "12", 1500)


def test_a_decimal_comma_does_not_change_numbers_of_a_workbook(
    joined: Parts, mill: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """A number cell of 1.125 is one and an eighth, not a thousand, whatever people write by hand."""
    book = openpyxl.Workbook()
    rows = [
        (),
        (),
        ("Auftrag", "Menge", "Termin"),
        (12, 1.125, "22.01.2026"),
        (13, "1,125", "22.01.2026"),
    ]
    for line, row in enumerate(rows, start=1):
        for column, value in enumerate(row, start=1):
            book.worksheets[0].cell(row=line, column=column, value=value)
    book.save(tmp_path / "liste.xlsx")
    words = ["import-orders", str(mill), str(tmp_path / "liste.xlsx"), "--mapping", "old"]
    assert run([*words, "--dry-run", "--json"], joined) == 0
    read = json.loads(capsys.readouterr().out)["read"]["rows"]
    assert [row["order"]["mass_kg"] for row in read] == [1125, 1125]


def test_a_fault_names_the_row_and_nothing_is_kept(
    joined: Parts, mill: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """One wrong row, and no order of the list is recorded."""
    file = a_csv(
        tmp_path / "list.csv",
        (7, "House feed", 2000, "1/22/2026"),
        (8, "Horse feed", 2000, "1/22/2026"),
    )
    words = ["import-orders", str(mill), str(file), "--mapping", "brook", "--by", "ana", "--json"]
    assert run(words, joined) == 2
    (fault,) = json.loads(capsys.readouterr().out)["faults"]
    assert (fault["file"], fault["row"], fault["column"]) == ("list.csv", 3, "Item")
    assert "words.product" in fault["do"]
    assert orders(joined, mill, capsys).isdisjoint({"BR-7", "BR-8"})


@pytest.mark.parametrize(
    ("mapping", "code", "words"),
    [
        (None, 4, "order_mappings.toml"),
        ('[broook]\norder = "x"\n', 4, "did you mean broook"),
        ("[brook\n", 2, "not TOML"),
        ('[brook]\norder = "{Ref}"\nordr = "x"\n', 2, "brook.ordr"),
        (f"{MAPPING}\n[brook.words.colour]\na = 'b'\n", 2, "brook.words.colour"),
        (MAPPING.replace("{Ref}", "{Reff}"), 2, "did you mean Ref"),
    ],
)
def test_a_mapping_that_cannot_be_used_is_said(
    joined: Parts,
    mill: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    mapping: str | None,
    code: int,
    words: str,
):
    """A missing, misspelt or wrong mapping ends with words that name it."""
    if mapping is None:
        (mill / "order_mappings.toml").unlink()
    else:
        (mill / "order_mappings.toml").write_text(mapping)
    file = a_csv(tmp_path / "list.csv", (7, "House feed", 2000, "1/22/2026"))
    asked = ["import-orders", str(mill), str(file), "--mapping", "brook", "--dry-run"]
    assert run(asked, joined) == code
    assert words in capsys.readouterr().err


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no rows"),
        (b"Ref,Ref,Item,Qty,Needed by\n", "twice"),
        (b"Ref,Item,Qty,Needed by\n7,\xff,1,2\n", "not utf-8"),
        (b'Ref,Item,Qty,Needed by\n7,"x,1,2\n', "cannot be read"),
        (b"Ref,Item,Qty,Needed by\n7,House feed,1,1/22/2026,more\n", "5 cells"),
        (b"Ref,Item,Qty,Needed by\n7,House feed,#N/A,1/22/2026\n", "#N/A"),
    ],
)
def test_a_list_that_cannot_be_read_is_said(
    joined: Parts,
    mill: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    data: bytes,
    words: str,
):
    """Files that are broken, empty or of another form are named, never half read."""
    (tmp_path / "list.csv").write_bytes(data)
    asked = ["import-orders", str(mill), str(tmp_path / "list.csv"), "--mapping", "brook"]
    assert run([*asked, "--dry-run"], joined) == 2
    assert words in capsys.readouterr().err


def test_a_workbook_that_is_none_is_said(
    joined: Parts, mill: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """Something else under the name of a workbook, or a file that is not there, ends in words."""
    (tmp_path / "list.xlsx").write_bytes(b"no workbook")
    for name, words in (("list.xlsx", "no workbook"), ("none.csv", "cannot be read")):
        asked = ["import-orders", str(mill), str(tmp_path / name), "--mapping", "brook"]
        assert run([*asked, "--dry-run"], joined) == 2
        assert words in capsys.readouterr().err


@pytest.mark.parametrize("write", [a_csv, a_workbook], ids=["list.csv", "list.xlsx"])
@pytest.mark.parametrize(
    ("theirs", "named"),
    [
        ("{Item}", [(2, "Qty"), (3, "Needed by"), (4, "Item"), (5, "Ref")]),
        ("{Article}", [(None, "brook.product"), (3, "Needed by"), (5, "Ref")]),
    ],
    ids=["rows", "mapping and rows"],
)
def test_the_same_faults_are_named_at_once_in_either_kind_of_file(
    write: Callable[..., Path],
    theirs: str,
    named: list[tuple[int | None, str]],
    joined: Parts,
    mill: Path,
    tmp_path: Path,
):
    """What the mapping asks in vain is named with the rows' other faults; nothing follows from it."""
    mappings = mill / "order_mappings.toml"
    mappings.write_text(mappings.read_text().replace("{Item}", theirs, 1))
    day = "1/22/2026"
    rows = [
        ("7", "House feed", "many", day),
        ("8", "House feed", "2,000", "soon"),
        ("9", "Moon feed", "2,000", day),
        ("", "House feed", "2,000", day),
        ("10", "House feed", "2,000", day),
    ]
    file = write(tmp_path / "list.xlsx" if write is a_workbook else tmp_path / "list.csv", *rows)
    record = joined.open_record(mill)
    with pytest.raises(BadInput) as told:
        read_orders(record, *joined.read_orders(mill, file, "brook"), at=NOW)
    assert [(fault.row, fault.column) for fault in told.value.faults] == named
