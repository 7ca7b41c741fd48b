"""When to close a gate: how far past draws came beside their targets, gate by gate."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from bedstone.batching.divisions import mass_on_scale
from bedstone.batching.in_flight import InFlight, PastDraw, learn_in_flight
from bedstone.desk.folding import folded
from bedstone.desk.made import BATCH_MADE, batch_from_fact
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.record import Record
from bedstone.ledger.model import Recorded
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, Draw

__all__ = ["GateLanding", "expected_s", "gate_landings", "gate_words"]

KEPT = 15
Gate = tuple[str, str, str]
Past = Mapping[Gate, tuple[PastDraw, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class GateLanding:
    """How far draws of an ingredient through a gate come beside their targets, as it is set now."""

    off_kg: float  # above nothing: it comes too much, so close earlier by this
    sd_kg: float
    draws: int
    left_out: int
    says: str


def gate_landings(record: Record, batch: Batch) -> Mapping[int, GateLanding]:
    """For each draw through a gate, by its number, where the latest 15 have landed.

    The record knows target and mass, not where the controls cut off: so what is learned is the
    correction of the cut-off that was set. A median, so that one bad draw does not move it; gates
    that land within half a division are left out.
    """
    start: Past = {}
    past = folded(record, "gate landings", kinds=(BATCH_MADE,), start=start, fold=_note)
    found: dict[int, GateLanding] = {}
    for draw in batch.draws:
        rows = past.get((draw.from_place, draw.instrument, draw.ingredient), ())
        learned = learn_in_flight(rows, may_be_below_nothing=True) if draw.how != "hand" else None
        if learned is not None and 2 * abs(learned.mass_kg) * MG_IN_KG >= draw.division_mg:
            found[draw.sequence] = _landing(learned)
    return found


def gate_words(record: Record, mill: Mill, batches: Sequence[Batch]) -> dict[tuple[str, int], str]:
    """What a sheet says of gates: by batch and number of the draw, where one does not land right."""
    found: dict[tuple[str, int], str] = {}
    for batch in batches:
        landings = gate_landings(record, batch)
        for draw in batch.draws:
            landing = landings.get(draw.sequence)
            if landing is None:
                continue
            off = mass_on_scale(
                round(abs(landing.off_kg) * MG_IN_KG), draw.division_mg, units=mill.settings.units
            )
            way, when = ("over", "earlier") if landing.off_kg > 0 else ("under", "later")
            found[batch.batch, draw.sequence] = f"gate lands {off} {way}: close it so much {when}"
    return found


def _landing(learned: InFlight) -> GateLanding:
    return GateLanding(
        off_kg=learned.mass_kg,
        sd_kg=learned.sd_kg,
        draws=learned.draws,
        left_out=learned.left_out,
        says=learned.says,
    )


def _note(before: Past, facts: Iterable[Recorded]) -> Past:
    found = dict(before)
    for item in facts:
        for draw in batch_from_fact(item).made.draws:
            if not draw.actual_mg:
                continue
            key = (draw.from_place, draw.instrument, draw.ingredient)
            row = PastDraw(cut_off_kg=draw.target_mg / MG_IN_KG, drawn_kg=draw.actual_mg / MG_IN_KG)
            found[key] = (*found.get(key, ()), row)[-KEPT:]
    return found


def expected_s(mill: Mill, batch: Batch) -> Mapping[int, float]:
    """Time that each draw should take, by its number. [s]

    A meter's by its dosing rate; the mixer's time to weigh up is shared out over the draws on its
    scales by their mass. What is weighed by hand is weighed beforehand and takes none.
    """
    mixer = mill.machine_by_code.get(batch.mixer)
    weighed_mg = sum(draw.target_mg for draw in batch.draws if draw.how == "weighed")

    def time_s(draw: Draw) -> float:
        meter = mill.meter_by_code.get(draw.instrument)
        if meter is not None:
            return draw.target_mg / MG_IN_KG / meter.rate_kg_s
        if draw.how == "weighed" and mixer is not None and weighed_mg:
            return mixer.fill_s * draw.target_mg / weighed_mg
        return 0.0

    return {draw.sequence: time_s(draw) for draw in batch.draws}
