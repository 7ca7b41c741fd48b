"""Cells of tables as people type them."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedstone.demo.quillback import quillback_folder
from bedstone.mill.columns import Column, columns_of
from bedstone.mill.equipment import Bin, Machine, Settings
from bedstone.web.typed_cell import cell_exact, cell_glance, cell_shown, cell_typed

SETTINGS = quillback_folder(dt.date(2026, 11, 26)).mill.settings


def column(field: str, row_type: type = Machine) -> Column:
    """A column by its field."""
    return next(one for one in columns_of(row_type) if one.field == field)


@pytest.mark.parametrize(
    ("field", "typed", "kept"),
    [
        ("mass_max_kg", "4,100", "4100"),
        ("mass_max_kg", "4100 lb", "4100"),
        ("mass_max_kg", "2 tons", "4000"),
        ("mass_max_kg", "1 short ton", "2000"),
        ("rate_kg_s", "7", "7"),
        ("rate_kg_s", "14000 lb/h", "7"),
        ("fill_s", "3 min", "180"),
        ("loss_frac", "0.4 %", "0.4"),
        ("mass_max_kg", "1,6", "1,6"),
        ("mass_max_kg", "12 apples", "12 apples"),
        ("mass_max_kg", "1e3", "1e3"),
        ("mass_max_kg", "", ""),
        ("name", " 4,100 ", "4,100"),
    ],
)
def test_numbers_are_kept_in_the_columns_own_unit(field: str, typed: str, kept: str):
    """Marks between thousands go, other units of the kind are converted exactly, doubt is kept as
    it was typed so that its fault is said.
    """
    assert cell_typed(typed, column(field), SETTINGS).text == kept


def test_numbers_are_read_as_the_mills_locale_writes_them():
    """Where people write a comma for decimals, 1,6 is one and six tenths and 1.600 is refused only
    if it is no way to write a number there.
    """
    german: Settings = replace(SETTINGS, locale="de_DE", units="SI")
    capacity = column("capacity_kg", Bin)
    assert cell_typed("1,6", capacity, german).text == "1.6"
    assert cell_typed("1.600", capacity, german).text == "1600"
    assert cell_shown("1600.5", capacity, german) == "1.600,5"


@pytest.mark.parametrize(
    ("kept", "shown"),
    [("44.948132", "44.948"), ("2673.611111", "2,673.6"), ("553.02", "553.02"), ("24000000", "24,000,000"), ("0.656168", "0.65617"), ("0", "0")],
)  # fmt: skip
def test_a_list_shows_five_figures_and_whole_numbers_whole(kept: str, shown: str):
    """Figures that came from turning units say nothing in a list."""
    assert cell_glance(kept, column("capacity_kg", Bin), SETTINGS) == shown


@given(st.decimals(min_value=0, max_value=10**9, places=7).map(Decimal))
def test_what_a_form_shows_is_typed_back_as_the_same_cell(number: Decimal):
    """A form that is sent as it was shown changes nothing."""
    text = format(number.normalize(), "f")
    one = column("mass_max_kg")
    assert cell_typed(cell_exact(text, one, SETTINGS), one, SETTINGS).text == text
