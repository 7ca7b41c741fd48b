"""Which tests are asked of a load: its specification's, the usual ones, and mould toxins."""

from bedstone.mill.model import Mill, Specification
from bedstone.receiving.gate import Wanted
from bedstone.receiving.toxins import TOXINS
from bedstone.receiving.usual import usual_tests

__all__ = ["is_toxin", "tests_of"]

IN_SACKS = ("micro", "drug")
LIQUID = "liquid"
NO_MOULD = (LIQUID, "mineral")
IF_TESTED = "judged by who eats it"


def tests_of(mill: Mill, ingredient: str) -> tuple[Wanted, ...]:
    """Tests asked of an ingredient: needed at the gate first, toxins without limits last."""
    specs = [row for row in mill.specifications if row.ingredient == ingredient]
    found = [_wanted(row) for row in sorted(specs, key=lambda row: not row.at_gate)]
    row = mill.ingredient_by_code.get(ingredient)
    if row is None:
        return tuple(found)
    named = {one.test.lower() for one in found}
    if not (row.hand_add or row.ingredient_class in IN_SACKS):
        found += [
            one
            for one in usual_tests(
                is_liquid=row.ingredient_class == LIQUID,
                density_kg_m3=row.density_kg_m3,
                is_us=mill.settings.units == "US",
            )
            if one.test not in named
        ]
        found += [
            _toxin(test, unit)
            for test, unit in TOXINS.items()
            if test not in named and row.ingredient_class not in NO_MOULD
        ]
    return tuple(found)


def is_toxin(wanted: Wanted) -> bool:
    """Whether a test is one of a mould toxin that no specification asks for."""
    return wanted.source == IF_TESTED


def _toxin(test: str, unit: str) -> Wanted:
    return Wanted(
        test=test,
        unit=unit,
        minimum=None,
        maximum=None,
        reject_below=None,
        reject_above=None,
        at_gate=False,
        error_sd=None,
        risk_max_frac=0.5,
        source=IF_TESTED,
    )


def _wanted(spec: Specification) -> Wanted:
    return Wanted(
        test=spec.test,
        unit=spec.unit,
        minimum=spec.minimum,
        maximum=spec.maximum,
        reject_below=spec.reject_below,
        reject_above=spec.reject_above,
        at_gate=spec.at_gate,
        waits=spec.waits,
        error_sd=spec.repeatability_sd,
        risk_max_frac=spec.risk_max_frac,
        source=spec.source,
        method=spec.method,
    )
