"""How far a draw may lie from its target: scales by Handbook 44, meters by their own spread."""

import csv
from functools import cache
from importlib import resources

__all__ = [
    "METER_SOURCE",
    "SCALE_SOURCE",
    "meter_tolerance_mg",
    "scale_tolerance_divisions",
    "scale_tolerance_mg",
]

SCALE_SOURCE = "NIST Handbook 44, 2.20, Table 6, class III, maintenance"
METER_SOURCE = "two standard deviations of the meter (mill policy)"
METER_SPREADS = 2.0


@cache
def _steps() -> tuple[tuple[int, int | None, int], ...]:
    """The table as (from, to, tolerance), all in divisions, ``to`` None for no end."""
    text = resources.files("bedstone.mill").joinpath("data/scale_tolerance.csv").read_text()
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return tuple(
        (
            int(row["divisions_from"]),
            int(row["divisions_to"]) if row["divisions_to"] else None,
            int(row["tolerance_divisions"]),
        )
        for row in rows
    )


def scale_tolerance_divisions(divisions: int) -> int:
    """Maintenance tolerance of a class III scale at a load, in divisions, each way.

    Parameters
    ----------
    divisions : int
        The load as a number of scale divisions, begun ones counted. [1]

    Returns
    -------
    tolerance : int
        Divisions that the reading may be off, each way. [1]

    Raises
    ------
    ValueError
        If the number of divisions is below nothing.

    Examples
    --------
    150 lb on a division of 0.05 lb is 3,000 divisions:

    >>> scale_tolerance_divisions(3000)
    3

    Sources
    -------
    [1] NIST Handbook 44, section 2.20 Scales, Table 6, class III, maintenance tolerance.
    """
    if divisions < 0:
        msg = f"a load of {divisions} divisions"
        raise ValueError(msg)
    for _first, last, tolerance in _steps():
        if last is None or divisions <= last:
            return tolerance
    msg = "the table of tolerances has an end"
    raise ValueError(msg)


def scale_tolerance_mg(load_mg: int, division_mg: int) -> int:
    """Maintenance tolerance of a class III scale at a load, each way.

    The load is the draw alone: each draw starts from a tare, as batch controls do (common
    practice, no source).

    Parameters
    ----------
    load_mg : int
        Mass of the draw. [mg]
    division_mg : int
        Scale division. [mg]

    Returns
    -------
    tolerance_mg : int
        Mass that the draw may be off, each way. [mg]

    Raises
    ------
    ValueError
        If the load is below nothing or the division not above nothing.

    Examples
    --------
    500 lb on a division of 0.05 lb is 10,000 divisions, so five divisions, 0.25 lb (in mg):

    >>> scale_tolerance_mg(226_796_185, 22_680)
    113400

    Sources
    -------
    [1] NIST Handbook 44, section 2.20 Scales, Table 6, class III, maintenance tolerance.
    """
    if division_mg <= 0:
        msg = f"a scale division of {division_mg} mg"
        raise ValueError(msg)
    return scale_tolerance_divisions(-(-load_mg // division_mg)) * division_mg


def meter_tolerance_mg(load_mg: int, division_mg: int, *, sd_frac: float) -> int:
    """How far a metered dose may be off, each way: two standard deviations, a step at least.

    Parameters
    ----------
    load_mg : int
        Mass of the dose. [mg]
    division_mg : int
        Smallest step that the meter shows. [mg]
    sd_frac : float
        Standard deviation of a dose as part of it. [kg/kg]

    Returns
    -------
    tolerance_mg : int
        Mass that the dose may be off, each way, in whole steps. [mg]

    Sources
    -------
    [1] Mill policy, no published rule: about one dose in twenty of a sound meter lies outside.
    """
    steps = round(METER_SPREADS * sd_frac * load_mg / division_mg)
    return max(1, steps) * division_mg
