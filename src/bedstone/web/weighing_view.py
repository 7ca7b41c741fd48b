"""What the page of a batch shows while it is weighed up."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bedstone.desk.beforehand import Beforehand, is_drug, weighed_beforehand
from bedstone.desk.mixer_fill import Fill, fill_of
from bedstone.desk.pre_acts import GateLanding, expected_s, gate_landings
from bedstone.desk.proof_standing import unproved_meters
from bedstone.desk.proofs import PowerEvent
from bedstone.desk.rebalance_batch import Rebalancing, rebalancings
from bedstone.mill.plan import Batch, Draw
from bedstone.web.batch_form import DrawLine
from bedstone.web.site import Site

__all__ = ["HandLine", "Weighing", "weighing"]


@dataclass(frozen=True, kw_only=True)
class HandLine:
    """An addition by hand, what was weighed for it, and whether a second person must look."""

    draw: Draw
    row: Beforehand | None
    needs_second: bool


@dataclass(frozen=True, kw_only=True)
class Weighing:
    """Hand additions, gates, times and re-balancing of one batch."""

    by_hand: tuple[HandLine, ...]
    landings: Mapping[int, GateLanding]
    times_s: Mapping[int, float]
    rebalancing: Rebalancing | None
    fill: Fill | None
    unproved: Mapping[str, PowerEvent]  # meters of this batch not proved since the power failed
    first_liquid: int  # number of the first draw after dry mixing; 0 if there is none

    def filled(self, fields: Mapping[str, str] | None) -> dict[str, str]:
        """What was typed, with what was weighed beforehand where nothing was."""
        found: dict[str, str] = {}
        for line in self.by_hand:
            if line.row is not None and line.row.number:
                found[f"actual-{line.draw.sequence}"] = f"{line.row.number} {line.row.unit}"
                found[f"lot-{line.draw.sequence}"] = line.row.lot
        return found | {name: text for name, text in (fields or {}).items() if text}

    def off(self, lines: Sequence[DrawLine]) -> bool:
        """Whether something typed is out of tolerance while something is still to come."""
        wrong = any(line.judged and line.judged.mark == "act" for line in lines)
        return wrong and any(not line.typed for line in lines)

    def now(self, lines: Sequence[DrawLine]) -> DrawLine | None:
        """The first draw without a number; None when all are in."""
        return next((line for line in lines if not line.typed), None)


def weighing(site: Site, batch: Batch) -> Weighing:
    """What the page shows beside the draws of a batch that is not made."""
    mill = site.mill()
    known = weighed_beforehand(site.record, batch.batch)
    asks = mill.settings.drug_check == "second person"
    liquids = [draw.sequence for draw in batch.draws if draw.how == "metered"]
    return Weighing(
        by_hand=tuple(
            HandLine(
                draw=draw,
                row=known.get(draw.sequence),
                needs_second=asks and is_drug(mill, draw.ingredient),
            )
            for draw in batch.draws
            if draw.how == "hand"
        ),
        landings=gate_landings(site.record, batch),
        times_s=expected_s(mill, batch),
        rebalancing=rebalancings(site.record).get(batch.batch),
        fill=fill_of(mill, batch),
        unproved={
            code: event
            for code, event in unproved_meters(site.record).items()
            if any(draw.instrument == code for draw in batch.draws)
        },
        first_liquid=min(liquids, default=0),
    )
