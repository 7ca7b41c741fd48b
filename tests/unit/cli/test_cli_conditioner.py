"""The conditioner at the terminal without a mill: typed numbers in, words or JSON out."""

import json
from collections.abc import Sequence

import pytest

from bedstone.cli.main import run
from bedstone.start import parts

ASKED = ("--rate", "6ton/h", "--mash", "97.2F", "--mash-moisture", "12", "--steam-gauge", "14.3psi")


def answered(capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, str, str]:
    """Exit code and what was printed."""
    code = run(["conditioner", *ASKED, *more], parts())
    out, err = capsys.readouterr()
    return code, out, err


def found(capsys: pytest.CaptureFixture[str], *more: str) -> dict[str, dict[str, float]]:
    """The answer as JSON."""
    code, out, _ = answered(capsys, *more, "--json")
    assert code == 0, out
    return json.loads(out)


def test_the_published_conditioning_at_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """97.2 F to 190 F by steam raised moisture by 4.2 points (Kansas Agricultural Experiment Station
    Research Reports 6(10), article 29): with a tenth of the heat lost the answer is 4.15.
    """
    answer = found(capsys, "--to", "190F", "--steam-quality", "100", "--loss", "10")
    assert answer["made"]["points"] == pytest.approx(4.2, abs=0.07)


def test_steam_and_temperature_undo_each_other(capsys: pytest.CaptureFixture[str]) -> None:
    """The steam found for a temperature, with molasses and water, gives that temperature."""
    liquids = ("--molasses", "500lb/h", "--molasses-at", "105F", "--water", "60 lb/h")
    steam_kg_s = found(capsys, "--to", "170F", *liquids)["made"]["steam_kg_s"]
    back = found(capsys, "--steam", f"{steam_kg_s}kg/s", *liquids)
    assert back["made"]["temperature_c"] == pytest.approx((170 - 32) / 1.8, abs=1e-4)


def test_units_may_be_mixed_and_mean_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    """A temperature in C, a volume by length and diameter, a price of propane by the gallon."""
    one = found(capsys, "--to", "77C", "--fuel", "propane", "--fuel-price", "2.68",
                "--length", "8ft", "--diameter", "18in")  # fmt: skip
    two = found(capsys, "--to", "170.6F", "--fuel-price", "0.1", "--volume", "14.13717ft3")
    for part, name in (("made", "steam_kg_s"), ("boiler", "usd_per_h")):
        assert one[part][name] == pytest.approx(two[part][name], rel=1e-4)
    assert one["inside_s"] == pytest.approx(two["inside_s"], rel=1e-4)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ((), "no --to or --steam"),
        (("--to", "80F"), "steam does not cool"),
        (("--to", "80F"), "from 97 °F"),
        (("--to", "215F"), "212 °F, where water boils"),
        (("--to", "205F", "--altitude", "7000ft"), "199 °F, where water boils"),
        (("--to", "170F", "--steam", "600lb/h"), "not both"),
        (("--to", "170F", "--steam-quality", "120"), "--steam-quality: found 120; allowed"),
        (("--to", "170F", "--mash-moisture", "-3"), "--mash-moisture: found -3; allowed"),
        (("--to", "170F", "--fill", "130"), "--fill: found 130; allowed: a number from 5 to 100"),
        (("--to", "170F", "--fuel", "propane"), "no --fuel-price"),
        (("--to", "170F", "--steam-gauge", "-5psi"), "from 0 to 217.6 psi"),
        (("--to", "170F", "--steam-at", "80F"), "colder it is water"),
        (("--to", "hot"), '--to: found "hot"'),
        (("--to", "170 apples"), '--to: found "170 apples"'),
        (("--steam", "3000lb/h"), "would not condense"),
        (("--to", "170F", "--time", "300s"), "too small"),
        (("--to", "170F", "--molasses", "4ton/h"), "So much liquid"),
        (("--to", "170F", "--protein", "70", "--fat", "40"), "more than the whole mash"),
    ],
)
def test_what_cannot_be_is_said_in_words(
    capsys: pytest.CaptureFixture[str], more: Sequence[str], said: str
) -> None:
    """What was found and what is allowed, in the units of the mill; no traceback, nothing else."""
    code, out, err = answered(capsys, *more)
    assert code != 0
    assert said in err
    assert "Traceback" not in out + err


def test_what_was_not_typed_is_named_with_what_is_usual(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """No assumption is hidden; the caution of steam stands below the answer."""
    code, out, _ = answered(capsys, "--to", "170F")
    assert code == 0
    assert "--steam-quality 98%" in " ".join(out.split())
    assert "--mash 97" not in out.split("taken as usual")[1]
    assert "burn" in out
