"""Facts of the journal in plain words."""

import datetime as dt
from collections.abc import Mapping

from bedstone.desk.level_masses import read_as
from bedstone.desk.levels import LEVEL_READ
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.web.show import Show
from bedstone.web.site import Site

__all__ = ["KINDS", "fact_words", "what_happened"]

KINDS: Mapping[str, str] = {
    "mill.tables_loaded/1": "tables of the mill loaded, revision {revision}",
    "orders.order_set/1": "order {order} set: {product} for {customer}",
    "orders.order_cancelled/1": "order {order} cancelled: {why}",
    "weather.hours_set/1": "weather of some hours set",
    "storage.opening_stock/1": "opening stock entered",
    "receiving.load_accepted/1": "load {lot} accepted into {into}",
    "receiving.load_inspected/1": "load of ticket {ticket} judged at the gate: it {outcome}",
    "receiving.load_refused/1": "load of ticket {ticket} turned away",
    "receiving.load_settled/1": "load of ticket {ticket} settled",
    "receiving.lot_sent_back/1": "lot {lot} sent back to {firm}: {why}",
    "receiving.sample_discarded/1": "sample of ticket {ticket} thrown away",
    "grinding.ground/1": "{ingredient} ground on {machine} into {to}",
    "batching.batch_started/1": "batch {batch} started on {mixer}",
    "batching.hand_weighed/1": "{ingredient} weighed beforehand for batch {batch}",
    "batching.drug_confirmed/1": "{ingredient} for batch {batch} confirmed by a second person",
    "batching.batch_rebalanced/1": "batch {batch} re-balanced {why_not}",
    "batching.batch_made/1": "batch {batch} made on {mixer}: {material}",
    "pelleting.run_pelleted/1": "run {run} pelleted on {machine}",
    "finishing.run_packed/1": "run {run} packed on {machine}: {bags} bags",
    "finishing.shipped/1": "order {order} shipped from run {run}",
    "cleaning.cleaned_out/1": "cleaned out before batch {before_batch}: {reason}",
    "storage.bin_seen_empty/1": "bin {bin} seen empty",
    "storage.counted/1": "{place} counted",
    "quality.held/1": "lots held: {why}",
    "quality.released/1": "lots released: {why}",
    "quality.assayed/1": "{of} {lot}{place} assayed: {nutrient} {value} {unit}",
    "live.readings_taken/1": "{quantity} of {instrument} read",
    "quality.instrument_proved/1": "{instrument} proved by {kind}",
    "quality.power_event/1": "power failed or surged until {to_at}",
    "storage.level_read/1": "level of {place} read: {level}",
    "quality.complaint_received/1": "complaint {complaint} of {customer}: {product} {what}",
    "quality.mixer_tested/1": "{mixer} tested with {product}",
    "quality.durability_tested/1": "pellets of run {run} tumbled",
    "quality.sieved/1": "{of} sieved",
    "pelleting.part_fitted/1": "{part} {die} fitted to {line}",
    "cooling.calibrated/1": "cooler of {line} fitted to {readings} logged runs",
    "formulation.formula_drafted/1": "formula of {product}: version {version} drafted",
    "formulation.formula_approved/1": "formula of {product}: version {version} approved by "
    "{approved_by}",
    "formulation.formula_put_in_use/1": "formula of {product}: version {version} in use",
    "formulation.formula_withdrawn/1": "formula of {product}: version {version} withdrawn: {why}",
    "planning.plan_proposed/1": "plan {plan} proposed",
    "planning.plan_released/1": "plan {plan} released",
    "journal.reversed/1": "fact {reverses} taken back: {why}",
    "people.pin_set/1": "PIN of {person} set",
}
"""Kind of fact to a sentence with the names of its content in it."""


NAMED = (
    "product", "customer", "firm", "ingredient", "machine", "mixer", "into", "to", "bin", "place",
    "material", "of", "line",
)  # fmt: skip
"""Names of content that are codes of the mill's tables."""
PEOPLE = ("person", "approved_by")
OUTCOMES = {
    "TAKE": "may unload",
    "PRICE_DOWN": "may unload at a lower price",
    "HOLD": "stays at the gate",
    "REJECT": "is turned away",
}


class Gaps(dict[str, object]):
    """Content whose missing names read as a dash."""

    def __missing__(self, key: str) -> str:
        """What stands for a name that the content does not have."""
        return "-"


def what_happened(fact: Fact, show: Show) -> str:
    """What a fact says, in a sentence with the mill's own names; its kind if that is not known here."""
    pattern = KINDS.get(fact.kind)
    if pattern is None:
        return fact.kind
    content = Gaps(fact.content)
    plan = content.get("plan")
    if isinstance(plan, Mapping):
        content["plan"] = plan.get("plan", "-")
    for key, value in fact.content.items():
        if isinstance(value, str) and value:
            content[key] = _said(key, value, show)
    if fact.kind == LEVEL_READ:
        content["level"] = _level(fact.content, show)
    return pattern.format_map(content)


def _said(key: str, value: str, show: Show) -> str:
    """A code as people call it, a moment as a clock shows it; other words as they stand."""
    if key in NAMED:
        return show.name(value)
    if key in PEOPLE:
        return show.person(value)
    if key == "to_at":
        return show.moment(dt.datetime.fromisoformat(value))
    return OUTCOMES.get(value, value) if key == "outcome" else value


def _level(content: Mapping[str, Json], show: Show) -> str:
    number, unit = content.get("value"), content.get("unit")
    if not isinstance(number, int | float) or not isinstance(unit, str):
        return "-"
    return read_as(str(content.get("method", "")), number, unit, show.units)


def fact_words(one: Recorded, site: Site) -> str:
    """Who recorded what, and when."""
    show = Show.of(site.mill_or_none())
    what = what_happened(one.fact, show)
    return f"{show.person(one.fact.by)}, {show.moment(one.recorded_at)}: {what}"
