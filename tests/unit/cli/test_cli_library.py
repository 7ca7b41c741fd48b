"""The library on the command line."""

import json

import pytest
from click.testing import CliRunner

from bedstone.cli.main import cli
from bedstone.errors import Unknown


def said(*words: str) -> str:
    """What a command says."""
    ran = CliRunner().invoke(cli, ["library", *words], catch_exceptions=False)
    assert ran.exit_code == 0, ran.output
    return ran.output


def test_the_list_names_every_ingredient() -> None:
    """Without a name all ingredients are listed, with how much is known of each."""
    assert len(json.loads(said("--json"))) > 100
    assert "soybean-meal-44" in said()


def test_one_ingredient_shows_levels_sources_and_what_is_unknown() -> None:
    """A name shows levels with their sources, the note, and that the rest is unknown."""
    text = said("maize")
    assert "crude protein" in text
    assert "Your own assays come first" in text
    assert "copper is poison to sheep" in said("bluestone")


def test_every_value_behind_a_level_is_shown() -> None:
    """A nutrient shows all values with whether they are used; a misprint is not."""
    text = said("zinc-oxide", "--nutrient", "zinc")
    assert "misprint" in text
    found = json.loads(said("zinc-oxide", "--nutrient", "zinc", "--json"))
    assert {row["what"] for row in found["values"]} == {"mean", "misprint"}


def test_own_dry_matter_brings_dry_values_to_as_fed() -> None:
    """Feed barley says nothing of protein until the lot's dry matter is given."""
    assert "Known in dry matter alone" in said("barley")
    found = json.loads(said("barley", "--dry-matter", "89", "--json"))
    levels = {row["nutrient"]: row["mean"] for row in found["levels"]}
    assert levels["crude protein"] == pytest.approx(11.39, abs=0.005)


def test_a_wrong_name_offers_near_ones() -> None:
    """A slip of the pen is answered with names that are near."""
    with pytest.raises(Unknown, match="barley"):
        CliRunner().invoke(cli, ["library", "barly"], catch_exceptions=False, standalone_mode=False)
