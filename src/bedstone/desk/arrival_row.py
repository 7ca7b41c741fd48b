"""A load as it stands at the gate, and what cannot be in it."""

from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.desk.checks import MOST_MG
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.errors import Fault
from bedstone.mill.cells import CODE, CODE_RULE, quoted
from bedstone.mill.model import Mill
from bedstone.mill.receiving_tables import CARGO_CLASSES, Weighbridge
from bedstone.quantities.masses import shown_mass
from bedstone.receiving.cargo import Cleaned
from bedstone.receiving.gate import Outcome, Seen, sane
from bedstone.receiving.probes import CARRIERS
from bedstone.receiving.weighing import is_as_shown

__all__ = ["CLEANED", "LOOKS", "Arrival", "TestValue", "arrival_faults", "seen_of"]

MOST_UNITS = 10_000

CLEANED = {"none": Cleaned.NOT, "swept": Cleaned.SWEPT, "washed": Cleaned.WASHED}
LOOKS: Mapping[str, Mapping[str, tuple[Outcome, str]]] = {
    "seals": {
        "intact": (Outcome.TAKE, "seals as on the papers"),
        "none fitted": (Outcome.TAKE, "no seals fitted"),
        "broken": (Outcome.HOLD, "a seal is broken or not the one on the papers: ask the supplier"),
    },
    "papers": {
        "right": (Outcome.TAKE, "papers name this load"),
        "missing": (Outcome.HOLD, "papers are missing or name another load"),
    },
    "odour": {
        "as usual": (Outcome.TAKE, "smells as it should"),
        "musty or sour": (Outcome.HOLD, "musty or sour: test for mould and ask before it is taken"),
        "chemical": (Outcome.REJECT, "smells of chemicals or smoke"),
    },
    "insects": {
        "none": (Outcome.TAKE, "no insects"),
        "dead": (Outcome.HOLD, "dead insects: sieve and ask before it is taken"),
        "live": (Outcome.REJECT, "live insects would infest the bins"),
    },
    "foreign": {
        "none": (Outcome.TAKE, "nothing foreign seen"),
        "some": (Outcome.HOLD, "foreign matter: sieve and weigh it"),
        "glass, metal or treated seed": (Outcome.REJECT, "glass, metal or treated seed in it"),
    },
}
"""What is looked at, the answers there are, and what each means (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestValue:
    """A result at the gate, as it was typed."""

    __test__ = False
    test: str
    value: float
    unit: str
    readings: int = 1
    method: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A load as it stands at the gate. ``cargoes``: the last one first. Masses in whole mg."""

    ticket: str
    firm: str
    ingredient: str
    lot: str
    carrier: str
    carrier_kind: str
    vehicle: str = ""
    cargoes: tuple[str, ...] = ()
    cleaned: str = "none"
    wash_ticket: str = ""
    seals: str = ""
    papers: str = ""
    odour: str = ""
    insects: str = ""
    foreign: str = ""
    tests: tuple[TestValue, ...] = ()
    weighbridge: str = ""
    gross_mg: int = 0
    tare_mg: int = 0
    seller_net_mg: int = 0  # net on the seller's own ticket, 0 where it names none
    units: int = 0  # totes or bags, 0 where it came loose

    @property
    def levels(self) -> dict[str, tuple[float, str]]:
        """Results at the gate: level and unit by test."""
        return {one.test: (one.value, one.unit) for one in self.tests}


def arrival_faults(mill: Mill, row: Arrival) -> tuple[Fault, ...]:
    """Everything in an arrival that cannot be, all of it at once."""
    return (
        *_head_faults(mill, row),
        *_carrier_faults(row),
        *_count_faults(mill, row),
        *_test_faults(row),
        *_weight_faults(mill, row),
    )


def _head_faults(mill: Mill, row: Arrival) -> list[Fault]:
    faults = []
    sellers = [one.firm for one in mill.firms if one.role == "supplier"]
    if row.firm not in sellers:
        faults.append(Fault(column="supplier", found=quoted(row.firm), allowed=", ".join(sellers)))
    if row.ingredient not in mill.ingredient_by_code:
        allowed = "an ingredient of the mill"
        faults.append(Fault(column="ingredient", found=quoted(row.ingredient), allowed=allowed))
    faults += [
        Fault(column=name, found=quoted(value), allowed=CODE_RULE)
        for name, value in (("ticket", row.ticket), ("lot", row.lot))
        if not CODE.fullmatch(value)
    ]
    return faults


