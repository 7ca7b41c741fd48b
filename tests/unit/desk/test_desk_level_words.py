"""A level is said in the mill's own units."""

import datetime as dt
from dataclasses import replace

from bedstone.desk.level_masses import level_words
from bedstone.desk.levels import Level

TAPE = Level(
    place="B01", method="tape", value=5.12, unit="m", sd=0.05, material="CORN",
    read_at=dt.datetime(2026, 11, 20, 12, tzinfo=dt.UTC), by="dell", position=1,
)  # fmt: skip


def test_a_tape_is_said_in_feet_or_metres() -> None:
    """5.12 m are 16.8 ft (the foot is 0.3048 m by definition)."""
    assert level_words(TAPE, "US") == "tape 16.80 ft"
    assert level_words(TAPE, "SI") == "tape 5.12 m"


def test_a_gauge_says_how_full_and_a_weighed_bin_its_mass() -> None:
    """A part is said in per cent, a mass in pounds or kilograms."""
    assert level_words(replace(TAPE, method="gauge", value=0.73, unit="frac"), "US") == (
        "gauge 73 % full"
    )
    assert level_words(replace(TAPE, method="weighed", value=1000, unit="kg"), "US") == (
        "weighed 2,205 lb"
    )
