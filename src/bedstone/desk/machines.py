"""What the machines hold: a reading of what really ran, in order of time."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.desk.made import MadeBatch, clean_outs, made_batches, started_batches
from bedstone.desk.plans import batch_of, find_plan
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill, revision_mill
from bedstone.errors import Unknown
from bedstone.mill.contents import contents_of
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, HeldSubstance
from bedstone.mill.residue import CleanedOut, MaterialPassed, replay

__all__ = ["machines_hold", "passed_by_plan", "what_ran"]


def machines_hold(record: Record, at: dt.datetime | None = None) -> tuple[HeldSubstance, ...]:
    """What each machine, bin and route holds of each substance, now or at a past moment.

    Batches and flushes that were made count with what was really weighed into them; a batch that
    has begun and is not on record yet counts as its plan says. What came before the first batch
    on record is unknown and counts as the worst that the mill handles.
    """
    return replay(current_mill(record), what_ran(record, at))


def what_ran(
    record: Record, at: dt.datetime | None = None, *, but: str = ""
) -> tuple[MaterialPassed | CleanedOut, ...]:
    """What went along the machines and what was cleaned, in order of time, without batch ``but``."""
    return tuple(event for when, event in _events(record, but) if at is None or when <= at)


def _events(record: Record, but: str) -> list[tuple[dt.datetime, MaterialPassed | CleanedOut]]:
    mill = current_mill(record)
    contents = _Contents(record, mill)
    events: list[tuple[dt.datetime, int, MaterialPassed | CleanedOut]] = []
    made = made_batches(record)
    for batch in made.values():
        if batch.made.batch != but:
            event = _passed(batch.made, contents)
            events.append((batch.happened_at, batch.position, event))
    for begun in started_batches(record).values():
        if begun.batch not in made and begun.batch != but:
            planned = batch_of(find_plan(record, begun.plan).plan, begun.batch)
            events.append((begun.happened_at, begun.position, passed_by_plan(mill, planned)))
    events += [
        (cleaned.happened_at, cleaned.position, CleanedOut(places=cleaned.places))
        for cleaned in clean_outs(record)
    ]
    events.sort(key=lambda event: event[:2])
    return [(when, event) for when, _, event in events]


def passed_by_plan(mill: Mill, batch: Batch) -> MaterialPassed:
    """A batch as it will pass if it is made as planned."""
    return MaterialPassed(
        route=batch.route,
        material=batch.material,
        mass_mg=batch.mass_mg,
        contents=contents_of(mill, batch.material),
    )


def _passed(made: MadeBatch, contents: "_Contents") -> MaterialPassed:
    """A batch as it really passed: its contents are those of what was really weighed."""
    mass_mg = sum(draw.actual_mg for draw in made.draws)
    total: dict[str, float] = {}
    for draw in made.draws:
        for substance, content_mg_kg in contents.of(draw.ingredient).items():
            brought = content_mg_kg * draw.actual_mg / mass_mg
            total[substance] = total.get(substance, 0.0) + brought
    return MaterialPassed(route=made.route, material=made.material, mass_mg=mass_mg, contents=total)


@dataclass
class _Contents:
    """Contents of what was drawn, from the newest tables that know it."""

    record: Record
    mill: Mill

    def __post_init__(self) -> None:
        self._known: dict[str, Mapping[str, float]] = {}

    def of(self, material: str) -> Mapping[str, float]:
        """Content of each substance, mg/kg."""
        found = self._known.get(material)
        if found is None:
            found = self._known[material] = self._look_up(material)
        return found

    def _look_up(self, material: str) -> Mapping[str, float]:
        for revision in range(self.mill.revision, 0, -1):
            mill = revision_mill(self.record, revision)
            if material in mill.ingredient_by_code or mill.running_formula(material) is not None:
                return contents_of(mill, material)
        raise Unknown(
            f"No revision of the tables knows {material!r}, which was drawn into a batch.",
            do="put it back into the tables, then bedstone load",
        )
