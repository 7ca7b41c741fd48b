"""Days and times in lists: as everywhere, and in a mill of US units as loggers and sheets there write."""

import re

from bedstone.errors import BadInput, Fault
from bedstone.mill.cells import quoted

__all__ = ["moment_cell"]

SLASHED = re.compile(
    r"([0-9]{1,2})/([0-9]{1,2})/([0-9]{4}),? +([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?"
    r"(?: ?([AaPp])\.?[Mm]\.?)?"
)
NOON = 12


def moment_cell(text: str, units: str) -> str:
    """A moment of a list as ``YYYY-MM-DD HH:MM``; one that is written so, or in no known way, stays.

    Parameters
    ----------
    text : str
        The cell.
    units : str
        "US": month, day and year between slashes are understood. "SI": they are refused, because
        the day might come first.

    Returns
    -------
    text : str
        For :func:`bedstone.mill.cells.read_moment`.

    Raises
    ------
    BadInput
        If it is written with slashes and cannot be read, or could be read two ways.

    Examples
    --------
    >>> moment_cell("11/24/2026 7:30 PM", "US"), moment_cell("2026-11-24 19:30", "SI")
    ('2026-11-24 19:30', '2026-11-24 19:30')
    """
    if "/" not in text:
        return text
    found = SLASHED.fullmatch(text.strip())
    if units != "US" or found is None or not _is_clock(found[4], found[7]):
        us = "month/day/year as 11/24/2026 7:30 PM, or " if units == "US" else ""
        raise BadInput(
            "This is no moment.",
            faults=(
                Fault(
                    found=quoted(text),
                    allowed=f"{us}a moment as YYYY-MM-DD HH:MM",
                    do="write such as 2026-11-24 19:30",
                ),
            ),
        )
    month, day, year, hour, minute, second, half = found.groups()
    of_day = int(hour) if half is None else int(hour) % NOON + NOON * (half in "Pp")
    seconds = f":{second}" if second else ""
    return f"{year}-{int(month):02d}-{int(day):02d} {of_day:02d}:{minute}{seconds}"


def _is_clock(hour: str, half: str | None) -> bool:
    """Whether an hour is one of a clock of twelve, where a half of the day stands by it."""
    return half is None or 1 <= int(hour) <= NOON
