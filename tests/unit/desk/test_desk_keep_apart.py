"""Lots of unlike quality are kept in different bins."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.desk.keep_apart import apart_from
from bedstone.ledger.layers import Layer
from bedstone.mill.model import Assay, Mill
from bedstone.mill.storage_tables import KeepApart

AT = dt.datetime(2026, 11, 2, tzinfo=dt.UTC)
LYING = (Layer("L1", 5_000_000, certain=True, happened_at=AT),)


@pytest.fixture(scope="module")
def mill() -> Mill:
    """The demo's tables with one row of what is kept apart."""
    rule = KeepApart(
        ingredient="CORN", nutrient="moisture", boundary=15.5, unit="%", rule="never", why="damp"
    )
    return replace(packaged_mill(), keep_apart=(rule,))


def assayed(value: float, unit: str = "%") -> dict[str, list[Assay]]:
    """The lot that lies in the bin, assayed once."""
    row = Assay(
        assay="R1", of="CORN", nutrient="moisture", value=value, unit=unit, lot="L1", sampled_at=AT
    )
    return {"L1": [row]}


def test_a_damp_load_does_not_go_to_dry_corn(mill: Mill):
    """Across the boundary the bin is barred, with both figures and the reason."""
    found = apart_from(
        mill, "CORN", load={"moisture": (16.2, "%")}, layers=LYING, assays_by_lot=assayed(13.0)
    )
    assert "16.2" in found.against[0]
    assert "13" in found.against[0]
    assert "damp" in found.against[0]


def test_dry_goes_to_dry_and_to_an_empty_bin(mill: Mill):
    """On the same side nothing is said; nor where nothing lies."""
    for layers in (LYING, ()):
        found = apart_from(
            mill, "CORN", load={"moisture": (14.0, "%")}, layers=layers, assays_by_lot=assayed(13.0)
        )
        assert not found.against
        assert not found.cautions


def test_what_is_not_known_is_said_never_taken_as_alike(mill: Mill):
    """No result of the load, none of the lot, or one in another unit: a caution, not silence."""
    load = {"moisture": (14.0, "%")}
    for given, there in (({}, assayed(13.0)), (load, {}), (load, assayed(0.13, "frac"))):
        found = apart_from(mill, "CORN", load=given, layers=LYING, assays_by_lot=there)
        assert not found.against
        assert "not known" in found.cautions[0]


def test_a_rule_to_mind_bars_nothing(mill: Mill):
    """With "mind" the same sentence is a caution."""
    soft = replace(mill, keep_apart=(replace(mill.keep_apart[0], rule="mind"),))
    found = apart_from(
        soft, "CORN", load={"moisture": (16.2, "%")}, layers=LYING, assays_by_lot=assayed(13.0)
    )
    assert not found.against
    assert "kept apart" in found.cautions[0]
