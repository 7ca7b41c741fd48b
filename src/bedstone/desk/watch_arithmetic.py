"""What the arithmetic allows: the smallest error that the witnesses of an instrument can show."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bedstone.quality.watch import Suspicion, Witness
from bedstone.quality.watch_levels import LevelSeen, Passed
from bedstone.quality.watch_samples import STEP
from bedstone.quality.whitening import needed

__all__ = ["MONTH_S", "Seen", "Smallest", "level_arithmetic", "smallest_steps"]

DAY_S = 86_400.0
MONTH_S = 30 * DAY_S
SIZES = (0.02, 0.05, 0.10)
BOOK_FRAC = 0.0005
LARGEST_FRAC = 3.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What the arithmetic allows where only a level witnesses an instrument.

    ``readings`` are those until a step of each of ``sizes`` is expected to raise an alarm (None:
    not within a thousand); ``smallest_frac`` is the step that a month of readings can just show.
    """

    sizes: tuple[float, ...]
    readings: tuple[int | None, ...]
    smallest_frac: float | None
    place: str
    reading_sd_kg: float
    flow_kg: float
    readings_a_day: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Smallest:
    """The smallest step that so many days of all witnesses together are expected to show."""

    about: str
    kind: str
    size: float
    days: float  # a month, or since it was last proved
    witnesses: tuple[str, ...]


def smallest_steps(
    witnesses: Sequence[Witness], suspicions: Sequence[Suspicion], limits: Sequence[float]
) -> dict[str, Smallest]:
    """By what it is about: of a step that began a month before the end, or as early as it can."""
    ends = max((float(row.known_at.max()) for row in witnesses if row.known_at.size), default=0.0)
    found: dict[str, Smallest] = {}
    for suspicion, limit in zip(suspicions, limits, strict=True):
        if suspicion.about in found and suspicion.kind != STEP:
            continue
        begin = int(np.searchsorted(suspicion.begins_at, ends - MONTH_S))
        begin = min(begin, suspicion.begins_at.size - 1)
        power = sum(float((shows[:, begin] ** 2).sum()) for shows in suspicion.shows.values())
        if power > 0:
            found[suspicion.about] = Smallest(
                about=suspicion.about,
                kind=suspicion.kind,
                size=(2 * limit / power) ** 0.5,
                days=max(0.0, ends - float(suspicion.begins_at[begin])) / DAY_S,
                witnesses=tuple(sorted(suspicion.shows)),
            )
    return found


def level_arithmetic(
    read: Mapping[str, Sequence[LevelSeen]],
    flows: Mapping[str, Sequence[Passed]],
    limits: Mapping[str, float],
) -> dict[str, Seen]:
    """What levels can show of each instrument (with its limit), by the place that shows most."""
    found: dict[str, Seen] = {}
    for place, rows in read.items():
        if len(rows) < 3:  # noqa: PLR2004 - a slope needs three
            continue
        for tool, limit in limits.items():
            took = sum(-row.mass_kg for row in flows.get(place, ())
                       if row.instrument == tool and row.mass_kg < 0)  # fmt: skip
            if took <= 0:
                continue
            err = _book_sd_kg(flows[place], len(rows))
            seen = _seen(place, rows, took / len(rows), err, limit)
            before = found.get(tool)
            if before is None or (seen.smallest_frac or 9) < (before.smallest_frac or 9):
                found[tool] = seen
    return found


def _book_sd_kg(flows: Sequence[Passed], readings: int) -> float:
    """What the books err by from one reading to the next: by chance, and all the same way."""
    by_chance = sum(row.sd_kg**2 + (BOOK_FRAC * row.mass_kg) ** 2 for row in flows) / readings
    alike = sum(abs(row.mass_kg) * row.alike_frac for row in flows) / readings
    return float((by_chance + alike**2) ** 0.5)


def _seen(
    place: str, rows: Sequence[LevelSeen], flow_kg: float, walk_sd_kg: float, limit: float
) -> Seen:
    sd_kg = sorted(row.sd_kg for row in rows)[len(rows) // 2]
    span = max(rows[-1].at - rows[0].at, 1.0)
    a_month = max(2, round(len(rows) * MONTH_S / span))

    def count(size: float) -> int | None:
        return needed(size, flow_kg=flow_kg, noise_sd_kg=sd_kg, walk_sd_kg=walk_sd_kg, limit=limit)

    low, high = 1e-4, 4.0
    for _ in range(24):
        middle = (low * high) ** 0.5
        readings = count(middle)
        low, high = (
            (low, middle) if readings is not None and readings <= a_month else (middle, high)
        )
    return Seen(
        sizes=SIZES,
        readings=tuple(count(size) for size in SIZES),
        smallest_frac=high if high < LARGEST_FRAC else None,
        place=place,
        reading_sd_kg=sd_kg,
        flow_kg=flow_kg,
        readings_a_day=a_month / 30,
    )
