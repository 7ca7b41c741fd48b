"""A draft of the tables: read as a folder is, every fault at its cell, carried over to newer ones."""

import datetime as dt
from dataclasses import replace
from functools import cache

import pytest

from bedstone.demo.quillback import quillback_folder
from bedstone.errors import Refused
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Mill
from bedstone.mill.table_carry import carried_over
from bedstone.mill.table_differences import SETTINGS, WHOLE, differences
from bedstone.mill.table_draft import TableDraft, begun, read_draft


@cache
def folder() -> LoadedFolder:
    """The demo's folder."""
    return quillback_folder(dt.date(2026, 11, 26))


def mill() -> Mill:
    """The demo's mill, US units."""
    return folder().mill


def number_of(draft: TableDraft, table: str, key: str) -> int:
    """The number of the row whose first cell is a code."""
    return next(row.number for row in draft.rows(table) if key in row.cells.values())


def changed(draft: TableDraft, table: str, key: str, **cells: str) -> TableDraft:
    """The draft with cells of a row set."""
    number = number_of(draft, table, key)
    row = draft.row(table, number)
    assert row is not None
    return draft.with_row(table, {**row.cells, **cells}, number)[0]


def test_every_cell_of_a_real_mill_reads_back_as_it_was():
    """A draft that touches every table, but changes nothing, says exactly the same mill."""
    draft = TableDraft(
        base=mill(), tables={name: begun(mill()).rows(name) for name in (*WHOLE, SETTINGS)}
    )
    assert read_draft(draft, orders=folder().orders).mill == mill()


def test_a_cell_set_back_leaves_the_table_untouched():
    """What is changed and changed back is no change."""
    draft = changed(begun(mill()), "bins", "B01", capacity_kg="1")
    assert "bins" in draft.tables
    old = begun(mill()).row("bins", number_of(draft, "bins", "B01"))
    assert old is not None
    assert changed(draft, "bins", "B01", capacity_kg=old.cells["capacity_kg"]).tables == {}


def test_a_changed_cell_is_read_in_the_mills_own_unit():
    """2,000 typed for a mill in pounds is 907.18474 kg inside."""
    read = read_draft(changed(begun(mill()), "machines", "MX1", mass_max_kg="2000"))
    assert read.mill is not None
    assert read.mill.machine_by_code["MX1"].mass_max_kg == pytest.approx(907.18474)


def test_all_faults_are_said_at_once_each_at_its_cell():
    """A number that is none, a word that is not allowed and a code that names nothing."""
    draft = changed(begun(mill()), "bins", "B01", capacity_kg="much", flow="sideways")
    draft = changed(draft, "limits", "sheep", substance="kopper")
    faults = read_draft(draft).faults
    assert {(one.table, one.field) for one in faults} >= {
        ("bins", "capacity_kg"),
        ("bins", "flow"),
        ("limits", "substance"),
    }
    number = number_of(draft, "bins", "B01")
    assert {one.row for one in faults if one.table == "bins"} == {number}
    assert read_draft(draft).mill is None


def test_a_rule_across_tables_is_said_at_the_row_it_is_about():
    """Parts of a formula that no longer add up are a fault of that formula, in its own row."""
    line = begun(mill()).rows("formula_lines")[0]
    draft = begun(mill()).without_row("formula_lines", line.number)
    faults = read_draft(draft).faults
    assert any("add up" in f"{one.fault.found} {one.fault.allowed}" for one in faults)


def test_an_open_order_that_could_not_be_made_is_a_fault_of_the_draft():
    """A product cannot be taken out while an order for it is open."""
    code = folder().orders[0].product
    draft = begun(mill())
    draft = draft.without_row("products", number_of(draft, "products", code))
    assert any(one.table == "orders" for one in read_draft(draft, orders=folder().orders).faults)


def test_a_row_without_a_code_is_a_fault_and_no_more_is_said_of_it():
    """A new row with nothing in it names its empty cells and stays in the draft."""
    draft, number = begun(mill()).with_row("scales", {}, None)
    faults = read_draft(draft).at("scales", number)
    assert ("scales", "scale") in {(one.table, one.field) for one in faults}
    assert draft.row("scales", number) is not None


