"""Papers of a load: receiving ticket, rejection letter, settlement, label of the retained sample."""

import datetime as dt
from collections.abc import Mapping

from bedstone.desk.arrival import judge_arrival
from bedstone.desk.arrival_acts import ArrivalOnRecord
from bedstone.desk.arrival_row import LOOKS
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.settlements import settlements
from bedstone.errors import BadInput, Unknown
from bedstone.mill.model import Mill
from bedstone.papers.render import Printed, barcode, pdf
from bedstone.papers.settlement_lines import settlement_lines
from bedstone.quantities.masses import shown_mass
from bedstone.receiving.gate import Judged

__all__ = ["PAPERS", "papers_of", "receiving_paper"]

PAPERS: Mapping[str, str] = {
    "ticket": "Receiving ticket",
    "settlement": "Settlement",
    "rejection": "Rejection letter",
    "label": "Retained-sample label",
}
"""Paper to its title."""
CAUTION = (
    "Weights and tests are the mill's own, by its instruments as they stand. Contract, local codes "
    "and the inspector of the place stand above this paper."
)
LOOK_WORDS = {"odour": "smell", "foreign": "foreign matter seen"}

Lines = list[tuple[str, str]]


def papers_of(record: Record, row: ArrivalOnRecord) -> tuple[str, ...]:
    """The papers that a load has: those of what became of it, and a label where a sample is kept."""
    found = ["ticket"] if row.into else ["rejection"]
    if row.arrival.ticket in settlements(record):
        found.append("settlement")
    if row.keep_until is not None:
        found.append("label")
    return tuple(found)


def receiving_paper(record: Record, row: ArrivalOnRecord, paper: str) -> bytes:
    """A paper of a load as PDF.

    Raises
    ------
    Unknown
        If such a load has no such paper.
    """
    known = papers_of(record, row)
    if paper not in known:
        raise Unknown(f"This load has no paper {paper!r}.", allowed=", ".join(sorted(known)))
    mill = current_mill(record)
    signed, at = row.by, row.at
    if paper == "settlement":
        last = settlements(record)[row.arrival.ticket][-1]
        lines, note = settlement_lines(mill, settlements(record)[row.arrival.ticket])
        signed, at = last.by, last.at
    else:
        makers = {"label": _label, "rejection": _rejection}
        lines, note = makers.get(paper, _ticket)(mill, row)
    local = at.astimezone(mill.settings.zone)
    made = at.astimezone(dt.UTC)
    arrival = row.arrival
    data: dict[str, Printed] = {
        "paper": "us-letter" if mill.settings.units == "US" else "a4",
        "title": PAPERS[paper],
        "mill": mill.settings.name,
        "place": mill.settings.place,
        "made_at": list(made.timetuple()[:6]),
        "when": f"{local:%a} {local.day} {local:%B %Y, %H:%M}",
        "lines": [list(line) for line in lines],
        "note": note,
        "caution": CAUTION,
        "signed": mill.person_by_code[signed].name if signed in mill.person_by_code else signed,
        "other": "Seller" if paper == "settlement" else "Driver",
        "firm": mill.name_of(arrival.firm),
        "address": next((one.address for one in mill.firms if one.firm == arrival.firm), ""),
        "ticket": arrival.ticket,
        "small": paper == "label",
        "bars": barcode(arrival.lot).svg,
        "bars_mm": barcode(arrival.lot).width_mm,
        "square": barcode(arrival.lot).is_square,
        "foot": f"Ticket {arrival.ticket} · Journal {row.position}",
    }
    return pdf("receiving", data)


def _head(mill: Mill, row: ArrivalOnRecord) -> Lines:
    arrival = row.arrival
    carrier = (mill.name_of(arrival.carrier), arrival.carrier_kind, arrival.vehicle)
    counted = f", {arrival.units} of them" if arrival.units else ""
    return [
        ("Ingredient", mill.name_of(arrival.ingredient)),
        ("Lot", arrival.lot),
        ("Carrier", ", ".join(part for part in carrier if part) + counted),
        ("Last cargo, and before", "; ".join(arrival.cargoes)),
        ("Cleaning", " ".join(part for part in (arrival.cleaned, arrival.wash_ticket) if part)),
        *(
            (LOOK_WORDS.get(name, name).capitalize(), getattr(arrival, name) or "not looked at")
            for name in LOOKS
        ),
    ]