def _carrier_faults(row: Arrival) -> list[Fault]:
    asked = [
        ("carrier", row.carrier_kind, tuple(CARRIERS)),
        ("cleaning", row.cleaned, tuple(CLEANED)),
        *(("earlier cargo", cargo, tuple(CARGO_CLASSES)) for cargo in row.cargoes),
        *((name, getattr(row, name), ("", *answers)) for name, answers in LOOKS.items()),
    ]
    faults = [
        Fault(column=name, found=quoted(value), allowed=", ".join(one for one in allowed if one))
        for name, value, allowed in asked
        if value not in allowed
    ]
    if row.cleaned == "washed" and not row.wash_ticket.strip():
        allowed = "the number of the wash ticket"
        faults.append(Fault(column="wash ticket", found="no number", allowed=allowed))
    return faults


def _count_faults(mill: Mill, row: Arrival) -> list[Fault]:
    faults = []
    if not 0 <= row.units <= MOST_UNITS:
        faults.append(
            Fault(column="totes or bags", found=f"{row.units}", allowed=f"0 to {MOST_UNITS}")
        )
    if not 0 <= row.seller_net_mg <= MOST_MG:
        units = mill.settings.units
        faults.append(
            Fault(
                column="net on the seller's ticket",
                found=shown_mass(row.seller_net_mg, units=units),
                allowed=f"0 to {shown_mass(MOST_MG, units=units)}",
            )
        )
    return faults


def _test_faults(row: Arrival) -> list[Fault]:
    return [
        Fault(
            column=one.test,
            found=f"{one.value:g} {one.unit}",
            allowed=sane(seen_of(one)) or "one reading at least",
            do="look at the number, its point and its unit",
        )
        for one in row.tests
        if sane(seen_of(one)) or one.readings < 1
    ]


def _weight_faults(mill: Mill, row: Arrival) -> list[Fault]:
    if not row.gross_mg and not row.tare_mg:
        return []
    units = mill.settings.units
    bridge = next((one for one in mill.weighbridges if one.weighbridge == row.weighbridge), None)
    if bridge is None:
        known = ", ".join(one.weighbridge for one in mill.weighbridges)
        return [Fault(column="scale", found=quoted(row.weighbridge), allowed=known or "none yet",
                      do="add it to weighbridges.csv")]  # fmt: skip
    most_mg = round(bridge.capacity_kg * MG_IN_KG)
    net_mg = row.gross_mg - row.tare_mg
    faults = _finer_faults(row, bridge, units=units)
    if not 0 <= row.gross_mg <= most_mg:
        faults.append(Fault(column="gross", found=shown_mass(row.gross_mg, units=units),
                            allowed=f"at most {shown_mass(most_mg, units=units)}"))  # fmt: skip
    if row.tare_mg < 0 or net_mg <= 0:
        faults.append(
            Fault(
                column="net",
                found=shown_mass(net_mg, units=units),
                allowed="gross above tare, tare above nothing",
                do="look whether gross and tare changed places",
            )
        )
    largest_mg = max((round(one.capacity_kg * MG_IN_KG) for one in mill.bins), default=0)
    if net_mg > largest_mg:
        faults.append(
            Fault(
                column="net",
                found=shown_mass(net_mg, units=units),
                allowed=f"at most {shown_mass(largest_mg, units=units)}, the largest bin",
                do="look at the number and its unit",
            )
        )
    return faults


def _finer_faults(row: Arrival, bridge: Weighbridge, *, units: str) -> list[Fault]:
    """Masses that a scale of this division cannot have shown."""
    division_mg = bridge.division_kg * MG_IN_KG
    shown = shown_mass(round(division_mg), units=units)
    return [
        Fault(
            column=name,
            found=shown_mass(mass_mg, units=units),
            allowed=f"whole divisions of {shown}, as {bridge.name or bridge.weighbridge} shows them",
            do="read the scale again; if it shows finer, correct its division in weighbridges.csv",
        )
        for name, mass_mg in (("gross", row.gross_mg), ("tare", row.tare_mg))
        if not is_as_shown(mass_mg, division_mg)
    ]


def seen_of(row: TestValue) -> Seen:
    """A typed result as the station judges it."""
    return Seen(
        test=row.test, value=row.value, unit=row.unit, readings=row.readings, method=row.method
    )
