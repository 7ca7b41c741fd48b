"""The arithmetic of a settlement, line by line, as it stands on record."""

from collections.abc import Sequence

from bedstone.desk.settlements import Settled, SettledAt
from bedstone.mill.model import Mill
from bedstone.quantities.masses import shown_mass
from bedstone.quantities.units import DIMENSIONS, from_si

__all__ = ["settlement_lines"]

CENTS100 = 10_000
CENTS = 100
MG_T = 1_000_000_000
EXACT = (
    "Reckoned in exact fractions; mass is rounded once, to the milligram, money once, to the cent. "
    "A printed factor is itself rounded and may give a cent more or less."
)

Lines = list[tuple[str, str]]


def settlement_lines(mill: Mill, rows: Sequence[SettledAt]) -> tuple[Lines, str]:
    """Each step from the net to the money, and what the paper must say of earlier ones.

    Parameters
    ----------
    mill : Mill
        For its units and names.
    rows : sequence of SettledAt
        Settlements of one ticket in order; the last stands.
    """
    last = rows[-1].settled
    lines = [
        ("Ingredient", mill.name_of(last.ingredient)),
        ("Lot", last.lot),
        *_mass_lines(mill, last),
        *_money_lines(mill, last),
    ]
    notes = [
        f"Terms: {last.terms}. Tables of revision {last.revision}.",
        EXACT,
    ]
    if len(rows) > 1:
        before = rows[-2]
        local = before.at.astimezone(mill.settings.zone)
        notes.append(
            f"This takes the place of the settlement of {local:%Y-%m-%d}, journal "
            f"{before.position}, {_dollars(before.settled.money_cents)}."
        )
    if last.why:
        notes.append(f"Because: {last.why}.")
    return lines, " ".join(notes)


def _mass_lines(mill: Mill, row: Settled) -> Lines:
    def mass(mass_mg: int) -> str:
        return shown_mass(mass_mg, units=mill.settings.units)

    left = mass(row.net_mg - row.dockage_mg)
    over_pct = max(0.0, row.dockage_pct - row.dockage_free_pct)
    lines = [
        ("Net as weighed", mass(row.net_mg)),
        (
            f"Dockage {row.dockage_pct:g} %, free up to {row.dockage_free_pct:g} %",
            f"less {mass(row.dockage_mg)}  =  {over_pct:g} % of {mass(row.net_mg)}",
        ),
    ]
    if row.shrink == "none":
        lines.append(("Water", "paid as weighed, no shrink"))
    else:
        points = max(0.0, (row.moisture_pct or 0.0) - row.base_pct)
        factor = f"{row.shrink_factor:.4f}"
        how = (
            f"1 / (1 - {row.base_pct / 100:g}) = {factor}"
            if row.shrink == "dry matter"
            else f"pencil {factor}"
        )
        lines += [
            (
                f"Water {row.moisture_pct:g} %, base {row.base_pct:g} %",
                f"less {mass(row.moisture_mg)}  =  {points:g} points x {factor} % of {left}",
            ),
            ("Factor", how),
        ]
    lines.append(
        (
            f"Handling {row.handling_pct:g} %",
            f"less {mass(row.handling_mg)}  =  {row.handling_pct:g} % of {left}",
        )
    )
    return [*lines, ("Mass paid", mass(row.paid_mg))]


def _money_lines(mill: Mill, row: Settled) -> Lines:
    ton = DIMENSIONS["usd_t"].written(mill.settings.units)
    name = "short ton" if mill.settings.units == "US" else "tonne"

    def price(cents100_t: int) -> str:
        value = float(from_si(cents100_t / CENTS100, ton))
        return f"{'-' if value < 0 else ''}${abs(value):,.2f} a {name}"

    full = row.price_cents100_t + sum(one.adjust_cents100_t for one in row.steps)
    mass_ton = row.paid_mg / MG_T / float(from_si(1.0, ton))
    return [
        ("Price", f"{price(row.price_cents100_t)}  ({row.price_from})"),
        *((f"Step, {one.test}", price(one.adjust_cents100_t)) for one in row.steps),
        ("Price with steps", price(full)),
        (
            "To be paid",
            f"{_dollars(row.money_cents)}  =  {mass_ton:,.4f} x {price(full)}",
        ),
    ]


def _dollars(cents: int) -> str:
    sign = "-" if cents < 0 else ""
    return f"{sign}${abs(cents) / CENTS:,.2f}"
