"""The conditioner by a mill's own tables: what it is set to, what binds, what its mash is made of."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from bedstone.demo.quillback import quillback_folder
from bedstone.desk.line_mash import formula_share, liquid_made_of, mash_made_of
from bedstone.desk.line_model import (
    conditioned,
    mash_moisture_wb,
    product_at_conditioner,
    setting_c,
)
from bedstone.desk.line_settings import LineSettings, settings_for
from bedstone.desk.tables import load_tables
from bedstone.errors import BadInput, NoAnswer
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Mill, Weather
from bedstone.pelleting.conditioner import molasses, unsteamed_c
from bedstone.pelleting.specific_heat import TYPICAL_FEED
from fakes.memory import MemoryRecord

DAY = dt.date(2026, 7, 15)
NOON = dt.datetime(2026, 7, 15, 17, tzinfo=dt.UTC)
DAIRY, HORSE = "DAIRY-18", "HORSE-SUP"


@cache
def folder() -> LoadedFolder:
    """The demo mill with the air of one hour."""
    made = quillback_folder(DAY, past_days=1)
    air = Weather(hour_at=NOON, temperature_c=20.0, humidity_frac=0.5, pressure_pa=99_000.0)
    return replace(made, weather=(air,), assays=())


def mill_with(table: str, code: str, **change: Any) -> Mill:
    """The demo mill with a row changed."""
    mill = folder().mill
    key = "product" if table == "pellets" else "line"
    rows = tuple(
        replace(row, **change) if getattr(row, key) == code else row for row in getattr(mill, table)
    )
    return replace(mill, **{table: rows})


def settings(mill: Mill, product: str, **asked: Any) -> LineSettings:
    """Settings of a product in a mill of these tables."""
    record = MemoryRecord()
    load_tables(record, replace(folder(), mill=mill), by="dell", at=NOON)
    return settings_for(record, product, at=NOON, **asked)


def test_where_the_die_takes_less_the_setting_is_what_it_takes() -> None:
    """Asked for nearly boiling, it is set to the last whole degree F at which the mash is not too
    wet; a degree more is; the words name the die.
    """
    mill = mill_with("pellets", DAIRY, conditioning_c=97.0)
    found = settings(mill, DAIRY)
    assert found.setting.runs
    assert "the die binds" in found.setting.binds
    assert "°F" in found.setting.binds
    use_f = found.setting.use_c * 1.8 + 32
    assert use_f == pytest.approx(round(use_f), abs=1e-6)
    assert found.conditioned.moisture_wb <= found.die_moisture_max_wb + 1e-9
    hotter = settings(mill, DAIRY, given={"wanted_c": found.setting.use_c + 1 / 1.8})
    assert hotter.conditioned.moisture_wb > hotter.die_moisture_max_wb
    assert any("may choke" in words for words in hotter.cautions)


def test_the_air_is_asked_at_the_temperature_that_the_die_takes() -> None:
    """What goes into the cooler for the limits by the hour is no wetter than the die lets through."""
    mill = mill_with("pellets", DAIRY, conditioning_c=97.0)
    use_c = setting_c(mill, DAIRY, "PL1", mash_c=15.0)
    made = conditioned(mill, DAIRY, "PL1", rate_kg_s=2.0, mash_c=15.0, wanted_c=use_c)
    row = next(one for one in mill.pellets if one.product == DAIRY)
    assert made.moisture_wb == pytest.approx(row.die_moisture_max_wb)
    assert setting_c(folder().mill, DAIRY, "PL1", mash_c=15.0) == pytest.approx(
        next(one for one in folder().mill.pellets if one.product == DAIRY).conditioning_c
    )


def test_where_an_additive_takes_less_it_binds_and_is_kept() -> None:
    """A live culture in a conditioner far too hot for it: set to where it is surely kept."""
    found = settings(mill_with("pellets", HORSE, conditioning_c=80.0), HORSE)
    assert "live culture" in found.setting.binds
    assert found.setting.use_c < 80.0
    assert all(row.keeps for row in found.additives)


def test_what_the_tables_want_stands_where_nothing_binds() -> None:
    """Nothing is said to bind, and it is set as the tables want it."""
    found = settings(mill_with("pellets", DAIRY, conditioning_c=60.0), DAIRY)
    assert found.setting.binds == ""
    assert found.setting.use_c == pytest.approx(60.0)


def test_mash_too_wet_before_any_steam_does_not_run() -> None:
    """A formula with 18 % of water at a die that takes 16.5 %: do not run."""
    found = settings(folder().mill, DAIRY, given={"mash_moisture_wb": 0.18})
    assert not found.setting.runs
    assert found.most_c_for_die is None
    assert "too wet" in found.setting.binds


def test_a_product_that_is_no_pellet_is_refused_with_those_that_are() -> None:
    """Mash goes over no line; a line that is not the product's is refused with the one that is."""
    with pytest.raises(BadInput, match="no pellet line") as caught:
        settings(folder().mill, "SOW-14")
    assert DAIRY in caught.value.allowed
    with pytest.raises(BadInput, match="of that name") as caught:
        settings(folder().mill, DAIRY, line="PL2")
    assert caught.value.allowed == "PL1"