def test_an_emptied_table_that_must_have_a_row_is_a_fault_of_the_table():
    """Without shifts nothing can be planned."""
    draft = begun(mill()).with_rows("shifts", ())
    assert any(one.table == "shifts" and one.row is None for one in read_draft(draft).faults)


def kept(draft: TableDraft, revision: int) -> Mill:
    """The mill that a draft without fault becomes."""
    read = read_draft(draft)
    assert read.mill is not None
    return replace(read.mill, revision=revision)


def test_changes_of_two_people_meet_without_loss():
    """What the other changed elsewhere stays, what I changed stays, and no clash is told."""
    mine = changed(begun(mill()), "machines", "MX1", mass_max_kg="4000")
    theirs = kept(changed(begun(mill()), "machines", "MX2", mass_max_kg="2000"), 2)
    carried, clashes = carried_over(mine, theirs)
    assert clashes == ()
    both = kept(carried, 3)
    assert both.machine_by_code["MX1"].mass_max_kg == pytest.approx(4000 * 0.45359237)
    assert both.machine_by_code["MX2"].mass_max_kg == pytest.approx(2000 * 0.45359237)
    assert {row.key for one in differences(theirs, both) for row in one.rows} == {("MX1",)}


def test_the_same_cell_changed_by_two_is_a_clash_that_names_both():
    """My number stays in the draft, the other's is told."""
    mine = changed(begun(mill()), "machines", "MX1", mass_max_kg="4000")
    theirs = kept(changed(begun(mill()), "machines", "MX1", mass_max_kg="3900"), 2)
    carried, (clash,) = carried_over(mine, theirs)
    assert (clash.key, clash.field) == (("MX1",), "mass_max_kg")
    assert (clash.was, clash.theirs, clash.mine) == ("4100", "3900", "4000")
    assert kept(carried, 3).machine_by_code["MX1"].mass_max_kg == pytest.approx(1814.36948)


def test_a_row_that_one_removed_and_the_other_changed_stays_and_is_told():
    """Either way round the row is still there and the clash says what both did."""
    firm = mill().firms[-1].firm
    number = number_of(begun(mill()), "firms", firm)
    removed = begun(mill()).without_row("firms", number)
    renamed = changed(begun(mill()), "firms", firm, name="Another Name")
    for mine, other in ((removed, renamed), (renamed, removed)):
        read = read_draft(other)
        onto = replace(read.mill or mill(), revision=2)
        if other is removed:
            rows = tuple(row for row in mill().firms if row.firm != firm)
            onto = replace(mill(), firms=rows, revision=2)
        carried, clashes = carried_over(mine, onto)
        assert [one.key for one in clashes] == [(firm,)]
        assert any(row.cells["firm"] == firm for row in carried.rows("firms"))


def test_a_new_row_is_carried_over_and_a_removed_one_stays_removed():
    """A row of mine comes behind theirs; one that nobody else touched is gone."""
    draft, _ = begun(mill()).with_row("substances", {"substance": "urea2", "name": "x"}, None)
    draft = draft.without_row("firms", draft.rows("firms")[-1].number)
    onto = kept(changed(begun(mill()), "machines", "MX2", mass_max_kg="2000"), 2)
    carried, clashes = carried_over(draft, onto)
    assert clashes == ()
    assert carried.rows("substances")[-1].cells["substance"] == "urea2"
    assert len(carried.rows("firms")) == len(mill().firms) - 1


def test_a_draft_is_not_carried_over_into_other_units():
    """Numbers typed in pounds must not be taken for kilograms."""
    onto = replace(mill(), settings=replace(mill().settings, units="SI"), revision=2)
    with pytest.raises(Refused, match="units"):
        carried_over(changed(begun(mill()), "bins", "B01", capacity_kg="1"), onto)


def test_differences_name_new_gone_and_changed_rows_and_their_fields():
    """One of each, and nothing else."""
    first, second, *rest = mill().firms
    other = replace(second, name="Another")
    fresh = replace(first, firm="fresh")
    after = replace(mill(), firms=(other, *rest, fresh))
    (change,) = differences(mill(), after)
    assert change.table == "firms"
    assert [
        (row.key, row.before is None, row.after is None, row.changed) for row in change.rows
    ] == [
        ((first.firm,), False, True, ()),
        (("fresh",), True, False, ()),
        ((second.firm,), False, False, ("name",)),
    ]
    assert differences(mill(), mill()) == ()
