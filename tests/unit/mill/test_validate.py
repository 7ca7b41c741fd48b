"""Rules across tables, on values alone: no files are needed."""

import itertools
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedstone.mill.damage import DAMAGED, TouchesDamage
from bedstone.mill.equipment import Settings
from bedstone.mill.model import TABLES
from bedstone.mill.validate import Places, check_folder
from bedstone.mill.validate_ways import closing_edges
from bedstone.store.folder import read_folder, rows_of
from fakes.folders import good_files, put

Good = tuple[dict[str, tuple[Any, ...]], Settings]


@pytest.fixture
def good(tmp_path: Path) -> Good:
    loaded = read_folder(put(good_files(), tmp_path))
    return {name: tuple(rows_of(loaded, name)) for name in TABLES}, loaded.mill.settings


def test_good_tables_have_no_fault(good: Good):
    """Tables that agree have no fault, with or without files behind them."""
    rows, settings = good
    assert check_folder(rows, settings, places=Places()) == ()


def test_faults_without_files_name_table_and_column(good: Good):
    """Without files a fault names the table, the column an export has, and no row."""
    rows, settings = good
    limits = (*rows["limits"], replace(rows["limits"][0], product="CORE"))
    faults = check_folder({**rows, "limits": limits}, settings, places=Places())
    assert [(fault.file, fault.row, fault.column) for fault in faults] == [
        ("limits.csv", None, "product")
    ]


def test_rules_without_settings(good: Good):
    """Where mill.toml could not be read the tables are still held against each other."""
    rows, _ = good
    bins = (*rows["bins"], rows["bins"][0])
    faults = check_folder({**rows, "bins": bins}, None, places=Places())
    assert [fault.column for fault in faults] == ["bin"]


def test_fault_is_said_in_the_unit_of_the_file(good: Good):
    """Where a column stands in pounds, the fault says pounds."""
    rows, settings = good
    bins = tuple(
        replace(row, capacity_kg=45.359237, hold_up_kg=90.718474) if row.bin == "SB1" else row
        for row in rows["bins"]
    )
    headers = {"bins": {"capacity_kg": "capacity_lb", "hold_up_kg": "hold_up_lb"}}
    faults = check_folder({**rows, "bins": bins}, settings, places=Places(headers=headers))
    assert faults[0].column == "hold_up_lb"
    assert faults[0].found == "200 lb, more than the bin holds (100 lb)"


def test_damaged_cell_stops_the_rule_of_its_row_alone(good: Good):
    """A rule that meets a damaged cell is left off for that row and kept for the others."""
    rows, settings = good
    bad = replace(rows["limits"][0], product="CORE")
    limits = (replace(bad, species=DAMAGED, substance="drugx"), bad)
    faults = check_folder({**rows, "limits": limits}, settings, places=Places())
    assert [fault.found for fault in faults] == ["both a product and a species"]


@pytest.mark.parametrize(
    "touch",
    [bool, float, int, str, hash, len, iter, abs, lambda x: x == 1, lambda x: x < 1, lambda x: 1 - x,
     lambda x: f"{x:g}", lambda x: x.strip, lambda x: 1 in x, lambda x: x * 2, lambda x: x in ("a", "b"), round, lambda x: x[0]],
)  # fmt: skip
def test_damage_cannot_be_read(touch: Callable[[object], object]):
    """The mark for a damaged cell cannot be read, compared or shown by mistake."""
    with pytest.raises(TouchesDamage):
        touch(DAMAGED)


NODES = "ABCDE"
EDGES = st.lists(st.tuples(st.sampled_from(NODES), st.sampled_from(NODES)), max_size=9)


@given(EDGES)
def test_cycles_are_found_when_there_are_any(edges: list[tuple[str, str]]):
    """An edge that closes a cycle is named exactly when some walk leads back to where it began."""
    ahead: dict[str, list[tuple[str, int]]] = {}
    for number, (start, end) in enumerate(edges):
        ahead.setdefault(start, []).append((end, number))
    reach = set(edges)
    for middle, start, end in itertools.product(NODES, repeat=3):  # Warshall's closure
        if (start, middle) in reach and (middle, end) in reach:
            reach.add((start, end))
    found = list(closing_edges(ahead))
    assert bool(found) == any((node, node) in reach for node in NODES)
    for number, cycle in found:
        assert cycle[0] == cycle[-1]
        assert all(step in edges for step in itertools.pairwise(cycle))
        assert edges[number] == (cycle[-2], cycle[-1])


def test_without_the_closing_edges_nothing_leads_back():
    """Taking the named edges away leaves no cycle."""
    edges = [("A", "B"), ("B", "C"), ("C", "A"), ("C", "D"), ("D", "B")]
    ahead: dict[str, list[tuple[str, int]]] = {}
    for number, (start, end) in enumerate(edges):
        ahead.setdefault(start, []).append((end, number))
    closing = {number for number, _ in closing_edges(ahead)}
    left: dict[str, list[tuple[str, int]]] = {}
    for number, (start, end) in enumerate(edges):
        if number not in closing:
            left.setdefault(start, []).append((end, number))
    assert closing
    assert list(closing_edges(left)) == []
