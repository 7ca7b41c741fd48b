"""The page of the mill folder against the attribute dictionary."""

from pathlib import Path

from bedstone.mill.attribute_docs import mill_folder_page
from bedstone.mill.columns import columns_of
from bedstone.mill.model import TABLES

PAGE = Path(__file__).parents[3] / "docs" / "mill-folder.md"


def test_page_is_what_the_dictionary_says():
    """docs/mill-folder.md is what the attribute dictionary says; tools/write_docs.py writes it."""
    assert PAGE.read_text(encoding="utf-8") == mill_folder_page()


def test_page_names_every_column():
    """Each column of each table stands on the page under its table."""
    page = mill_folder_page()
    for name, row_type in TABLES.items():
        part = page.split(f"\n## {name}.csv\n")[1].split("\n## ")[0]
        for column in columns_of(row_type):
            assert f"| `{next(iter(column.headers))}` |" in part


def test_limits_are_in_the_unit_of_the_column():
    """A column in per cent has its limits in per cent, as the file's checks have them."""
    page = mill_folder_page()
    for name, words in (
        ("parts_pct", "above 0 % and at most 100 %"),
        ("humidity_pct", "at least 0 % and at most 100 %"),
        ("moisture_pct_wb", "at most 100 %"),
    ):
        (line,) = {row for row in page.splitlines() if row.startswith(f"| `{name}` |")}
        assert words in line
