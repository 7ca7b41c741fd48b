"""Which scale, meter or hand-add scale a draw goes over, and out of which bins."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from bedstone.batching.model import Stock
from bedstone.batching.stock import held_mg, oldest_at
from bedstone.mill.model import Bin, Meter, Mill, Scale
from bedstone.mill.tolerances import meter_tolerance_mg, scale_tolerance_divisions

__all__ = ["Instrument", "Way", "ways_to_draw"]

MG_KG = 1_000_000
CARRIED_FROM = ("floor", "warehouse")  # kinds of bin whose goods are carried, not conveyed
NEVER_DRAWN = ("surge", "flush")  # kinds of bin that nothing is weighed out of by hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """A scale or a meter in milligrams."""

    code: str
    how: str  # "weighed", "metered" or "hand"
    capacity_mg: int | None  # None for a meter
    division: Fraction  # exact, in milligrams: a pound is no whole number of them
    smallest_mg: int
    sd_frac: float = 0.0  # of a meter

    @property
    def division_mg(self) -> int:
        """Its division to the nearest milligram. [mg]"""
        return max(1, round(self.division))

    def steps(self, mass_mg: int) -> int:
        """The nearest whole number of divisions, halves up."""
        return math.floor(mass_mg / self.division + Fraction(1, 2))

    def whole_steps(self, mass_mg: int) -> int:
        """Whole divisions that a mass has room for."""
        return math.floor((mass_mg + Fraction(1, 2)) / self.division)

    def mass_mg(self, steps: int) -> int:
        """Mass of a whole number of divisions, to the nearest milligram. [mg]"""
        return round(steps * self.division)

    def rounded_mg(self, mass_mg: int) -> int:
        """The nearest mass that it can show. [mg]"""
        return self.mass_mg(self.steps(mass_mg))

    def weighings(self, mass_mg: int) -> int:
        """How many times it must be filled for a mass."""
        if self.capacity_mg is None:
            return 1
        fits = max(1, self.whole_steps(self.capacity_mg))
        return max(1, -(-self.steps(mass_mg) // fits))

    def tolerance_mg(self, mass_mg: int) -> int:
        """How far a draw may lie from its target, each way. [mg]"""
        if self.how == "metered":
            return meter_tolerance_mg(mass_mg, self.division_mg, sd_frac=self.sd_frac)
        return self.mass_mg(scale_tolerance_divisions(max(1, self.steps(mass_mg))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """An instrument and the bins that an ingredient comes from on it, oldest lot first."""

    instrument: Instrument
    places: tuple[str, ...]


def _exact_mg(mass_kg: float) -> Fraction:
    """A mass as it was given, digit by digit, in milligrams. [mg]"""
    return Fraction(repr(mass_kg)) * MG_KG


def _of_scale(scale: Scale, how: str) -> Instrument:
    return Instrument(
        code=scale.scale,
        how=how,
        capacity_mg=round(scale.capacity_kg * MG_KG),
        division=_exact_mg(scale.division_kg),
        smallest_mg=round(scale.smallest_draw_kg * MG_KG),
    )


def _of_meter(meter: Meter) -> Instrument:
    return Instrument(
        code=meter.meter,
        how="metered",
        capacity_mg=None,
        division=_exact_mg(meter.division_kg),
        smallest_mg=round(meter.smallest_draw_kg * MG_KG),
        sd_frac=meter.sd_frac,
    )


def _hand_stations(mill: Mill, mixer: str) -> tuple[str, ...]:
    """Hand-add stations of a mixer: those with a route to it, or with no route at all."""
    stations = [row.machine for row in mill.machines if row.kind == "hand-add station"]
    starts = {route.start for route in mill.routes}
    return tuple(
        code for code in stations if (code, mixer) in mill.route_by_ends or code not in starts
    )


def _places(mill: Mill, rows: Iterable[Bin], *, ingredient: str, stock: Stock) -> tuple[str, ...]:
    """Bins that hold an ingredient by the book, oldest lot first; else those kept for it."""
    candidates = tuple(row.bin for row in rows)
    held = [code for code in candidates if held_mg(stock, code, material=ingredient) > 0]
    if held:
        return tuple(
            sorted(held, key=lambda code: (oldest_at(stock, code, material=ingredient), code))
        )
    return tuple(code for code in candidates if mill.bin_by_code[code].holds == ingredient)


def _conveyed(mill: Mill, code: str) -> list[Bin]:
    """Bins that an instrument draws from."""
    return [row for row in mill.bins if code in row.feeds.split()]


def _carried(mill: Mill, code: str) -> tuple[list[Bin], list[Bin]]:
    """Bins from which goods are carried to a hand scale: first choice, then any other."""
    near = [row for row in mill.bins if code in row.feeds.split() or row.kind in CARRIED_FROM]
    far = [row for row in mill.bins if row not in near and row.kind not in NEVER_DRAWN]
    return near, far


def _hand_ways(mill: Mill, ingredient: str, *, mixer: str, stock: Stock) -> list[Way]:
    stations = _hand_stations(mill, mixer)
    ways = []
    for scale in mill.scales:
        if scale.machine not in stations:
            continue
        near, far = _carried(mill, scale.scale)
        places = _places(mill, near, ingredient=ingredient, stock=stock) or _places(
            mill, far, ingredient=ingredient, stock=stock
        )
        if places:
            ways.append(Way(instrument=_of_scale(scale, "hand"), places=places))
    return ways


def _machine_ways(mill: Mill, ingredient: str, *, mixer: str, stock: Stock) -> list[Way]:
    row = mill.ingredient_by_code.get(ingredient)
    if row is not None and row.ingredient_class == "liquid":
        found = [_of_meter(meter) for meter in mill.meters if meter.machine == mixer]
    else:
        found = [_of_scale(scale, "weighed") for scale in mill.scales if scale.machine == mixer]
    ways = []
    for instrument in found:
        bins = _conveyed(mill, instrument.code)
        places = _places(mill, bins, ingredient=ingredient, stock=stock)
        if places:
            ways.append(Way(instrument=instrument, places=places))
    return ways


def ways_to_draw(
    mill: Mill, ingredient: str, *, mixer: str, mass_mg: int, stock: Stock
) -> tuple[tuple[Way, ...], bool]:
    """Ways to draw a mass of an ingredient into a mixer, best first, and whether it is enough.

    Fewest weighings first, then the finest division. What is always weighed by hand goes over
    the hand-add scales; anything too small for the scales and meters its bins feed goes over a
    finer one or by hand. Where no instrument can be trusted with so little, the one that can be
    trusted with least comes first and the second answer is False.

    Parameters
    ----------
    mill : Mill
        The mill.
    ingredient : str
        Ingredient or product.
    mixer : str
        Mixer it goes into.
    mass_mg : int
        What is drawn. [mg]
    stock : Stock
        What lies where.

    Returns
    -------
    ways : tuple of Way
        Best first; empty when the ingredient can be drawn nowhere.
    is_trusted : bool
        False when the mass lies below the smallest draw worth trusting of every instrument.
    """
    row = mill.ingredient_by_code.get(ingredient)
    by_hand = _hand_ways(mill, ingredient, mixer=mixer, stock=stock)
    is_hand_add = row is not None and row.hand_add
    by_machine = [] if is_hand_add else _machine_ways(mill, ingredient, mixer=mixer, stock=stock)

    def best_first(way: Way) -> tuple[bool, int, Fraction, str]:
        tool = way.instrument
        is_empty = all(held_mg(stock, place, material=ingredient) == 0 for place in way.places)
        return (is_empty, tool.weighings(mass_mg), tool.division, tool.code)

    for ways in (by_machine, by_hand):
        trusted = [way for way in ways if way.instrument.smallest_mg <= mass_mg]
        if trusted:
            return tuple(sorted(trusted, key=best_first)), True
    least = sorted(
        by_machine + by_hand, key=lambda way: (way.instrument.smallest_mg, way.instrument.code)
    )
    return tuple(least), False
