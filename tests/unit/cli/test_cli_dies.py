"""Dies and tests at the terminal, by plain numbers."""

import datetime as dt
import json
from collections.abc import Callable

import pytest

from bedstone.cli.main import run
from bedstone.start import parts

DIE = ["die", "--hole", "0.156in", "--press", "1.75in", "--thickness", "2.25in", "--holes", "5200", "--inside", "20in", "--face", "6in", "--rate", "6ton/h", "--amps", "95", "--length", "0.4in", "--full-load", "124", "--mash", "172F", "--made", "4000ton", "--lasts", "12000ton", "--price", "5200"]  # fmt: skip

Said = Callable[..., tuple[int, str, str]]


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Said:
    """Exit code, answer and what was said beside it."""

    def ask(*arguments: str) -> tuple[int, str, str]:
        code = run(arguments, parts(lambda: dt.datetime(2026, 11, 26, 12, tzinfo=dt.UTC)))
        out, err = capsys.readouterr()
        return code, out, err

    return ask


def test_a_die_is_reckoned_from_plain_numbers(said: Said):
    """Energy, load, heat, knives and life of typed numbers, by hand: 64.3 kW over 6 short tons an hour
    are 10.7 kWh a ton; 95 of 124 A; a third of the life gone.
    """
    code, out, _ = said(*DIE, "--json")
    found = json.loads(out)
    assert code == 0
    power_kw = 3**0.5 * 460 * 95 * 0.85 / 1000
    assert found["power_kw"] == pytest.approx(power_kw)
    assert found["work"]["kwh_t"] == pytest.approx(power_kw / (6 * 0.90718474))
    assert found["full_frac"] == pytest.approx(95 / 124)
    assert found["compression"] == pytest.approx(1.75 / 0.156)
    assert found["relief_mm"] == pytest.approx(12.7)
    assert found["life"]["used_frac"] == pytest.approx(1 / 3)
    assert found["gap_mm"] == pytest.approx(10.16 - found["cut_mm"] / 2)
    assert found["below_c"] == pytest.approx((172 - 32) / 1.8 + found["work"]["rise_dk"])
    _, words, _ = said(*DIE)
    for shown in (
        "10.7 kWh/ton",
        "off the face for 0.40 in",
        "8,000 tons left",
        "lock and tag out",
    ):
        assert shown in words


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["die", "--hole", "4mm"], "no --press, no --holes"),
        (["die", "--hole", "5ft", "--press", "x"], "--press"),
        ([*DIE, "--thickness", "1in"], "1.750 in that press in a ring of 1.000 in"),
        ([*DIE, "--holes", "52000"], "cut into one another"),
        ([*DIE, "--idle", "100"], "no less under load"),
        (["pellet-tests"], "--tumbled once or more"),
        (["pellet-tests", "--tumbled", "600"], "0 to 500 g left"),
        (["pellet-tests", "--sieve", "840", "30"], "no pan"),
        (["pellet-tests", "--sieve", "420", "30", "--sieve", "840", "1", "--pan", "1"], "420 µm above 840 µm"),
        ([*DIE, "--amps", "950"], "950 A, the plate's full load 124 A. Allowed: up to 186 A"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said(said: Said, arguments: list[str], words: str):
    """Missing and impossible numbers end with code 2 and say what is allowed."""
    code, _, err = said(*arguments)
    assert code == 2
    assert words in err


def test_tests_are_reckoned_from_plain_numbers(said: Said):
    """450 and 447 g of 500 g are 89.7; three sieves give a mean between the outer ones."""
    code, out, _ = said("pellet-tests", "--tumbled", "450", "--tumbled", "447", "--json")
    assert code == 0
    assert json.loads(out)["index"] == pytest.approx(89.7)
    _, out, _ = said("pellet-tests", "--sieve", "840", "30", "--sieve", "590", "40", "--pan", "30",
                     "--json")  # fmt: skip
    assert 400 < json.loads(out)["mean_um"] < 840


def test_a_motor_over_its_plate_is_a_caution(said: Said):
    """At 110 % of the plate the answer says what that does to the motor; at 77 % it does not."""
    code, out, _ = said(*DIE, "--amps", "136")
    assert code == 0
    assert "110 % of its plate" in out
    assert "Over the plate's full load" in out
    assert "Over the plate's full load" not in said(*DIE)[1]


def test_a_short_stack_says_what_its_pan_counts_as(said: Said):
    """With 590 µm as the finest sieve the pan reaches down to 37 µm and moves the mean, which is said;
    the usual stack to 53 µm needs no word. The spread of repeats is called a standard deviation.
    """
    short = ("pellet-tests", "--sieve", "840", "30", "--sieve", "590", "40", "--pan", "30")
    assert "between 590 and 37 µm" in said(*short)[1]
    fine = ("pellet-tests", "--sieve", "74", "30", "--sieve", "53", "40", "--pan", "3")
    assert "moves the mean" not in said(*fine)[1]
    out = said("pellet-tests", "--tumbled", "452.5", "--tumbled", "449")[1]
    assert "standard deviation of its repeats 0.5 points" in out
