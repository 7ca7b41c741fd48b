"""A year of hourly cooler limits in a typical year's air, as a picture for the docs.

Run: .venv/bin/python tools/draw_cooler_year.py. The weather is the public-domain TMY3 file of
Greensboro, North Carolina (723170), that pvlib carries; the line is the demo mill's.
"""

import datetime as dt
from pathlib import Path

import pvlib

from bedstone.cooling.limits import HourAir, HourLimit, ToCool, hourly_limits
from bedstone.cooling.model import AirIn
from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.desk.line_model import (
    best_rate_kg_s,
    conditioned,
    cooler_of,
    hot_pellets,
    limits_of_product,
    pellet_kind,
    pellets_row,
)
from bedstone.store.typical_year import read_typical_year

PRODUCT, LINE, YEAR, ZONE_H = "SHEEP-GR", "PL1", 2026, -5
PICTURE = Path(__file__).parent.parent / "docs" / "pictures" / "cooler-year.svg"
CLASSES = ((0.999, "#2f7d4f", "whole rate"), (0.85, "#9bc26b", "85 % up"),
           (0.6, "#e8c95a", "60 % up"), (0.2, "#d9893b", "20 % up"),
           (-1.0, "#a33a2c", "not at all"))  # fmt: skip
WIDE, HIGH, LEFT, TOP = 2, 8, 60, 40


def year_of_limits() -> tuple[tuple[HourLimit, ...], float]:
    """Limits of each hour, and the most that the line makes."""
    mill = packaged_mill()
    air = tuple(
        HourAir(
            starts_at=row.hour_at,
            air=AirIn(
                temperature_c=row.temperature_c,
                relative_humidity_frac=row.humidity_frac,
                pressure_pa=row.pressure_pa,
            ),
        )
        for row in read_typical_year(
            Path(pvlib.__file__).parent / "data" / "723170TYA.CSV", year=YEAR
        )
    )
    rate = best_rate_kg_s(mill, PRODUCT, LINE)
    setting = pellets_row(mill, PRODUCT).conditioning_c
    hot = conditioned(mill, PRODUCT, LINE, rate_kg_s=rate, mash_c=18.0, wanted_c=setting)
    pellet = pellet_kind(mill, PRODUCT)
    one = ToCool(
        product=PRODUCT,
        line=LINE,
        cooler=cooler_of(mill, LINE, pellet, air[len(air) // 2].air),
        pellet=pellet,
        pellets=hot_pellets(mill, PRODUCT, hot),
    )
    limits = limits_of_product(mill, PRODUCT)
    found = hourly_limits((one,), air, limits, uniform=True, with_interval=False)
    return found, one.pellets.rate_kg_s


def picture(found: tuple[HourLimit, ...], most_kg_s: float) -> str:
    """Days from left to right, hours of the day from midnight down."""
    paths: dict[str, list[str]] = {colour: [] for _, colour, _ in CLASSES}
    first = dt.datetime(YEAR, 1, 1, tzinfo=dt.UTC) - dt.timedelta(hours=ZONE_H)
    for row in found:
        day, hour = divmod(int((row.starts_at - first).total_seconds() // 3600), 24)
        share = row.rate_kg_s / most_kg_s
        colour = next(colour for least, colour, _ in CLASSES if share >= least)
        paths[colour].append(f"M{LEFT + day * WIDE} {TOP + hour * HIGH}h{WIDE}v{HIGH}h-{WIDE}z")
    words = [
        (
            f'<text x="{LEFT}" y="22">Lamb Grower 16 through the demo mill\'s cooler, by day and hour '
            "(typical year of Greensboro; not calibrated)</text>"
        )
    ]
    words += [
        f'<text x="{LEFT - 8}" y="{TOP + hour * HIGH + 8}" text-anchor="end">{hour:02d}:00</text>'
        for hour in (0, 6, 12, 18)
    ]
    words += [
        f'<text x="{LEFT + (dt.date(YEAR, month, 1).timetuple().tm_yday - 1) * WIDE}" '
        f'y="{TOP + 24 * HIGH + 16}">{dt.date(YEAR, month, 1):%b}</text>'
        for month in range(1, 13)
    ]
    for number, (_, colour, what) in enumerate(CLASSES):
        x, y = LEFT + number * 150, TOP + 24 * HIGH + 30
        count = len(paths[colour])
        words.append(
            f'<rect x="{x}" y="{y}" width="12" height="12" fill="{colour}"/>'
            f'<text x="{x + 17}" y="{y + 11}">{what}: {count} h</text>'
        )
    drawn = "".join(
        f'<path fill="{colour}" d="{"".join(parts)}"/>' for colour, parts in paths.items()
    )
    wide, high = LEFT + 365 * WIDE + 20, TOP + 24 * HIGH + 55
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" role="img" '
        f'font-family="sans-serif" font-size="12"><title>A year of hourly limits of a cooler'
        f"</title>{drawn}{''.join(words)}</svg>\n"
    )


if __name__ == "__main__":
    PICTURE.write_text(picture(*year_of_limits()), encoding="utf-8")
    print(f"wrote {PICTURE.name}")
