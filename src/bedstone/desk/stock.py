"""What lies where, now or at a past moment, with what is odd about it."""

import datetime as dt
from dataclasses import dataclass

from bedstone.desk.lots_lying import layers_at, read_lying
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.record import Record, StockLine
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.ledger.layers import Layers
from bedstone.ledger.model import is_outside
from bedstone.mill.model import Bin, Mill
from bedstone.quantities.masses import shown_mass

__all__ = ["BinView", "LayerView", "StockRow", "bins_view", "must_have_been", "stock_table"]

MACHINE_SLACK_MG = 1_000_000
"""What may lie in a machine on the books before a finding says so: a kilogram of rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StockRow:
    """One material in one place, and what is odd about it in a sentence; empty if nothing is."""

    place: str
    place_name: str
    kind: str
    material: str
    material_name: str
    mass_mg: int
    capacity_mg: int | None
    finding: str


def must_have_been(moment_at: dt.datetime, now_at: dt.datetime, mill: Mill) -> None:
    """Refuse a moment to come.

    Raises
    ------
    BadInput
        If it lies after now: nobody knows what will lie where.
    """
    if moment_at > now_at:
        local = now_at.astimezone(mill.settings.zone)
        raise BadInput(
            "Stock is known up to now, not of a moment to come.",
            seen=f"{moment_at.astimezone(mill.settings.zone):%Y-%m-%d %H:%M}",
            allowed=f"up to {local:%Y-%m-%d %H:%M}",
            do="see what to buy for how long stock will last",
        )


def stock_table(record: Record, at: dt.datetime | None = None) -> tuple[StockRow, ...]:
    """Stock of every place of the mill and every material in it; empty bins are there too.

    What lies in a machine is one row without a material: what went in as ingredients comes out as
    feed, so only their sum says anything.
    """
    mill = current_mill(record)
    masses: dict[str, int] = {}
    lines: list[StockLine] = []
    for line in record.stock(at):
        if is_outside(line.place):
            continue
        masses[line.place] = masses.get(line.place, 0) + line.mass_mg
        if line.place not in mill.machine_by_code:
            lines.append(line)
    lines += [
        StockLine(place=place, material="", mass_mg=mass_mg)
        for place, mass_mg in masses.items()
        if place in mill.machine_by_code and mass_mg
    ]
    lines += [
        StockLine(place=row.bin, material=row.holds, mass_mg=0)
        for row in mill.bins
        if row.bin not in masses
    ]
    order = {code: n for n, code in enumerate((*mill.bin_by_code, *mill.machine_by_code))}
    lines.sort(key=lambda line: (order.get(line.place, len(order)), line.place, line.material))
    return tuple(_row(mill, line, masses.get(line.place, 0)) for line in lines)


def _row(mill: Mill, line: StockLine, place_mg: int) -> StockRow:
    held = mill.bin_by_code.get(line.place)
    machine = mill.machine_by_code.get(line.place)
    kind = held.kind if held else machine.kind if machine else "not in the tables"
    return StockRow(
        place=line.place,
        place_name=mill.name_of(line.place),
        kind=kind,
        material=line.material,
        material_name=mill.name_of(line.material) if line.material else "",
        mass_mg=line.mass_mg,
        capacity_mg=round(held.capacity_kg * MG_IN_KG) if held else None,
        finding=_finding(mill, line, place_mg),
    )


def _finding(mill: Mill, line: StockLine, place_mg: int) -> str:
    """Say what is odd about a line of stock, in a sentence."""
    held = mill.bin_by_code.get(line.place)
    name = mill.name_of(line.place)
    if line.mass_mg < 0:
        return (
            f"{_shown(mill, -line.mass_mg)} below nothing: more was drawn from {name} than "
            "was ever booked into it; count it"
        )
    if held is None:
        return _in_machine(mill, line)
    return _in_bin(mill, held, line, place_mg=place_mg)


def _shown(mill: Mill, mass_mg: int) -> str:
    return shown_mass(mass_mg, units=mill.settings.units)


def _in_machine(mill: Mill, line: StockLine) -> str:
    """Say that something lies in a machine on the books, or that there is no such place."""
    if line.place not in mill.machine_by_code:
        return f"{line.place} is not in the mill's tables"
    if line.mass_mg > MACHINE_SLACK_MG:
        return (
            f"{_shown(mill, line.mass_mg)} lie in {mill.name_of(line.place)} on the books: "
            "what came out is not recorded yet"
        )
    return ""


def _in_bin(mill: Mill, held: Bin, line: StockLine, *, place_mg: int) -> str:
    """Say that a bin holds too much, or what it is not kept for, or two things at once."""
    name = mill.name_of(line.place)
    if place_mg > held.capacity_kg * MG_IN_KG:
        return (
            f"{_shown(mill, place_mg)} in {name} are more than it holds "
            f"({_shown(mill, round(held.capacity_kg * MG_IN_KG))}); count it"
        )
    if held.holds and line.material != held.holds and line.mass_mg > 0:
        return f"{name} is kept for {mill.name_of(held.holds)}"
    other_mg = place_mg - line.mass_mg
    if held.kind not in ("floor", "warehouse", "flush") and other_mg > MACHINE_SLACK_MG:
        return f"another {_shown(mill, other_mg)} of something else lie in it too"
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerView:
    """A lot as it lies in a bin by the bin's flow pattern; "" where nobody booked what it is."""

    lot: str
    mass_mg: int
    certain: bool
    happened_at: dt.datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BinView:
    """A bin with its level and what lots lie in it, that which comes out first first.

    ``material`` is what most of it is; ``possible_lots`` are lots that may also be in it.
    """

    bin: Bin
    mass_mg: int
    fill_frac: float
    material: str
    layers: tuple[LayerView, ...]
    possible_lots: tuple[str, ...]


def bins_view(record: Record, at: dt.datetime | None = None) -> tuple[BinView, ...]:
    """Every bin with its level and its layers, now or at a past moment, in order of the table."""
    mill = current_mill(record)
    by_place: dict[str, list[StockLine]] = {}
    for line in record.stock(at):
        by_place.setdefault(line.place, []).append(line)

    def views(layers: Layers) -> tuple[BinView, ...]:
        return tuple(_bin_view(row, by_place.get(row.bin, []), layers) for row in mill.bins)

    if at is None:
        return read_lying(record, views)
    return views(layers_at(record, at))


def _bin_view(row: Bin, lines: list[StockLine], layers: Layers) -> BinView:
    mass_mg = sum(line.mass_mg for line in lines)
    most = max(lines, key=lambda line: line.mass_mg, default=None)
    lying = tuple(
        LayerView(
            lot=layer.lot or "",
            mass_mg=layer.mass_mg,
            certain=layer.certain,
            happened_at=layer.happened_at,
        )
        for layer in layers.layers(row.bin)
    )
    named = {layer.lot for layer in lying}
    return BinView(
        bin=row,
        mass_mg=mass_mg,
        fill_frac=mass_mg / MG_IN_KG / row.capacity_kg,
        material=most.material if most is not None else row.holds,
        layers=lying,
        possible_lots=tuple(
            lot for lot in layers.possible_lots(row.bin) if lot and lot not in named
        ),
    )
