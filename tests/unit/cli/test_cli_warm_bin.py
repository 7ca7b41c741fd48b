"""The command of warm bins: a bin of the mill, plain figures, every bin, figures that cannot be."""

import datetime as dt
import json
from pathlib import Path

import pytest

from bedstone.cli.main import run
from bedstone.cli.parts import Parts
from bedstone.desk.plain_values import plain as as_plain
from bedstone.desk.readings import record_readings
from bedstone.desk.revisions import current_mill
from bedstone.desk.warm_bin import filled_in
from bedstone.desk.warm_night import night_ahead
from bedstone.mill.readings import ReadingRow
from bedstone.start import parts
from fakes.line_runs import AT, line_record, made, pelleted, read

NOW = AT + dt.timedelta(hours=1)
PLAIN = ["--pellets", "105F", "--moisture", "13 %", "--mass", "12000lb", "--coldest", "25F"]


@pytest.fixture(scope="module")
def joined() -> Parts:
    """The real parts with a clock that stands still."""
    return parts(lambda: NOW)


@pytest.fixture(scope="module")
def folder(joined: Parts, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A mill folder whose record is the demo mill's with rabbit feed in FB6, sent on warm."""
    directory = tmp_path_factory.mktemp("bins") / "mill"
    assert run(["new", str(directory)], joined) == 0
    record = joined.open_record(directory, create=True)
    line_record(record, air_c=10.0)
    made(record)
    read(record, cooler_outlet_temperature=38.0, cooler_outlet_moisture=0.129,
         conditioner_temperature=70.0)  # fmt: skip
    pelleted(record)
    return directory


def test_a_bin_of_the_mill_answers_as_the_desk_does(
    joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As JSON the command gives the very answer that the pages are made of."""
    assert run(["warm-bin", str(folder), "--bin", "FB6", "--json"], joined) == 0
    record = joined.open_record(folder)
    found = filled_in(record, "FB6", at=NOW)
    answer = night_ahead(found, found.asked, mill=current_mill(record))
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(as_plain(answer)))


def test_figures_typed_over_count(
    joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A figure with its unit goes before the record's, in words of the mill's units."""
    words = ["warm-bin", str(folder), "--bin", "FB6", "--pellets", "45C"]
    assert run(words, joined) == 0
    said = capsys.readouterr().out
    assert "pellets: 113 °F (typed)" in said
    assert "(the books)" in said
    assert "was filled warm" in said
    assert "never a shelf life" in said


def test_every_bin_of_pellets_with_what_is_odd(
    joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a bin: those that hold pellets, and which was filled warm."""
    assert run(["warm-bin", str(folder)], joined) == 0
    said = capsys.readouterr().out
    assert "FB6" in said
    assert "was filled warm" in said
    assert run(["warm-bin", str(folder), "--json"], joined) == 0
    found = {one["bin"]["bin"]: one["findings"] for one in json.loads(capsys.readouterr().out)}
    assert found["FB6"][0]["code"] == "bin.filled_warm"
    assert found["FB8"] == []


def test_plain_figures_need_no_mill(joined: Parts, capsys: pytest.CaptureFixture[str]) -> None:
    """All typed: a night without a folder, the same in pounds and in kilograms."""
    assert run(["warm-bin", *PLAIN, "--json"], joined) == 0
    us = json.loads(capsys.readouterr().out)
    metric = ["--pellets", "40.5556C", "--moisture", "13", "--mass", "5443.108", "--coldest",
              "-3.888889"]  # fmt: skip
    assert run(["warm-bin", *metric, "--units", "SI", "--json"], joined) == 0
    si = json.loads(capsys.readouterr().out)
    for name in ("roof_kg", "wall_kg", "wandered_kg"):
        assert us["night"][name] == pytest.approx(si["night"][name], rel=1e-4)
    assert us["bin"] == ""


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--pellets", "105F"], 2, "--moisture"),
        ([*PLAIN, "--moisture", "-1"], 2, "--moisture"),
        ([*PLAIN, "--moisture", "110"], 2, "4 to 30 % wet basis"),
        ([*PLAIN, "--pellets", "900F"], 2, "degrees F"),
        ([*PLAIN, "--pellets", "250F"], 2, "fear a fire"),
        ([*PLAIN, "--mass", "0"], 2, "--mass"),
        ([*PLAIN, "--mass", "50lb", "--top", "90ft2"], 2, "So few pellets"),
        ([*PLAIN, "--hours", "0"], 2, "hours"),
        (["--bin", "FB6"], 2, "A bin is one of a mill"),
    ],
)
def test_figures_that_cannot_be(
    words: list[str], code: int, said: str, joined: Parts, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each is refused in words with what is allowed, never as a traceback."""
    assert run(["warm-bin", *words], joined) == code
    assert said in capsys.readouterr().err


def test_a_bin_without_pellets_is_not_known(
    joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An empty bin is refused with those that hold pellets."""
    assert run(["warm-bin", str(folder), "--bin", "FB5"], joined) == 4
    assert "FB6" in capsys.readouterr().err


def test_a_bin_that_heats_gets_no_fan(
    joined: Parts, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the thermometer rises nothing is blown in: the finding's words stand for the advice."""
    directory = tmp_path / "mill"
    assert run(["new", str(directory)], joined) == 0
    record = joined.open_record(directory, create=True)
    line_record(record, air_c=10.0)
    made(record)
    read(record, cooler_outlet_temperature=38.0, cooler_outlet_moisture=0.129,
         conditioner_temperature=70.0)  # fmt: skip
    pelleted(record)
    rows = [ReadingRow(at=NOW + dt.timedelta(minutes=n - 20), value=30.0 + n) for n in (0, 9)]
    record_readings(record, instrument="FB6", quantity="bin temperature", rows=rows, by="dell",
                    at=NOW)  # fmt: skip
    assert run(["warm-bin", str(directory), "--bin", "FB6"], joined) == 0
    said = capsys.readouterr().out
    assert "16 °F more than it did" in said
    assert "keep out" in said
    assert "fan" not in said
