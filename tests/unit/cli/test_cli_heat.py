"""The commands of additives and heat: against the tag, and own trials kept."""

import json
from pathlib import Path

import pytest

from bedstone.cli.main import run
from bedstone.cli.parts import Parts
from bedstone.desk.revisions import current_mill
from bedstone.start import parts
from fakes.line_runs import AT, line_record

TRIALS = ("--trial", "2.1,0.9,167F,40", "--trial", "2.1,1.5,150F,40")


@pytest.fixture(scope="module")
def joined() -> Parts:
    """The real parts with a clock that stands still."""
    return parts(lambda: AT)


@pytest.fixture(scope="module")
def folder(joined: Parts, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A mill folder whose record is the demo mill's."""
    directory = tmp_path_factory.mktemp("heat") / "mill"
    assert run(["new", str(directory)], joined) == 0
    line_record(joined.open_record(directory, create=True))
    return directory


def test_the_answer_stands_against_the_tag(
    joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In words and as JSON: left, tag, steps, hottest setting, overage."""
    assert run(["additives", str(folder), "HORSE-PEL", "--to", "170F"], joined) == 0
    out = capsys.readouterr().out
    for words in ("At 170 °F about", "the tag guarantees 0.500 million CFU/g", "lost on the way:",
                  "conditioner", "Surely kept up to", "times the formula's", "lower conditioner temperature", "a laboratory bath"):  # fmt: skip
        assert words in out, words
    assert run(["additives", str(folder), "HORSE-PEL", "--to", "170", "--json"], joined) == 0
    answer = json.loads(capsys.readouterr().out)
    (row,) = answer["additives"]
    assert answer["conditioner_c"] == pytest.approx((170 - 32) / 1.8, abs=0.01)
    assert row["tag"]["minimum"] == 0.5
    assert row["overage"]["more_frac"] > 0
    assert [where for where, _ in row["left"]["by_step"]] == ["conditioner", "die", "cooler"]


def test_a_feed_without_additives_says_so(
    joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is reckoned; that is no all-clear, and the premix without a row is named."""
    assert run(["additives", str(folder), "SHEEP-GR"], joined) == 0
    out = capsys.readouterr().out
    assert "That is no all-clear" in out
    assert "no row for Vitamin and trace mineral premix, sheep" in out


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["additives", "HORSE-PEL", "--to", "900F"], "from 86 to 221 degrees F"),
        (["additives", "HORSE-PEL", "--to", "warm"], "No conditioner runs at that"),
        (["heat-trial", "VTM-H", "--trial", "2.1,0,167F,40"], "A count of nothing"),
        (["heat-trial", "VTM-H", "--trial", "1,3,167F,40"], "after the heat than before"),
        (["heat-trial", "VTM-H", "--trial", "2,1,900F,40"], "from 68 to 248 degrees F"),
        (["heat-trial", "VTM-H", "--trial", "2,1,167F"], "lacks something"),
        (["heat-trial", "VTM-H", *TRIALS, "--z", "0"], "The z value cannot be right"),
        (["heat-trial", "VTM-X", *TRIALS], "has no additive of 'VTM-X'"),
    ],
)
def test_what_cannot_be_is_said(
    joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str], more: list[str], said: str
) -> None:
    """What was found and what is allowed, in the mill's units; no traceback."""
    assert run([more[0], str(folder), *more[1:]], joined) in {2, 4}
    assert said in capsys.readouterr().err


def test_own_trials_are_shown_and_kept(
    joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """D with its interval; with --keep it is this mill's own row, signed."""
    assert run(["heat-trial", str(folder), "VTM-H", *TRIALS], joined) == 0
    out = capsys.readouterr().out
    assert "to a tenth (D) in" in out
    assert "nine times in ten" in out
    asked = ["heat-trial", str(folder), "VTM-H", *TRIALS, "--keep", "--by", "dell", "--json"]
    assert run(asked, joined) == 0
    answer = json.loads(capsys.readouterr().out)
    kept = current_mill(joined.open_record(folder, create=False)).heat_sensitive
    (own,) = [row for row in kept if row.measured == "this mill"]
    assert own.d_s == pytest.approx(answer["row"]["d_s"])
    assert answer["found"]["d_lo_s"] < answer["found"]["d_s"] < answer["found"]["d_hi_s"]
