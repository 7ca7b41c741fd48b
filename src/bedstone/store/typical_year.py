"""Typical-year weather out of the common open files: EPW and TMY3 CSV, by the hour.

Both give an hour by its end, in standard time all the year; rows here have the start of the hour.
"""

import csv
import datetime as dt
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

from bedstone.errors import BadInput, Fault
from bedstone.mill.model import Weather

__all__ = ["read_typical_year"]

HOURS = 8760
EPW_FIELDS = 22  # up to and with wind, of 35
EPW_HEADER = 8
MOST_FAULTS = 20
HOURS_IN_DAY = 24
MOST_ZONE_H = 14.0
TMY3_NAMES = {
    "temperature_c": ("Dry-bulb (C)",),
    "humidity_frac": ("RHum (%)",),
    "pressure_pa": ("Pressure (mbar)",),
}


def read_typical_year(path: Path, *, year: int) -> tuple[Weather, ...]:
    """The hours of a typical-year file as if they were of one year.

    Parameters
    ----------
    path : Path
        An ``.epw`` file or a TMY3 ``.csv`` file.
    year : int
        The year whose dates the hours get; 29 February stays without weather.

    Returns
    -------
    hours : tuple of Weather
        In order of time, UTC.

    Raises
    ------
    BadInput
        If the file is none of the two, or an hour of it cannot be.

    Sources
    -------
    [1] EPW: Auxiliary Programs of a public building-energy program, fields 1 to 22 of a data line.
    [2] S. Wilcox, W. Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156 (2008), table 1-1.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        text = path.read_text(encoding="latin-1")
    except OSError as error:
        raise BadInput(f"{path.name} cannot be read.", seen=str(error.strerror)) from error
    faults: list[Fault] = []
    lines = text.splitlines()
    if lines and lines[0].startswith("LOCATION,"):
        rows = list(_epw(lines, path.name, year, faults))
    elif len(lines) > 1 and "Dry-bulb (C)" in lines[1]:
        rows = list(_tmy3(lines, path.name, year, faults))
    else:
        raise BadInput(
            f"{path.name} is no typical-year file that is known here.",
            seen=lines[0][:60] if lines else "an empty file",
            allowed="an EPW file (first line LOCATION,...) or a TMY3 CSV file",
        )
    rows.sort(key=lambda row: row.hour_at)
    faults += [
        Fault(
            file=path.name, found=f"{late.hour_at:%m-%d %H:%M} UTC twice", allowed="each hour once"
        )
        for early, late in pairwise(rows)
        if early.hour_at == late.hour_at
    ]
    if faults:
        raise BadInput(f"{path.name} has hours that cannot be.", faults=tuple(faults[:MOST_FAULTS]))
    if not rows:
        raise BadInput(f"{path.name} holds no hour.", allowed=f"{HOURS} hours")
    return tuple(rows)


def _epw(lines: list[str], file: str, year: int, faults: list[Fault]) -> Iterator[Weather]:
    first = lines[0].split(",")
    zone_h = _zone_h(first[8] if len(first) > 8 else "", file, faults)  # noqa: PLR2004 - as LOCATION has it
    for number, line in enumerate(lines[EPW_HEADER:], EPW_HEADER + 1):
        cells = line.split(",")
        if len(cells) < EPW_FIELDS:
            if line.strip():
                faults.append(Fault(file=file, row=number, found=f"{len(cells)} fields",
                                    allowed="35 fields"))  # fmt: skip
            continue
        # fields 2, 3, 4: month, day, hour (1 to 24); 7 dry bulb, 9 relative humidity, 10 pressure
        yield from _hour(
            (cells[1], cells[2], cells[3]), (cells[6], cells[8], cells[9], 1.0),
            year=year, zone_h=zone_h, file=file, number=number, faults=faults,
        )  # fmt: skip


def _tmy3(lines: list[str], file: str, year: int, faults: list[Fault]) -> Iterator[Weather]:
    reader = csv.reader(lines)
    site = next(reader)
    header = [name.strip() for name in next(reader)]
    zone_h = _zone_h(site[3] if len(site) > 3 else "", file, faults)  # noqa: PLR2004 - as TMY3 has it
    at = {}
    for field, names in TMY3_NAMES.items():
        found = next((header.index(name) for name in names if name in header), None)
        if found is None:
            faults.append(Fault(file=file, row=2, column=names[0], found="no such column",
                                allowed=names[0]))  # fmt: skip
            return
        at[field] = found
    for number, cells in enumerate(reader, 3):
        if len(cells) <= max(at.values()):
            if any(cell.strip() for cell in cells):
                faults.append(Fault(file=file, row=number, found=f"{len(cells)} fields",
                                    allowed=f"{len(header)} fields"))  # fmt: skip
            continue
        month, day, *_ = cells[0].split("/") if cells[0].count("/") == 2 else ("", "", "")  # noqa: PLR2004 - MM/DD/YYYY
        yield from _hour(
            (month, day, cells[1].split(":")[0]),
            (cells[at["temperature_c"]], cells[at["humidity_frac"]], cells[at["pressure_pa"]], 100.0),
            year=year, zone_h=zone_h, file=file, number=number, faults=faults,
        )  # fmt: skip


def _number(text: str, file: str, row: int, column: str, faults: list[Fault]) -> float:
    try:
        return float(text)
    except ValueError:
        faults.append(
            Fault(file=file, row=row, column=column, found=repr(text), allowed="a number")
        )
        return 0.0


def _whole(text: str) -> int:
    """A whole number, 0 where there is none."""
    return int(text) if text.strip().isdigit() else 0


def _hour_of_day(text: str) -> int:
    """Hour by its end, 1 to 24; ValueError where there is no such hour."""
    hour = _whole(text)
    if not 1 <= hour <= HOURS_IN_DAY:
        raise ValueError(text)
    return hour


def _zone_h(text: str, file: str, faults: list[Fault]) -> float:
    """Hours ahead of UTC."""
    zone_h = _number(text, file, 1, "time zone", faults)
    if not -MOST_ZONE_H <= zone_h <= MOST_ZONE_H:
        faults.append(
            Fault(file=file, row=1, column="time zone", found=f"{zone_h:g}",
                  allowed=f"{-MOST_ZONE_H:g} to {MOST_ZONE_H:g} hours")
        )  # fmt: skip
        return 0.0
    return zone_h


def _hour(
    when: tuple[str, str, str], read: tuple[str, str, str, float], *, year: int, zone_h: float,
    file: str, number: int, faults: list[Fault],
) -> Iterator[Weather]:  # fmt: skip
    before = len(faults)
    temperature_c = _number(read[0], file, number, "dry bulb", faults)
    humidity = _number(read[1], file, number, "relative humidity", faults)
    pressure = _number(read[2], file, number, "pressure", faults) * read[3]
    for name, value, low, high in (
        ("dry bulb", temperature_c, -60.0, 60.0),
        ("relative humidity", humidity, 0.0, 110.0),
        ("pressure", pressure, 50_000.0, 110_000.0),
    ):
        if not low <= value <= high:
            faults.append(Fault(file=file, row=number, column=name, found=f"{value:g}",
                                allowed=f"{low:g} to {high:g}"))  # fmt: skip
    try:
        day = dt.datetime(year, int(when[0]), int(when[1]), tzinfo=dt.UTC)
        start = day + dt.timedelta(hours=_hour_of_day(when[2]) - 1 - zone_h)
    except ValueError:
        leap = (when[0].strip(), when[1].strip()) in {("2", "29"), ("02", "29")}
        if not (leap and 1 <= _whole(when[2]) <= HOURS_IN_DAY):
            faults.append(Fault(file=file, row=number, column="date", found="/".join(when),
                                allowed="month, day and hour 1 to 24"))  # fmt: skip
        return
    if len(faults) == before:
        yield Weather(
            hour_at=start,
            temperature_c=temperature_c,
            humidity_frac=min(humidity / 100, 1.0),  # fog is printed as a little over 100 %
            pressure_pa=pressure,
        )
