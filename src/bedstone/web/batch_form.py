"""The numbers of a batch as typed on the floor: understood, held against target and tolerance."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from bedstone.desk.batches import ActualDraw
from bedstone.errors import BadInput, Fault
from bedstone.mill.plan import Batch, Draw
from bedstone.quantities.masses import UnderstoodMass
from bedstone.quantities.units import plain_text
from bedstone.web.show import Show
from bedstone.web.typed import reading_of, typed_mass

__all__ = [
    "DrawLine",
    "Judged",
    "actual_draws",
    "all_seen",
    "draw_lines",
    "fault_words",
    "judged",
    "judged_as_typed",
]


@dataclass(frozen=True, kw_only=True)
class Judged:
    """How an actual stands against its target: a word and the mark that goes with it."""

    mark: str
    words: str
    mass_mg: int


@dataclass(frozen=True, kw_only=True)
class DrawLine:
    """One draw of the form with what was typed into it so far."""

    draw: Draw
    typed: str
    lot: str
    judged: Judged | None
    fault: str
    needs_lot: bool = False


def judged(
    mass_mg: int, *, target_mg: int, tolerance_mg: int, division_mg: int, show: Show
) -> Judged:
    """Where a weight lies: inside its tolerance, over it or under it, and by how much."""
    off_mg = mass_mg - target_mg
    if abs(off_mg) <= tolerance_mg:
        return Judged(mark="good", words="within tolerance", mass_mg=mass_mg)
    side = "over" if off_mg > 0 else "under"
    by = show.mass_near(abs(off_mg), division_mg)
    return Judged(mark="act", words=f"{by} {side} target", mass_mg=mass_mg)


def judged_as_typed(typed: UnderstoodMass, draw: Draw | None = None, **limits: Any) -> Judged:
    """The same for what a person typed, with what was understood before it."""
    show: Show = limits["show"]
    if draw is not None:
        limits |= {
            "target_mg": draw.target_mg,
            "tolerance_mg": draw.tolerance_mg,
            "division_mg": draw.division_mg,
        }
    found = judged(typed.mass_mg, **limits)
    said = f"{plain_text(typed.number)} {typed.unit.suffix}"
    if typed.unit.suffix != show.mass_unit:
        said += f" = {show.mass_near(typed.mass_mg, limits['division_mg'])}"
    return replace(found, words=f"understood as {said}: {found.words}")


def fault_words(error: BadInput) -> str:
    """A fault in the little room there is beside a field."""
    return f"{error.what} Allowed: {error.allowed}"


def draw_lines(batch: Batch, fields: Mapping[str, str], show: Show) -> list[DrawLine]:
    """The lines of a batch's form, filled with what was typed."""
    lines = []
    for draw in batch.draws:
        text = fields.get(f"actual-{draw.sequence}", "").strip()
        verdict, fault = None, ""
        if text:
            try:
                verdict = judged_as_typed(typed_mass(text, show), draw, show=show)
            except BadInput as error:
                fault = fault_words(error)
        lines.append(
            DrawLine(
                draw=draw,
                typed=text,
                lot=fields.get(f"lot-{draw.sequence}", "").strip(),
                judged=verdict,
                fault=fault,
                needs_lot=is_drug(draw, show),
            )
        )
    return lines


def actual_draws(batch: Batch, fields: Mapping[str, str], show: Show) -> tuple[ActualDraw, ...]:
    """What the form says was weighed.

    Raises
    ------
    BadInput
        With every field that is empty or cannot be understood, and every drug without its lot.
    """
    found: list[ActualDraw] = []
    faults: list[Fault] = []
    for draw in batch.draws:
        text = fields.get(f"actual-{draw.sequence}", "").strip()
        name = f"draw {draw.sequence}, {show.name(draw.ingredient)}"
        if not text:
            faults.append(
                Fault(column=name, found="nothing", allowed="a mass; 0 if it was left out")
            )
            continue
        try:
            typed = typed_mass(text, show)
        except BadInput as error:
            faults.append(Fault(column=name, found=error.seen or text, allowed=error.allowed))
            continue
        lot = fields.get(f"lot-{draw.sequence}", "").strip()
        if typed.mass_mg and not lot and is_drug(draw, show):
            faults.append(
                Fault(
                    column=f"{name}, lot",
                    found="nothing",
                    allowed="the lot of a drug, without which the batch goes on hold",
                    do="scan the container or read the lot off its label",
                )
            )
        found.append(as_actual(draw, typed, lot, show))
    if faults:
        raise BadInput("The batch is not complete yet; nothing was written.", faults=tuple(faults))
    return tuple(found)


def is_drug(draw: Draw, show: Show) -> bool:
    """Whether a draw is of a medicated article, whose lot must be known."""
    row = show.mill.ingredient_by_code.get(draw.ingredient) if show.mill else None
    return row is not None and row.ingredient_class == "drug"


def as_actual(draw: Draw, typed: UnderstoodMass, lot: str, show: Show) -> ActualDraw:
    """A typed mass as the desk takes it, with the reading as it was read."""
    return ActualDraw(
        sequence=draw.sequence,
        actual_mg=typed.mass_mg,
        seen=reading_of(typed, show.mass_fine(draw.division_mg, draw.division_mg)),
        lot=lot or None,
    )


def all_seen(draws: tuple[ActualDraw, ...], fields: Mapping[str, str]) -> bool:
    """Whether every number was already shown as understood before the form was sent."""
    return all(
        fields.get(f"understood-{draw.sequence}", "") == str(draw.actual_mg) for draw in draws
    )
