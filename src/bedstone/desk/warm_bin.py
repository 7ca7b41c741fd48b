"""Warm pellets in a bin: the figures of the coming night as the record has them, and whence."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

from bedstone.desk.bag_activity import TEMPERATURE, bag_mean
from bedstone.desk.bin_findings import PelletBin, pellet_bin
from bedstone.desk.bin_room import measure_of
from bedstone.desk.line_model import lines_of_product, outside_pressure_pa
from bedstone.desk.line_settings import settings_for
from bedstone.desk.merged_rows import MG_IN_KG, weather_by_hour
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, BedstoneError
from bedstone.mill.bin_asked import EXAMPLE_C, EXAMPLE_KG, MOST_KG, AskedOfBin
from bedstone.mill.model import Mill
from bedstone.storage.levels import shape_of
from bedstone.storage.skin import skin_of, slim_bin

__all__ = ["UNREAD", "FilledIn", "at_mass", "filled_in", "plain", "with_skin"]

HOUR = dt.timedelta(hours=1)
HOURS, MOST_HOURS = 24, 72
PELLETS_KG_M3 = 620.0
PLAIN_FULL_FRAC = 2 / 3
EXAMPLE = "an example: type yours"
UNREAD = "nobody read it"


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledIn:
    """The figures of a bin as the record has them, and where each is from."""

    pellets: PelletBin | None  # None where no bin is meant
    asked: AskedOfBin
    said: Mapping[str, str]  # by field
    first_at: dt.datetime | None  # full hour of the first figure of outside_c
    outside_c: tuple[float, ...]
    bag_c: float | None
    bulk_density_kg_m3: float
    pressure_pa: float


def plain(hours: int = HOURS, *, mass_kg: float = EXAMPLE_KG) -> FilledIn:
    """Figures to begin with where no bin is meant: an example, with the same air all night.

    Raises
    ------
    BadInput
        If the number of hours, or the mass, cannot be.
    """
    _must_be_hours(hours)
    if not 0 < mass_kg <= MOST_KG:
        raise BadInput(
            "An empty bin has no night ahead.", seen=f"{mass_kg:g} kg", allowed=f"to {MOST_KG:g} kg"
        )
    volume_m3 = mass_kg / PELLETS_KG_M3
    skin = skin_of(slim_bin(volume_m3 / PLAIN_FULL_FRAC), volume_m3)
    found = FilledIn(
        pellets=None,
        asked=replace(AskedOfBin(), mass_kg=mass_kg),
        said={one.name: EXAMPLE for one in fields(AskedOfBin)},
        first_at=None,
        outside_c=(EXAMPLE_C,) * (hours + 1),
        bag_c=None,
        bulk_density_kg_m3=PELLETS_KG_M3,
        pressure_pa=101_325.0,
    )
    if mass_kg != EXAMPLE_KG:
        found = _put(found, "typed", mass_kg=mass_kg)
    said = "as if round, twice as high as wide and two thirds full"
    areas = {"top_m2": skin.top_m2, "roof_m2": skin.bare_m2, "wall_m2": skin.touched_m2}
    return _put(found, said, **areas)


def filled_in(
    record: Record,
    code: str,
    *,
    at: dt.datetime,
    hours: int = HOURS,
    mass_kg: float | None = None,
) -> FilledIn:
    """What the record knows of a bin of pellets and of the air of the hours ahead.

    Parameters
    ----------
    record : Record
        The record, with stock, readings and weather.
    code : str
        A bin that holds pellets; empty for the air alone.
    at : datetime
        From the full hour before this moment.
    hours : int
        So many hours on, up to 72, as far as weather is known.
    mass_kg : float, optional
        Pellets that are meant instead of what the books have, surfaces of a heap so big. [kg]

    Raises
    ------
    Unknown
        If no pellets lie in the bin.
    BadInput
        If the number of hours cannot be, or the books have more in the bin than it holds.
    """
    _must_be_hours(hours)
    mill = current_mill(record)
    usual = plain(hours, mass_kg=EXAMPLE_KG if code or mass_kg is None else mass_kg)
    began = replace(usual, pressure_pa=outside_pressure_pa(mill))
    found = _with_air(began, record, at=at, hours=hours)
    if not code:
        return found
    held = pellet_bin(record, code, at=at)
    found = with_skin(replace(found, pellets=held), mill, held, mass_kg=mass_kg)
    return _with_pellets(found, record, mill, held)


def at_mass(found: FilledIn, mill: Mill, mass_kg: float) -> FilledIn:
    """The same with another mass, and the surfaces of a heap so big.

    Parameters
    ----------
    found : FilledIn
        The figures so far.
    mill : Mill
        Its bins and their shapes, and how dense the pellets lie.
    mass_kg : float
        The mass that is meant. [kg]

    Returns
    -------
    found : FilledIn
        With mass and areas.

    Raises
    ------
    BadInput
        If the mass cannot be.
    """
    if found.pellets is not None:
        return with_skin(found, mill, found.pellets, mass_kg=mass_kg)
    other = plain(mass_kg=mass_kg)
    names = ("mass_kg", "top_m2", "roof_m2", "wall_m2")
    return replace(
        found,
        asked=replace(found.asked, **{name: getattr(other.asked, name) for name in names}),
        said={**found.said, **{name: other.said[name] for name in names}},
    )


def _must_be_hours(hours: int) -> None:
    if not 1 <= hours <= MOST_HOURS:
        raise BadInput(
            "The night ahead cannot have this many hours.",
            seen=str(hours),
            allowed=f"1 to {MOST_HOURS}",
        )


def _put(found: FilledIn, said: str, **values: float) -> FilledIn:
    """The same with other figures, and where they are from."""
    return replace(
        found,
        asked=replace(found.asked, **values),
        said={**found.said, **dict.fromkeys(values, said)},
    )


def _with_air(found: FilledIn, record: Record, *, at: dt.datetime, hours: int) -> FilledIn:
    """The air of the hours ahead without a gap, where there is weather of two at least."""
    known = weather_by_hour(record)
    first_at = at.replace(minute=0, second=0, microsecond=0)
    outside: list[float] = []
    while len(outside) <= hours and first_at + len(outside) * HOUR in known:
        outside.append(known[first_at + len(outside) * HOUR][-1].temperature_c)
    if len(outside) <= 1:
        return _put(
            replace(found, first_at=first_at),
            "no weather of the hours ahead is on record: type it",
            coldest_c=found.asked.coldest_c,
        )
    ahead = len(outside) - 1
    said = f"coldest of the weather on record, {ahead} hours ahead"
    return _put(
        replace(found, first_at=first_at, outside_c=tuple(outside)), said, coldest_c=min(outside)
    )


def with_skin(
    found: FilledIn, mill: Mill, held: PelletBin, *, mass_kg: float | None = None
) -> FilledIn:
    """Mass by the books, or the one that is meant, and the areas that its bin's shape gives.

    Parameters
    ----------
    found : FilledIn
        The figures so far.
    mill : Mill
        Its bins and their shapes, and how dense the pellets lie.
    held : PelletBin
        What lies where.
    mass_kg : float, optional
        What is meant instead of the books. [kg]

    Returns
    -------
    found : FilledIn
        With mass and areas; those of a slim bin where the tables have no shape.
    """
    row = next((one for one in mill.pellets if one.product == held.material), None)
    dense = PELLETS_KG_M3 if row is None else row.bulk_density_kg_m3
    said = "the books" if mass_kg is None else "typed"
    if mass_kg is None:
        mass_kg = held.mass_mg / MG_IN_KG
    measure = measure_of(mill, held.bin.bin)
    if measure is not None:
        shape, whose = shape_of(measure), "the bin's shape in the tables, level surface"
    else:
        volume_m3 = held.bin.volume_m3 or held.bin.capacity_kg / dense
        shape = slim_bin(volume_m3)
        whose = "no shape in the tables: as if round and twice as high as wide, level surface"
    full_m3 = shape.level_volume_m3(shape.height_m)
    skin = skin_of(shape, min(mass_kg / dense, 0.999 * full_m3))
    found = _put(replace(found, bulk_density_kg_m3=dense), said, mass_kg=mass_kg)
    return _put(found, whose, top_m2=skin.top_m2, roof_m2=skin.bare_m2, wall_m2=skin.touched_m2)


def _with_pellets(found: FilledIn, record: Record, mill: Mill, held: PelletBin) -> FilledIn:
    """Temperature and moisture: as read in the bin, else leaving the cooler, else reckoned."""
    found = replace(found, bag_c=bag_mean(record, held.runs, TEMPERATURE))
    warm = _most(held, "cooler outlet temperature")
    damp = _most(held, "cooler outlet moisture")
    if damp is not None:
        said = f"dampest run in it, {damp[1]}: read at the cooler's outlet"
        found = _put(found, said, moisture_wb=damp[0])
    if held.temperature is not None:
        found = _put(found, "the last reading in the bin", pellet_c=held.temperature.value)
    elif warm is not None:
        said = f"warmest run in it, {warm[1]}: read at the cooler's outlet, as if none had cooled"
        found = _put(found, said, pellet_c=warm[0])
    if damp is not None and (warm is not None or held.temperature is not None):
        return found
    return _by_settings(found, record, mill, held)


def _most(held: PelletBin, quantity: str) -> tuple[float, str] | None:
    """The highest mean of a quantity among runs in a bin, and which run's."""
    means = [(row.mean(quantity), row.run) for row in held.read]
    return max(((mean, run) for mean, run in means if mean is not None), default=None)


def _by_settings(found: FilledIn, record: Record, mill: Mill, held: PelletBin) -> FilledIn:
    """What nobody read, as the line's settings give it for the hour when the bin was filled."""
    lines = lines_of_product(mill, held.material)
    leaving = None
    if held.filled_at is not None and lines:
        try:
            leaving = settings_for(record, held.material, lines[0], at=held.filled_at).leaving
        except BedstoneError:
            leaving = None
    names = [name for name in ("pellet_c", "moisture_wb") if found.said[name] == EXAMPLE]
    if leaving is None:
        return replace(
            found,
            said={
                **found.said,
                **dict.fromkeys(names, f"{UNREAD}: a usual figure, type yours"),
            },
        )
    values = {"pellet_c": leaving.pellet_c, "moisture_wb": leaving.moisture_wb}
    said = f"{UNREAD}: reckoned from the settings of {lines[0]}"
    return _put(found, said, **{name: values[name] for name in names})
