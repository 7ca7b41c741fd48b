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
    mash_before_steam_c,
    pellet_kind,
    pellets_row,
)
from bedstone.store.typical_year import read_typical_year

LINE, YEAR, ZONE_H = "PL1", 2026, -5
PRODUCTS = (("SHEEP-GR", "5/32 in"), ("DAIRY-18", "1/4 in"))
PICTURE = Path(__file__).parent.parent / "docs" / "pictures" / "cooler-year.svg"
CLASSES = ((0.999, "#dbe9f6", "whole rate"), (0.85, "#a6cbe3", "85 % up"),
           (0.6, "#5b9fc9", "60 % up"), (0.2, "#2f6ea3", "20 % up"),
           (-1.0, "#1d2b44", "not at all"))  # fmt: skip
"""The slower the darker: read without colours as well."""
WIDE, HIGH, LEFT, TOP, GAP = 2, 6, 60, 56, 62


def year_of_air() -> tuple[HourAir, ...]:
    """Each hour of the typical year."""
    return tuple(
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


def year_of_limits(product: str, air: tuple[HourAir, ...]) -> list[tuple[HourLimit, float]]:
    """Limits of each hour, with their shares of the most that the line makes."""
    mill = packaged_mill()
    rate = best_rate_kg_s(mill, product, LINE)
    setting = pellets_row(mill, product).conditioning_c
    mash_c = mash_before_steam_c(mill, LINE, 15.0)
    made = conditioned(mill, product, LINE, rate_kg_s=rate, mash_c=mash_c, wanted_c=setting)
    pellet, hot = pellet_kind(mill, product), hot_pellets(mill, product, made)
    coolers = [cooler_of(mill, LINE, pellet, hour.air, hot) for hour in air]
    one = ToCool(
        product=product,
        line=LINE,
        cooler=coolers[0],
        pellet=pellet,
        pellets=hot,
        air_kg_s=tuple(row.air_kg_s for row in coolers),
    )
    found = hourly_limits((one,), air, limits_of_product(mill, product), with_interval=False)
    return [(row, row.rate_kg_s / hot.rate_kg_s) for row in found]


def strip(product: str, size: str, found: list[tuple[HourLimit, float]], top: int) -> str:
    """A product's year: days from left to right, hours of the day from midnight down."""
    paths: dict[str, list[str]] = {colour: [] for _, colour, _ in CLASSES}
    first = dt.datetime(YEAR, 1, 1, tzinfo=dt.UTC) - dt.timedelta(hours=ZONE_H)
    for row, share in found:
        day, hour = divmod(int((row.starts_at - first).total_seconds() // 3600), 24)
        colour = next(colour for least, colour, _ in CLASSES if share >= least)
        paths[colour].append(f"M{LEFT + day * WIDE} {top + hour * HIGH}h{WIDE}v{HIGH}h-{WIDE}z")
    counts = ", ".join(f"{what} {len(paths[colour])} h" for _, colour, what in CLASSES)
    words = [
        (
            f'<text x="{LEFT}" y="{top - 8}"><tspan font-weight="bold">'
            f"{packaged_mill().name_of(product)}, {size}</tspan>: {counts}</text>"
        )
    ]
    words += [
        f'<text x="{LEFT - 8}" y="{top + hour * HIGH + 8}" text-anchor="end">{hour:02d}:00</text>'
        for hour in (0, 6, 12, 18)
    ]
    words += [
        f'<text x="{LEFT + (dt.date(YEAR, month, 1).timetuple().tm_yday - 1) * WIDE}" '
        f'y="{top + 24 * HIGH + 15}">{dt.date(YEAR, month, 1):%b}</text>'
        for month in range(1, 13)
    ]
    drawn = [
        f'<path fill="{colour}" d="{"".join(parts)}"/>' for colour, parts in paths.items() if parts
    ]
    return "".join((*drawn, *words))


def picture() -> str:
    """Both products, one above the other, with what the shades mean."""
    air = year_of_air()
    tall = 24 * HIGH + GAP
    strips = [
        strip(product, size, year_of_limits(product, air), TOP + number * tall)
        for number, (product, size) in enumerate(PRODUCTS)
    ]
    low = TOP + len(PRODUCTS) * tall - 20
    keys = [
        f'<rect x="{LEFT + number * 140}" y="{low}" width="14" height="14" fill="{colour}" '
        f'stroke="#666"/><text x="{LEFT + number * 140 + 20}" y="{low + 12}">{what}</text>'
        for number, (_, colour, what) in enumerate(CLASSES)
    ]
    title = (
        "How fast the air of a typical year of Greensboro lets the demo mill's cooler run "
        "(middle of the default range)"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {LEFT + 365 * WIDE + 20} {low + 26}" '
        f'role="img" font-family="sans-serif" font-size="12"><title>{title}</title>'
        f'<text x="{LEFT}" y="18" font-size="13">{title}</text>{"".join(strips)}{"".join(keys)}'
        "</svg>\n"
    )


if __name__ == "__main__":
    PICTURE.write_text(picture(), encoding="utf-8")
    print(f"wrote {PICTURE.name}")
