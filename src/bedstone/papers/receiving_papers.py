"""Papers of a load: receiving ticket, rejection letter, settlement, label of the retained sample."""

import datetime as dt
from collections.abc import Mapping

from bedstone.desk.arrival_acts import ArrivalOnRecord, paid_for, terms_for
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import Unknown
from bedstone.mill.model import Mill
from bedstone.papers.render import Printed, barcode, pdf
from bedstone.quantities.masses import shown_mass
from bedstone.quantities.units import DIMENSIONS, from_si

__all__ = ["PAPERS", "receiving_paper"]

PAPERS: Mapping[str, tuple[str, bool]] = {
    "ticket": ("Receiving ticket", True),
    "settlement": ("Settlement", True),
    "label": ("Retained-sample label", True),
    "rejection": ("Rejection letter", False),
}
"""Paper to its title, and whether it is of a load that was taken in."""
CAUTION = (
    "Weights and tests are the mill's own, by its instruments as they stand. Contract, local codes "
    "and the inspector of the place stand above this paper."
)
SAMPLE_DAYS = 180
CENTS100 = 10_000


def receiving_paper(record: Record, row: ArrivalOnRecord, paper: str) -> bytes:
    """A paper of a load as PDF.

    Raises
    ------
    Unknown
        If such a load has no such paper.
    """
    known = {name for name, (_, taken) in PAPERS.items() if taken is bool(row.into)}
    if paper not in known:
        raise Unknown(f"This load has no paper {paper!r}.", allowed=", ".join(sorted(known)))
    mill = current_mill(record)
    makers = {"settlement": _settlement, "label": _label, "rejection": _rejection}
    lines, note = makers.get(paper, _ticket)(mill, row)
    local = row.at.astimezone(mill.settings.zone)
    made = row.at.astimezone(dt.UTC)
    arrival = row.arrival
    data: dict[str, Printed] = {
        "paper": "us-letter" if mill.settings.units == "US" else "a4",
        "title": PAPERS[paper][0],
        "mill": mill.settings.name,
        "place": mill.settings.place,
        "made_at": list(made.timetuple()[:6]),
        "when": f"{local:%a} {local.day} {local:%B %Y, %H:%M}",
        "lines": [list(line) for line in lines],
        "note": note,
        "caution": CAUTION,
        "signed": mill.person_by_code[row.by].name if row.by in mill.person_by_code else row.by,
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


Lines = list[tuple[str, str]]


def _head(mill: Mill, row: ArrivalOnRecord) -> Lines:
    arrival = row.arrival
    return [
        ("Supplier", mill.name_of(arrival.firm)),
        ("Ingredient", mill.name_of(arrival.ingredient)),
        ("Lot", arrival.lot),
        ("Carrier", ", ".join(part for part in (mill.name_of(arrival.carrier), arrival.carrier_kind, arrival.vehicle) if part)),
        ("Earlier cargoes", "; ".join(arrival.cargoes)),
        ("Cleaning", " ".join(part for part in (arrival.cleaned, arrival.wash_ticket) if part)),
    ]  # fmt: skip


def _tests(row: ArrivalOnRecord) -> Lines:
    return [
        (one.test, f"{one.value:g} {one.unit}" + (f" ({one.method})" if one.method else ""))
        for one in row.arrival.tests
    ]


def _ticket(mill: Mill, row: ArrivalOnRecord) -> tuple[Lines, str]:
    arrival, units = row.arrival, mill.settings.units
    net_mg = arrival.gross_mg - arrival.tare_mg
    lines = [
        *_head(mill, row),
        *_tests(row),
        ("Gross", shown_mass(arrival.gross_mg, units=units)),
        ("Tare", shown_mass(arrival.tare_mg, units=units)),
        ("Net", shown_mass(net_mg, units=units)),
        ("Scale", arrival.weighbridge),
        ("Into", mill.name_of(row.into)),
    ]
    return lines, "; ".join(row.reasons)


def _rejection(mill: Mill, row: ArrivalOnRecord) -> tuple[Lines, str]:
    why = "; ".join(row.reasons)
    return [*_head(mill, row), *_tests(row)], (
        f"This load was turned away. Reason: {why}. Nothing of it was unloaded. What becomes of it "
        "is for its owner to decide; if it may be unfit for animals, tell whoever it goes to next."
    )


def _money(cents100: int) -> str:
    sign = "-" if cents100 < 0 else ""
    return f"{sign}${abs(cents100) / CENTS100:,.2f}"


def _settlement(mill: Mill, row: ArrivalOnRecord) -> tuple[Lines, str]:
    arrival, units = row.arrival, mill.settings.units
    paid = paid_for(mill, arrival, net_mg=arrival.gross_mg - arrival.tare_mg, at=row.at)
    ton = DIMENSIONS["usd_t"].written(units)

    def price(cents100_t: int) -> str:
        return f"{float(from_si(cents100_t / CENTS100, ton)):+,.4f} {ton.label}".lstrip("+")

    lines = [
        ("Supplier", mill.name_of(arrival.firm)),
        ("Ingredient", mill.name_of(arrival.ingredient)),
        ("Lot", arrival.lot),
        *_tests(row),
        ("Net as weighed", shown_mass(paid.net_mg, units=units)),
        ("Less dockage", shown_mass(paid.dockage_mg, units=units)),
        ("Less water above the base", shown_mass(paid.moisture_mg, units=units)),
        ("Less handling", shown_mass(paid.handling_mg, units=units)),
        ("Mass paid", shown_mass(paid.paid_mg, units=units)),
        ("Price", price(paid.price_cents100_t)),
        *((f"Step for {words}", price(step)) for words, step in paid.steps),
        ("To be paid", _money(paid.money_cents100)),
    ]
    terms = terms_for(mill, arrival.ingredient, arrival.firm)
    return lines, f"Terms: {terms.source if terms else 'paid as weighed'}."


def _label(mill: Mill, row: ArrivalOnRecord) -> tuple[Lines, str]:
    terms = terms_for(mill, row.arrival.ingredient, row.arrival.firm)
    taken = row.at.astimezone(mill.settings.zone).date()
    until = taken + dt.timedelta(days=terms.sample_days if terms else SAMPLE_DAYS)
    shelf = terms.sample_shelf if terms else ""
    return [
        ("Lot", row.arrival.lot),
        ("Ingredient", mill.name_of(row.arrival.ingredient)),
        ("Supplier", mill.name_of(row.arrival.firm)),
        ("Taken", taken.isoformat()),
        ("Shelf", shelf or "not said"),
        ("Keep until", until.isoformat()),
    ], "Retained sample: not feed. Do not open without the laboratory."
