"""A load at the gate: what is asked of it, and what the mill answers before it may unload."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.desk.arrival_row import CLEANED, LOOKS, Arrival, arrival_faults, seen_of
from bedstone.desk.arrival_tests import is_toxin, tests_of
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.errors import BadInput
from bedstone.mill.model import Mill
from bedstone.quantities.masses import shown_mass
from bedstone.receiving.cargo import Leave, MillRule, Unloading, may_unload
from bedstone.receiving.gate import Judged, Outcome, judge_test, worst_of
from bedstone.receiving.toxins import TOXINS, Eater, commodity_of, may_eat
from bedstone.receiving.weighing import Weighed, least_load_mg, net_weight

__all__ = ["Gate", "eaters_of_ingredient", "judge_arrival", "makes_feed_for"]

RUMINANTS = ("cattle", "sheep", "goat", "dairy", "beef", "deer", "buffalo", "elk")
UG_MG = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """The answer: outcome, reasons, and what follows for bins and products."""

    outcome: Outcome
    unloading: Unloading
    looks: tuple[Judged, ...]
    tests: tuple[Judged, ...]
    barred_products: Mapping[str, str]  # product to why it must not eat this lot
    barred_bins: Mapping[str, str]  # bin to why the lot must not go there
    weighed: Weighed | None
    weight_note: str = ""  # what to know of the weighing

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why it may not simply unload, worst first."""
        said = sorted((*self.looks, *self.tests), key=lambda one: -one.outcome)
        cargo = self.unloading.reasons if not self.unloading.met else ()
        return (*cargo, *(one.why for one in said if one.outcome is not Outcome.TAKE))

    @property
    def may_wait_in_bin(self) -> bool:
        """Whether all that holds it is a result that it may wait for in a bin, on hold."""
        held = [one for one in (*self.looks, *self.tests) if one.outcome is Outcome.HOLD]
        return (
            self.outcome is Outcome.HOLD
            and self.unloading.met
            and all(one.may_wait for one in held)
        )


def makes_feed_for(mill: Mill) -> frozenset[str]:
    """What the mill makes feed for, in the words of the rules on earlier cargoes."""
    species = [row.species.lower() for row in mill.products]
    found = {"any"}
    if any(word in name for name in species for word in RUMINANTS):
        found.add("ruminant")
    if any("horse" in name for name in species):
        found.add("horse")
    return frozenset(found)


def judge_arrival(mill: Mill, row: Arrival) -> Gate:
    """What the mill answers to a load at the gate.

    Raises
    ------
    BadInput
        With every fault, if something typed cannot be.
    """
    faults = arrival_faults(mill, row)
    if faults:
        raise BadInput(
            "This load cannot be judged as it was typed; nothing was written.", faults=faults
        )
    own = [
        MillRule(
            cargo=rule.cargo,
            ingredient=rule.ingredient,
            loads_back=rule.loads_back,
            leave=Leave[rule.verdict.upper()],
            why=rule.why,
            source=rule.source,
        )
        for rule in mill.cargo_rules
    ]
    unloading = may_unload(
        row.cargoes,
        makes=makes_feed_for(mill),
        ingredient=row.ingredient,
        cleaned=CLEANED[row.cleaned],
        mill_rules=own,
    )
    looks = tuple(_look(name, getattr(row, name)) for name in LOOKS)
    tests = _tests(mill, row)
    products = _barred_products(mill, row)
    cargo = Outcome.TAKE if unloading.met else (
        Outcome.REJECT if unloading.needed is Leave.REJECT else Outcome.HOLD
    )  # fmt: skip
    outcome = max(cargo, worst_of(looks), worst_of(tests))
    return Gate(
        outcome=outcome,
        unloading=unloading,
        looks=looks,
        tests=tests,
        barred_products=products,
        barred_bins=_barred_bins(mill, row, products),
        weighed=_weighed(mill, row),
        weight_note=_weight_note(mill, row),
    )


def _look(name: str, answer: str) -> Judged:
    if not answer:
        return Judged(test=name, outcome=Outcome.HOLD, why=f"{name} not looked at yet")
    outcome, why = LOOKS[name][answer]
    return Judged(test=name, outcome=outcome, why=why)


