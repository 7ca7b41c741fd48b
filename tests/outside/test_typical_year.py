"""Typical-year files of real places, as they are published, into hours of weather."""

import datetime as dt
import itertools
from pathlib import Path

import pvlib
import pytest

from bedstone.errors import BadInput
from bedstone.store.typical_year import read_typical_year

GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"


def test_a_published_tmy3_file_is_read_whole():
    """The public-domain TMY3 file of Greensboro, North Carolina (723170) that pvlib carries: 8760
    hours; its first line of data, 01/01/1988 01:00, says 10 C, 80 % and 990 mbar, in UTC-5.
    """
    hours = read_typical_year(GREENSBORO, year=2026)
    assert len(hours) == 8760
    first = hours[0]
    line = GREENSBORO.read_text().splitlines()
    header, cells = line[1].split(","), line[2].split(",")
    assert first.hour_at == dt.datetime(2026, 1, 1, 5, tzinfo=dt.UTC)
    assert first.temperature_c == float(cells[header.index("Dry-bulb (C)")])
    assert first.humidity_frac == pytest.approx(float(cells[header.index("RHum (%)")]) / 100)
    assert first.pressure_pa == pytest.approx(100 * float(cells[header.index("Pressure (mbar)")]))
    steps = {b.hour_at - a.hour_at for a, b in itertools.pairwise(hours)}
    assert steps == {dt.timedelta(hours=1)}


def test_the_same_hours_as_another_reader_finds():
    """Pvlib's own reader finds the same temperatures and humidities in the same file."""
    from pvlib.iotools import read_tmy3

    theirs, _ = read_tmy3(GREENSBORO, coerce_year=2026, map_variables=True)
    ours = read_typical_year(GREENSBORO, year=2026)
    assert [row.temperature_c for row in ours] == pytest.approx(list(theirs["temp_air"]))
    assert [100 * row.humidity_frac for row in ours] == pytest.approx(
        list(theirs["relative_humidity"])
    )


def _epw(rows: list[str]) -> str:
    head = ["LOCATION,Quill,Ferris,-,made up,0,40.0,-90.0,-6.0,198.0", *["-"] * 7]
    return "\n".join([*head, *rows])


HOUR = "1999,7,4,15,60,?9,31.5,21.0,54,99100,0,0,0,0,0,0,0,0,0,0,180,3.1,0,0"


def test_an_epw_file_is_read_by_its_fields(tmp_path: Path):
    """Dry bulb, humidity and pressure stand in fields 7, 9 and 10; hour 15 ends at 15:00 local."""
    file = tmp_path / "place.epw"
    file.write_text(_epw([HOUR]))
    (hour,) = read_typical_year(file, year=2026)
    assert hour.hour_at == dt.datetime(2026, 7, 4, 20, tzinfo=dt.UTC)
    assert (hour.temperature_c, hour.humidity_frac, hour.pressure_pa) == (31.5, 0.54, 99100.0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a,b\n1,2\n", "no typical-year file"),
        (_epw([HOUR.replace(",54,", ",150,")]), "relative humidity"),
        (_epw([HOUR.replace("31.5", "hot")]), "dry bulb"),
        (_epw([HOUR.replace(",7,4,", ",13,4,")]), "date"),
        (_epw(["1999,7,4,15"]), "fields"),
        (_epw([]), "no hour"),
        (_epw([HOUR.replace(",7,4,15,", ",7,4,25,")]), "hour 1 to 24"),
        (_epw([HOUR.replace(",7,4,15,", ",7,4,0,")]), "hour 1 to 24"),
        (_epw([HOUR.replace(",7,4,15,", ",2,29,25,")]), "hour 1 to 24"),
        (_epw([HOUR, HOUR]), "twice"),
        (_epw([HOUR]).replace(",-6.0,", ",-60,"), "time zone"),
        (_epw([HOUR.replace("31.5", "99.9")]), "dry bulb"),
        (_epw([HOUR.replace(",54,", ",nan,")]), "relative humidity"),
        ("", "an empty file"),
    ],
)
def test_a_file_that_cannot_be_is_named(tmp_path: Path, text: str, said: str):
    """Humidity of 150 %, words for numbers, missing values, a thirteenth month, a 25th hour, an hour
    twice, a time zone that no place has: said with line and field.
    """
    file = tmp_path / "wrong.epw"
    file.write_text(text)
    with pytest.raises(BadInput) as told:
        read_typical_year(file, year=2026)
    assert said in str(told.value)


def test_the_last_hour_of_a_day_and_the_leap_day(tmp_path: Path):
    """Hour 24 ends at midnight: it begins at 23:00 of its own day; 29 February is left out."""
    file = tmp_path / "place.epw"
    last = HOUR.replace(",7,4,15,", ",12,31,24,")
    file.write_text(_epw([last, HOUR.replace(",7,4,15,", ",2,29,24,")]))
    (hour,) = read_typical_year(file, year=2026)
    assert hour.hour_at == dt.datetime(2027, 1, 1, 5, tzinfo=dt.UTC)
    assert len(read_typical_year(file, year=2028)) == 2
