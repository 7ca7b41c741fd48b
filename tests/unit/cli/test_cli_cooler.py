"""The cooler at the terminal without a mill: typed numbers in, words or JSON out."""

import json
from collections.abc import Sequence
from typing import Any

import pytest

from bedstone.cli.main import run
from bedstone.start import parts

ASKED = {
    "--rate": "8ton/h",
    "--pellets": "180F",
    "--moisture": "16",
    "--air": "60F",
    "--humidity": "65",
    "--air-flow": "5000cfm",
    "--area": "20ft2",
    "--depth": "2.5ft",
}


def options(**changed: str | None) -> Sequence[str]:
    """The options with some of them changed, or left out; underscores stand for hyphens."""
    typed = ASKED | {f"--{name.replace('_', '-')}": value for name, value in changed.items()}
    return [part for name, value in typed.items() if value is not None for part in (name, value)]


def answered(capsys: pytest.CaptureFixture[str], *more: str, **changed: str | None) -> str:
    """What was printed, whether it could be answered or not."""
    code = run(["cooler", *options(**changed), *more], parts())
    out, err = capsys.readouterr()
    assert code == 0 or err.startswith("bedstone: ")
    assert "Traceback" not in err
    return out + err


def found(capsys: pytest.CaptureFixture[str], **changed: str | None) -> dict[str, Any]:
    """The answer as JSON."""
    return json.loads(answered(capsys, "--json", **changed))


def test_every_figure_has_its_low_and_high_end(capsys: pytest.CaptureFixture[str]) -> None:
    """Middle within the ends, ends apart, and the default range is said to be one."""
    answer = found(capsys)
    for name, ends in answer["spread"].items():
        if isinstance(ends, list):
            assert ends[0] <= answer["leaving"][name] <= ends[1]
            assert ends[0] < ends[1]
    limit = answer["limit"]
    assert limit["rate_lo_kg_s"] <= limit["rate_kg_s"] <= limit["rate_hi_kg_s"]
    text = answered(capsys)
    assert "Not calibrated: heat 1.00 (0.50 to 2.00), moisture 1.00 (0.40 to 2.50)" in text


def test_units_may_be_mixed_and_mean_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    """The same cooler typed in SI leaves the same pellets."""
    us = found(capsys)
    si = found(
        capsys, rate="7.2574779t/h", pellets="82.2222C", air="15.5556C", air_flow="2.3597372m3/s",
        area="1.8580608m2", depth="0.762m",
    )  # fmt: skip
    assert si["leaving"]["pellet_c"] == pytest.approx(us["leaving"]["pellet_c"], abs=1e-3)
    assert si["leaving"]["moisture_wb"] == pytest.approx(us["leaving"]["moisture_wb"], abs=1e-6)


def test_a_difference_is_typed_in_the_degrees_of_either(capsys: pytest.CaptureFixture[str]) -> None:
    """9 F over the air are 5 K, bare, with F or with the sign; 5 C are the same; ft3/min is cfm."""
    for above in ("9", "9F", "9 °F", "5C"):
        assert found(capsys, above=above)["asked"]["above_ambient_dk"] == pytest.approx(5.0)
    volume = found(capsys, air_flow="5000 ft3/min")["asked"]["air_m3_s"]
    assert volume == pytest.approx(5000 * 0.3048**3 / 60)


def test_high_up_there_is_less_air(capsys: pytest.CaptureFixture[str]) -> None:
    """At 6,000 ft the same volume holds about a fifth less dry air, and pellets leave warmer."""
    low, high = found(capsys), found(capsys, altitude="6000ft")
    assert high["cooler"]["air_kg_s"] < 0.85 * low["cooler"]["air_kg_s"]
    assert high["leaving"]["pellet_c"] > low["leaving"]["pellet_c"]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"humidity": "110"}, "--humidity: found 110; allowed: a number from 0 to 100 %"),
        ({"air_flow": "-5000cfm"}, "must draw air up through the bed. Found: -5,000 cfm"),
        ({"air_flow": "0"}, "must draw air up through the bed. Found: 0 cfm"),
        ({"air_flow": None}, "no --air-flow"),
        ({"air_flow": "50cfm"}, "So much air does not go through such a bed. Found: 50 cfm"),
        ({"pellets": "50F"}, "pellets 50 °F, air 60 °F"),
        ({"pellets": "218F"}, "would boil. Found: pellets 218 °F"),
        ({"moisture": "-1"}, "--moisture: found -1"),
        ({"depth": "zero"}, "--depth"),
        ({"area": "nan"}, "--area"),
        ({"pellets": "180K"}, "--pellets"),
    ],
)
def test_a_cooler_that_cannot_be_is_refused_in_words(
    capsys: pytest.CaptureFixture[str], changed: dict[str, str | None], said: str
) -> None:
    """Humidity over saturation, no air or air the wrong way round, pellets colder than the air or
    boiling, water below nothing, words for numbers: what was found and what is allowed.
    """
    assert said in answered(capsys, **changed)


def test_several_faults_are_said_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    """Two wrong numbers, two lines."""
    text = answered(capsys, humidity="110", moisture="40")
    assert "--humidity: found 110" in text
    assert "--moisture: found 40" in text
