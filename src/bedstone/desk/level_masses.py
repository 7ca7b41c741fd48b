"""Levels as they were read, turned into mass with its error and held against the books."""

from dataclasses import dataclass

from bedstone.desk.bin_room import density_of, measure_of, volumes_of
from bedstone.desk.levels import Level, levels
from bedstone.desk.loads_taken import LoadTaken, loads_taken
from bedstone.desk.lots_lying import read_lying
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.ledger.model import FlowPattern
from bedstone.mill.model import Mill
from bedstone.quantities.masses import shown_mass
from bedstone.quantities.units import DIMENSIONS, from_si
from bedstone.storage.levels import Difference, MassSeen, difference, taped
from bedstone.storage.shape import Top

__all__ = ["LevelMass", "latest_levels", "level_words", "mass_of", "read_as"]

SLACK_SDS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelMass:
    """A reading with its mass, the book of that moment, and the difference in words.

    ``seen`` and ``found`` are None where the reading cannot be turned into mass; ``words`` says
    why, or what the difference is.
    """

    level: Level
    seen: MassSeen | None
    book_mg: int
    found: Difference | None
    words: str


def mass_of(mill: Mill, level: Level) -> MassSeen:
    """The mass that a reading means.

    A bin of funnel flow counts as a crater where its tables give a slope, any other as a heap; a
    gauge that shows a part is taken as a part of the bin's capacity.

    Raises
    ------
    BadInput
        If the tables do not say the bin's shape or the tape is outside it.
    """
    held = mill.bin_by_code[level.place]
    if level.unit == "kg":
        return MassSeen(mass_kg=level.value, sd_kg=level.sd)
    if level.unit == "frac":
        return MassSeen(mass_kg=level.value * held.capacity_kg, sd_kg=level.sd * held.capacity_kg)
    container, row = volumes_of(mill, level.place), measure_of(mill, level.place)
    material = level.material or held.holds
    if container is None or not material:
        raise BadInput(
            f"A tape in {mill.name_of(level.place)} says nothing of mass.",
            seen="no shape and no table of volumes" if container is None else "no material",
            allowed="a row in bin_shapes.csv or tanks.csv, or rows in strapping.csv, and a known "
            "material",
            do="measure the bin and fill in the table",
        )
    density = density_of(mill, material, level.temperature_c)
    repose_deg = 0.0 if row is None else row.repose_deg
    drawn_down = held.flow == FlowPattern.FUNNEL.value
    top: Top = "level" if repose_deg == 0 else "crater" if drawn_down else "heap"
    return taped(
        container,
        level.value,
        depth_sd_m=level.sd,
        density_kg_m3=density.density_kg_m3,
        density_sd_kg_m3=density.sd_kg_m3,
        top=top,
        repose_deg=repose_deg,
    )


def level_words(level: Level, units: str) -> str:
    """A reading as it is said in a mill of these units ("US" or "SI"): tape 16.80 ft, gauge 73 % full."""
    return read_as(level.method, level.value, level.unit, units)


def read_as(method: str, number: float, read_in: str, units: str) -> str:
    """A number read by a method, kept in m, kg or as a part, in the units of a mill."""
    if read_in == "frac":
        return f"{method} {100 * number:g} % full"
    unit = DIMENSIONS[read_in].written(units)
    places = ".2f" if read_in == "m" else ",.0f"  # a tape is read to a hundredth of a foot
    return f"{method} {float(from_si(number, unit)):{places}} {unit.label}"


def latest_levels(record: Record, place: str | None = None) -> tuple[LevelMass, ...]:
    """The last reading of each bin and material that has one, or of one bin, held against the books of its moment.

    The books count as off by all weighings since the bin was last seen empty, as they stand now.
    """
    mill = current_mill(record)
    last = {
        (row.place, row.material): row
        for row in levels(record, place)
        if row.place in mill.bin_by_code
    }
    places = {row.place for row in last.values()}
    came = loads_taken(record)
    slack = read_lying(record, lambda layers: {place: layers.slack_mg(place) for place in places})
    return tuple(
        _held(record, mill, row, slack_mg=slack[row.place], came=came) for row in last.values()
    )


def _held(
    record: Record, mill: Mill, level: Level, *, slack_mg: int, came: tuple[LoadTaken, ...]
) -> LevelMass:
    apart = mill.bin_by_code[level.place].flow == FlowPattern.SEPARATE.value
    book_mg = sum(
        line.mass_mg
        for line in record.stock(level.read_at)
        if line.place == level.place and (not apart or line.material == level.material)
    )
    try:
        seen = mass_of(mill, level)
    except BadInput as error:
        return LevelMass(level=level, seen=None, book_mg=book_mg, found=None, words=str(error))
    found = difference(seen, book_kg=book_mg / MG_IN_KG, book_sd_kg=slack_mg / SLACK_SDS / MG_IN_KG)
    more = found.more_kg > 0
    units = mill.settings.units
    off = shown_mass(round(abs(found.more_kg) * MG_IN_KG), units=units)
    sd = shown_mass(round(found.sd_kg * MG_IN_KG), units=units)
    words = f"{off} {'more' if more else 'less'} than the books, give or take {sd}"
    if found.is_finding:
        words += ": more than the errors of reading and books; read it again, then count it."
        words += _since(mill, level, came)
    else:
        words += ": within the errors."
    return LevelMass(level=level, seen=seen, book_mg=book_mg, found=found, words=words)


def _since(mill: Mill, level: Level, came: tuple[LoadTaken, ...]) -> str:
    """What has come in since a reading: the finding is of what lay there before."""
    in_mg = sum(
        load.mass_mg for load in came if load.into == level.place and load.at > level.read_at
    )
    if not in_mg:
        return ""
    return (
        f" {shown_mass(in_mg, units=mill.settings.units)} came in after that reading; the finding "
        "is of what lay there before."
    )
