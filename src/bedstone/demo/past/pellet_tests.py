"""What the simulated mill tests and fits beside its pellet lines: tumbling, sieves, dies, rolls.

Crude on purpose and apart from the rooms that reckon. Every coefficient is invented for the demo.
"""

import datetime as dt
import math
import random
from dataclasses import dataclass

from bedstone.demo.past.floor import Floor, to_mg
from bedstone.demo.past.pellet_line import Pelleted
from bedstone.ledger.model import Json
from bedstone.mill.model import Machine, Product

__all__ = ["PelletTests"]

STACK_UM = (4760, 3360, 2380, 1680, 1190, 840, 590, 420, 297, 210, 149, 105, 74, 53)
SAMPLE_G, SPREAD = 100.0, 2.1
NEW_SCREEN_UM = {"CORN-G": 610.0, "BARLEY-G": 660.0}
SCREEN_DAYS, WORN_UM = 19, 110.0
BOX_G, TUMBLINGS = 500.0, 3
TESTED = 0.45
USUAL = {"index": 88.0, "conditioner_c": 72.0, "size_um": 660.0, "fat": 3.5, "compression": 11.0}
RUN_SD, TUMBLE_SD = 1.1, 0.7
FITTED = (
    # day of work, line, part, die, tons on it, tons expected
    (1, "PL1", "rolls", "", 0.0, 5000.0),
    (3, "PL2", "rolls", "", 1400.0, 4500.0),
    (5, "PL2", "die", "1/4 in", 0.0, 9000.0),
)
"""Rolls and a die that were put in during the past: of the invented mill."""
TON_KG = 907.18474


@dataclass
class PelletTests:
    """Tests of pellets and of ground grain, and what was fitted to the lines."""

    floor: Floor

    def __post_init__(self) -> None:
        """Take dice of its own."""
        self._dice = self.floor.dice_for("pellet tests")

    def tumbled(
        self, run: str, product: Product, machine: Machine, made: list[Pelleted], *, at: dt.datetime
    ) -> None:
        """Pellets of some runs go into the tumbling box."""
        if not made or self._dice.random() > TESTED:
            return
        index = self._index(product, machine.machine, made, at) + self._dice.gauss(0, RUN_SD)
        kept: list[Json] = [
            round(BOX_G * min(index + self._dice.gauss(0, TUMBLE_SD), 99.5) / 100, 1)
            for _ in range(TUMBLINGS)
        ]
        self.floor.note(
            "quality.durability_tested/1",
            at=at,
            by=self.floor.who("laboratory", at),
            content={
                "run": run,
                "product": product.product,
                "line": machine.machine,
                "retained_g": kept,
                "test_g": BOX_G,
                "note": "",
            },
        )

    def _index(self, product: Product, line: str, made: list[Pelleted], at: dt.datetime) -> float:
        """Durability as it truly is: heat and long holes bind, coarse grain and fat break."""
        mill = self.floor.mill
        die = next((row for row in mill.dies if (row.die, row.line) == (product.die, line)), None)
        compression = die.effective_mm / die.hole_mm if die else USUAL["compression"]
        heat_c = sum(row.conditioner_c for row in made) / len(made)
        formula = mill.running_formula(product.product)
        lines = mill.lines_of(product.product, formula.version) if formula else ()
        fats = {r.ingredient: r.mean for r in mill.composition if r.nutrient == "crude fat"}
        fat = sum(row.parts_frac * fats.get(row.ingredient, 3.0) for row in lines)
        size_um = self._size_um("CORN-G", at)
        return (
            USUAL["index"]
            + 0.34 * (heat_c - USUAL["conditioner_c"])
            - 0.018 * (size_um - USUAL["size_um"])
            - 1.1 * (fat - USUAL["fat"])
            + 0.55 * (compression - USUAL["compression"])
        )

    @staticmethod
    def _size_um(ground: str, at: dt.datetime) -> float:
        """Screens wear, and are changed every so many days."""
        worn = at.toordinal() % SCREEN_DAYS / SCREEN_DAYS
        return NEW_SCREEN_UM.get(ground, 700.0) + WORN_UM * worn

    def sieved(self, at: dt.datetime) -> None:
        """Ground grain on the stack of sieves, twice a week."""
        for number, ground in enumerate(NEW_SCREEN_UM):
            if ground not in self.floor.mill.ingredient_by_code:
                continue
            when = at + dt.timedelta(minutes=20 * number)
            size_um = self._size_um(ground, when) * self._dice.gauss(1, 0.012)
            self.floor.note(
                "quality.sieved/1",
                at=when,
                by=self.floor.who("laboratory", when),
                content={
                    "of": ground,
                    "machine": "",
                    "openings_um": [float(one) for one in STACK_UM],
                    "retained_g": _on_sieves(size_um, self._dice),
                    "sample_g": SAMPLE_G,
                    "note": "",
                },
            )

    def fitted(self, number: int, at: dt.datetime) -> None:
        """Dies and rolls that are put in on a day of work."""
        for day, line, part, die, made_ton, expected_ton in FITTED:
            if day == number and line in self.floor.mill.machine_by_code:
                self.floor.note(
                    "pelleting.part_fitted/1",
                    at=at,
                    by=self.floor.who("pellet operator", at),
                    content={
                        "line": line,
                        "part": part,
                        "die": die,
                        "made_mg": to_mg(made_ton * TON_KG),
                        "expected_mg": to_mg(expected_ton * TON_KG),
                        "note": "",
                    },
                )


def _on_sieves(size_um: float, dice: random.Random) -> list[Json]:
    """Masses of a lognormal grind on the stack, with what a brush and a scale add."""
    below = [
        0.5 * (1 + math.erf(math.log(one / size_um) / math.log(SPREAD) / math.sqrt(2)))
        for one in STACK_UM
    ]
    parts = [upper - lower for upper, lower in zip((1.0, *below), (*below, 0.0), strict=True)]
    return [round(max(0.0, SAMPLE_G * part * dice.gauss(0.996, 0.01)), 2) for part in parts]