def test_above_boiling_is_set_below_it() -> None:
    """Tables that want 104 C at a mill where water boils at 99 are not followed."""
    dry = {"mash_moisture_wb": 0.05}
    found = settings(mill_with("pellets", DAIRY, conditioning_c=104.0), DAIRY, given=dry)
    assert found.setting.use_c <= found.steam.boils_c
    assert "boil" in found.setting.binds


def test_what_is_typed_is_held_to_and_what_was_read_is_not() -> None:
    """A wanted temperature colder than the mash is refused; a reading of it is taken as no steam, one
    above boiling as boiling; steam that would not condense is refused.
    """
    mill = folder().mill
    with pytest.raises(BadInput, match="does not cool"):
        settings(mill, DAIRY, given={"wanted_c": 5.0})
    with pytest.raises(NoAnswer, match="condense"):
        settings(mill, DAIRY, given={"steam_kg_s": 1.0})
    assert settings(mill, DAIRY, conditioning_c=5.0).conditioned.steam_kg_s == 0
    hot = settings(mill, DAIRY, conditioning_c=104.0)
    assert hot.conditioned.temperature_c == pytest.approx(hot.steam.boils_c)


def test_steam_typed_gives_the_temperature_it_was_found_for() -> None:
    """The steam of a setting gives that setting."""
    mill = folder().mill
    one = settings(mill, DAIRY, given={"wanted_c": 70.0})
    two = settings(mill, DAIRY, given={"steam_kg_s": one.conditioned.steam_kg_s})
    assert two.conditioned.temperature_c == pytest.approx(70.0, abs=1e-6)
    assert two.setting.wanted_c is None


def at_conditioner(mill: Mill) -> Callable[..., Any]:
    """A product's numbers at 2 kg/s and 15 C."""
    return lambda **more: product_at_conditioner(
        mill, DAIRY, "PL1", rate_kg_s=2.0, mash_c=15.0, **more
    )


def test_molasses_of_the_formula_may_go_in_at_the_conditioner() -> None:
    """Four per cent of the formula: taken out of the mash, put in by itself; all that goes in and its
    water stay the same, and warm molasses saves steam, cold molasses costs it.
    """
    mixed = folder().mill
    share = formula_share(mixed, DAIRY, "MOLASSES")
    assert share == pytest.approx(0.04)
    apart = mill_with("pellets", DAIRY, conditioner_liquid="MOLASSES")
    found = at_conditioner(apart)()
    chamber = found.chamber()
    assert chamber.whole * chamber.mash.rate_kg_s == pytest.approx(2.0)
    assert found.asked.molasses_kg_s == pytest.approx(2.0 * share)
    water = chamber.mash.rate_kg_s * chamber.mash.made_of.water + 2.0 * share * 0.27
    assert water == pytest.approx(2.0 * mash_moisture_wb(mixed, DAIRY))
    assert unsteamed_c(chamber) == pytest.approx(15.0)
    asked = {"rate_kg_s": 2.0, "mash_c": 15.0, "wanted_c": 70.0}
    whole = conditioned(mixed, DAIRY, "PL1", **asked)
    steam = []
    for liquid_c in (10.0, 15.0, 45.0):
        rows = tuple(
            replace(row, liquid_c=liquid_c) if row.line == "PL1" else row
            for row in apart.pellet_lines
        )
        made = conditioned(replace(apart, pellet_lines=rows), DAIRY, "PL1", **asked)
        assert made.rate_kg_s - made.steam_kg_s == pytest.approx(2.0)
        steam.append(made.steam_kg_s)
    assert steam[0] > steam[1] > steam[2]
    assert steam[1] == pytest.approx(whole.steam_kg_s, rel=1e-3)


def test_a_formula_without_the_liquid_has_none_put_in() -> None:
    """Pig feed without molasses: the column changes nothing."""
    mill = mill_with("pellets", "SWINE-ST", conditioner_liquid="MOLASSES")
    found = product_at_conditioner(mill, "SWINE-ST", "PL1", rate_kg_s=2.0, mash_c=15.0)
    assert found.asked.molasses_kg_s == 0
    assert found.liquid is None


def test_the_mash_is_made_of_what_its_formula_says() -> None:
    """Protein and fat are those of the formula as the nutritionist sees them; what analyses lack is
    the usual feed's, and named; minerals are ash.
    """
    mill = folder().mill
    found = mash_made_of(mill, HORSE)
    assert found.made_of.protein > 1.5 * TYPICAL_FEED.protein  # a supplement of 30 %
    assert found.made_of.water == pytest.approx(mash_moisture_wb(mill, HORSE), rel=1e-9)
    assert sum(found.made_of.shares) == pytest.approx(1.0)
    assert any(words.startswith("ash of") for words in found.usual)
    assert not any(words.startswith("crude protein") for words in found.usual)
    bare = replace(mill, formulas=(), formula_lines=())
    assert mash_made_of(bare, HORSE).usual == ("all of it",)


def test_molasses_by_the_tables_is_near_molasses_by_its_solids() -> None:
    """Water and sugars; the little protein of the table moves no figure. Oil is fat."""
    mill = folder().mill
    assert liquid_made_of(mill, "MOLASSES").carbohydrate == pytest.approx(
        molasses(0.27).carbohydrate, abs=0.05
    )
    assert liquid_made_of(mill, "SOYOIL").fat > 0.99