def _tests(mill: Mill, row: ArrivalOnRecord) -> Lines:
    """Each test with value, method, repeatability and limits; those of the tables as they stand."""
    try:
        judged = {one.test: one for one in judge_arrival(mill, row.arrival).tests}
    except BadInput:  # the tables have changed since, so that the load could not come in so now
        judged = {}
    lines = []
    for one in row.arrival.tests:
        found = judged.get(one.test)
        times = f", mean of {one.readings}" if one.readings > 1 else ""
        said = f"{one.value:g} {one.unit}{times}"
        lines.append((one.test.capitalize(), said + _how(found, one.method)))
    return lines


def _how(found: Judged | None, method: str) -> str:
    method = method or (found.method if found else "")
    sure = f"± {found.error_sd:g}" if found and found.error_sd else ""
    how = ", ".join(part for part in (method, sure) if part)
    limits = found.limits if found and found.limits != "no limit" else ""
    return (f" ({how})" if how else "") + (f"; wanted {limits}" if limits else "")


def _caution(mill: Mill, row: ArrivalOnRecord) -> list[str]:
    """What must be minded of the ingredient, as the tables say."""
    found = mill.ingredient_by_code.get(row.arrival.ingredient)
    return [f"CAUTION: {found.caution}"] if found is not None and found.caution else []


def _ticket(mill: Mill, row: ArrivalOnRecord) -> tuple[Lines, str]:
    arrival, units = row.arrival, mill.settings.units
    bridge = next(
        (one for one in mill.weighbridges if one.weighbridge == arrival.weighbridge), None
    )
    scale = arrival.weighbridge
    if bridge is not None:
        division = shown_mass(round(bridge.division_kg * 1_000_000), units=units)
        scale = f"{bridge.name or scale}, class {bridge.scale_class}, division {division}"
    net_mg = arrival.gross_mg - arrival.tare_mg
    lines = [
        *_head(mill, row),
        *_tests(mill, row),
        ("Gross", shown_mass(arrival.gross_mg, units=units)),
        ("Tare", shown_mass(arrival.tare_mg, units=units)),
        ("Net", shown_mass(net_mg, units=units)),
        *(
            [("Net on the seller's ticket", shown_mass(arrival.seller_net_mg, units=units))]
            if arrival.seller_net_mg
            else []
        ),
        ("Scale", scale),
        ("Into", mill.name_of(row.into)),
    ]
    notes = [*_caution(mill, row), *row.reasons]
    if row.under_hold:
        notes.insert(0, f"UNLOADED UNDER HOLD: {row.under_hold}. Not to be used until released")
    notes += [f"Not for {mill.name_of(code)}: {why}" for code, why in row.barred_products.items()]
    return lines, "; ".join(notes)


def _rejection(mill: Mill, row: ArrivalOnRecord) -> tuple[Lines, str]:
    why = "; ".join(row.reasons)
    return [*_head(mill, row), *_tests(mill, row)], (
        f"This load was turned away. Reason: {why}. Nothing of it was unloaded. What becomes of it "
        "is for its owner to decide; if it may be unfit for animals, tell whoever it goes to next."
    )


def _label(mill: Mill, row: ArrivalOnRecord) -> tuple[Lines, str]:
    taken = row.at.astimezone(mill.settings.zone).date()
    until = row.keep_until.isoformat() if row.keep_until else ""
    return [
        ("Lot", row.arrival.lot),
        ("Ingredient", mill.name_of(row.arrival.ingredient)),
        ("Supplier", mill.name_of(row.arrival.firm)),
        ("Taken", f"{taken.isoformat()}, ticket {row.arrival.ticket}"),
        ("Shelf", row.sample_shelf or "not noted"),
        ("Keep until", until),
    ], " ".join(
        (
            *(f"{words}." for words in _caution(mill, row)),
            "Composite sample, kept: not feed. Do not open without the laboratory.",
        )
    )