def _tests(mill: Mill, row: Arrival) -> tuple[Judged, ...]:
    by_test = {one.test: one for one in row.tests}
    found = []
    for wanted in tests_of(mill, row.ingredient):
        seen = by_test.get(wanted.test)
        if seen is not None and seen.unit != wanted.unit:
            raise BadInput(
                f"The {wanted.test} was given in another unit than it is asked in.",
                seen=seen.unit,
                allowed=wanted.unit,
            )
        priced = seen is not None and any(
            step.ingredient == row.ingredient
            and step.test == wanted.test
            and step.from_value <= seen.value < step.to_value
            for step in mill.price_steps
        )
        if seen is not None or not is_toxin(wanted):
            found.append(judge_test(wanted, seen_of(seen) if seen else None, priced=priced))
    return tuple(found)


def _grown(mill: Mill, ingredient: str) -> frozenset[str]:
    """The ingredient and what is ground from it."""
    ground = {one.ingredient for one in mill.ingredients if one.ground_from == ingredient}
    return frozenset({ingredient, *ground})


def eaters_of_ingredient(mill: Mill, ingredient: str) -> tuple[Eater, ...]:
    """The running formulas that hold the ingredient, each with its share."""
    family = _grown(mill, ingredient)
    found = []
    for product in mill.products:
        running = mill.running_formula(product.product)
        lines = mill.lines_of(product.product, running.version) if running else ()
        share = math.fsum(line.parts_frac for line in lines if line.ingredient in family)
        if share > 0:
            found.append(
                Eater(
                    product=product.product,
                    species=product.species,
                    life_stage=product.life_stage,
                    share_frac=share,
                )
            )
    return tuple(found)


def _barred_products(mill: Mill, row: Arrival) -> dict[str, str]:
    ingredient = mill.ingredient_by_code[row.ingredient]
    barred: dict[str, str] = {}
    for seen in row.tests:
        toxin = seen.test.lower()
        if toxin not in TOXINS:
            continue
        value = seen.value / UG_MG if seen.unit == "ug/kg" else seen.value
        commodity = commodity_of(toxin, ingredient.library, ingredient.ingredient_class)
        for eater in eaters_of_ingredient(mill, row.ingredient):
            why = may_eat(toxin, value, commodity, eater)
            if why:
                barred.setdefault(eater.product, why)
    return barred


def _barred_bins(mill: Mill, row: Arrival, products: Mapping[str, str]) -> dict[str, str]:
    """Bins from which every feed with this ingredient is made: shut while one of them is barred."""
    if not products:
        return {}
    names = ", ".join(mill.name_of(code) for code in products)
    why = f"what lies there goes into {names} too, which must not eat this lot"
    return {one.bin: why for one in mill.bins if one.holds == row.ingredient}


def _weighed(mill: Mill, row: Arrival) -> Weighed | None:
    if not row.gross_mg:
        return None
    bridge = next(one for one in mill.weighbridges if one.weighbridge == row.weighbridge)
    return net_weight(
        row.gross_mg,
        row.tare_mg,
        division_mg=max(1, round(bridge.division_kg * MG_IN_KG)),
        scale_class=bridge.scale_class,
    )


def _weight_note(mill: Mill, row: Arrival) -> str:
    """What a load too light for its scale, or lighter than its ticket, asks to be said."""
    if not row.gross_mg:
        return ""
    units, net_mg = mill.settings.units, row.gross_mg - row.tare_mg
    bridge = next(one for one in mill.weighbridges if one.weighbridge == row.weighbridge)
    division_mg = max(1, round(bridge.division_kg * MG_IN_KG))
    least_mg = least_load_mg(division_mg, scale_class=bridge.scale_class)
    said = []
    if net_mg < least_mg:
        said.append(
            f"Light for this scale: its class asks for {shown_mass(least_mg, units=units)} or more "
            "(NIST Handbook 44, section 2.20, Table 8, from memory); weigh it on a finer one."
        )
    if row.seller_net_mg:
        short_mg = row.seller_net_mg - net_mg
        more = "less" if short_mg >= 0 else "more"
        said.append(
            f"{shown_mass(abs(short_mg), units=units)} {more} than the seller's ticket, "
            f"{abs(short_mg) / row.seller_net_mg:.2%}."
        )
    return " ".join(said)
