"""When the simulated mill flushes: by simple cautious rules of its own.

For each place it keeps what was there last and how much has passed since. A place is unsafe for a
feed when its first sack might take half of what a limit leaves, or when too little has passed
since a substance that must be flushed out.
"""

import math
from dataclasses import dataclass, field

from bedstone.demo.past.ways import places_along
from bedstone.mill.model import Limit, Mill

__all__ = ["Caution", "contents_of"]

MARGIN_FRAC = 0.5


def contents_of(mill: Mill, material: str) -> dict[str, float]:
    """What a material contains of each substance, products by their running formula [mg/kg]."""
    if material in mill.ingredient_by_code:
        return {
            row.substance: row.content_mg_kg for row in mill.contents if row.ingredient == material
        }
    total: dict[str, float] = {}
    formula = mill.running_formula(material)
    for line in mill.lines_of(material, formula.version) if formula else ():
        for substance, content_mg_kg in contents_of(mill, line.ingredient).items():
            total[substance] = total.get(substance, 0.0) + line.parts_frac * content_mg_kg
    return total


@dataclass
class _Left:
    content_mg_kg: float = 0.0
    passed_kg: float = math.inf


@dataclass
class Caution:
    """What each place holds, as the foreman of the simulated mill thinks of it."""

    mill: Mill
    _left: dict[tuple[str, str], _Left] = field(default_factory=dict)
    _contents: dict[str, dict[str, float]] = field(default_factory=dict)

    def contents(self, material: str) -> dict[str, float]:
        """Contents of a material, looked up once."""
        if material not in self._contents:
            self._contents[material] = contents_of(self.mill, material)
        return self._contents[material]

    def limits(self, product: str) -> list[Limit]:
        """Limits that hold for a product and can be kept by a flush."""
        species = self.mill.product(product).species
        return [
            row
            for row in self.mill.limits
            if (row.product == product or row.species == species) and row.kind != "never"
        ]

    def passed(self, route: tuple[str, ...], material: str, *, mass_kg: float) -> None:
        """Note that a material has passed along a route."""
        contents = self.contents(material)
        for place, (hold_up_kg, exchange) in places_along(self.mill, route).items():
            for row in self.mill.substances:
                content = contents.get(row.substance, 0.0)
                left = self._left.setdefault((place, row.substance), _Left())
                if content:
                    left.passed_kg = 0.0
                else:
                    left.passed_kg += mass_kg
                stays = math.exp(-exchange * mass_kg / hold_up_kg) if hold_up_kg else 0.0
                left.content_mg_kg = content + (left.content_mg_kg - content) * stays

    def flush_kg(self, route: tuple[str, ...], product: str) -> float:
        """How much must be flushed before a product may take a route."""
        own = self.contents(product)
        along = places_along(self.mill, route)
        slow_kg = {place: kg / exchange for place, (kg, exchange) in along.items() if kg}
        need_kg = 0.0
        for limit in self.limits(product):
            own_mg_kg = own.get(limit.substance, 0.0)
            for place, slow in slow_kg.items():
                left = self._left.get((place, limit.substance))
                if left is not None:
                    stirred = place == route[0]
                    kg = _needed_kg(limit, left, own_mg_kg=own_mg_kg, slow_kg=slow, stirred=stirred)
                    need_kg = max(need_kg, kg)
        # what one place lets go the next ones take up: once over all of them on top
        return need_kg + sum(slow_kg.values()) if need_kg else 0.0


def _needed_kg(
    limit: Limit, left: _Left, *, own_mg_kg: float, slow_kg: float, stirred: bool
) -> float:
    """How much must pass through one place; in a mixer a flush is only diluted by its own mass."""
    if limit.kind == "level":
        spare = MARGIN_FRAC * max(0.0, (limit.level_mg_kg or 0.0) - own_mg_kg)
        over = left.content_mg_kg - own_mg_kg
        if not over > spare > 0:
            return 0.0
        return slow_kg * (over / spare - 1 if stirred else math.log(over / spare))
    must_kg = limit.flush_kg or 5 * slow_kg
    return max(0.0, must_kg - left.passed_kg)
