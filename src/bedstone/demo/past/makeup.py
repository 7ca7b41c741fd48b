"""What simulated feed is truly made of: each load has its own analysis, and it goes where mass goes.

A place is taken as well mixed, which is cruder than layers and apart from them on purpose.
"""

import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from bedstone.mill.model import Mill

__all__ = ["MOISTURE", "Makeup"]

MOISTURE = "moisture"
MOISTURE_SD_FRAC = 0.045
UNKNOWN_SD_FRAC = 0.06

Analysis = dict[str, float]


@dataclass
class Makeup:
    """True analyses of lots and of what lies in each place, by nutrient in composition's unit."""

    mill: Mill
    dice: random.Random
    lots: dict[str, Analysis] = field(default_factory=dict)
    batches: dict[str, tuple[int, Analysis]] = field(default_factory=dict)
    _there: dict[tuple[str, str], Analysis] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Read the usual analysis of each ingredient and how far lots differ."""
        self._usual: dict[str, dict[str, tuple[float, float]]] = {}
        for row in self.mill.composition:
            sd = row.sd if row.sd is not None else UNKNOWN_SD_FRAC * row.mean
            self._usual.setdefault(row.ingredient, {})[row.nutrient] = (row.mean, sd)
        for item in self.mill.ingredients:
            moisture = 100 * item.moisture_wb
            usual = self._usual.setdefault(item.ingredient, {})
            usual.setdefault(MOISTURE, (moisture, MOISTURE_SD_FRAC * moisture))

    def loaded(
        self, lot: str, material: str, *, place: str, there_mg: int, mass_mg: int
    ) -> Analysis:
        """A lot comes into a place where so much lay; returns its true analysis."""
        analysis = {
            nutrient: max(0.0, self.dice.gauss(mean, sd))
            for nutrient, (mean, sd) in self._usual.get(material, {}).items()
        }
        self.lots[lot] = analysis
        self.put(place, material, analysis, there_mg=there_mg, mass_mg=mass_mg)
        return analysis

    def put(
        self,
        place: str,
        material: str,
        analysis: Mapping[str, float],
        *,
        there_mg: int,
        mass_mg: int,
    ) -> None:
        """Mix so much of an analysis into what lies in a place."""
        key = (place, material)
        self._there[key] = blended(
            [(max(0, there_mg), self._there.get(key, {})), (max(0, mass_mg), analysis)]
        )

    def of(self, place: str, material: str) -> Analysis:
        """The true analysis of what lies in a place; the usual one where none ever came."""
        found = self._there.get((place, material))
        if found is not None:
            return found
        return {name: mean for name, (mean, _) in self._usual.get(material, {}).items()}

    def mixed(self, batch: str, parts: Iterable[tuple[int, Mapping[str, float]]]) -> None:
        """A batch is mixed of masses with their analyses."""
        rows = list(parts)
        self.batches[batch] = (sum(mass for mass, _ in rows), blended(rows))

    def of_batches(self, batches: Iterable[str]) -> Analysis:
        """The true analysis of batches together."""
        return blended([self.batches[batch] for batch in batches])


def blended(parts: Iterable[tuple[int, Mapping[str, float]]]) -> Analysis:
    """The analysis of masses together; a nutrient that one does not name is none of it."""
    rows = [(mass, analysis) for mass, analysis in parts if mass > 0]
    total = sum(mass for mass, _ in rows)
    names = sorted({name for _, analysis in rows for name in analysis})
    return {
        name: sum(mass * analysis.get(name, 0.0) for mass, analysis in rows) / total
        for name in names
    }
