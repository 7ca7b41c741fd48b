"""What the way through a pellet line leaves of live and delicate additives."""

from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.cooling.model import Leaving, Profile
from bedstone.errors import NoAnswer
from bedstone.mill.model import HeatSensitive, Mill
from bedstone.pelleting.heat_damage import (
    HeatStep,
    Kinetics,
    Survival,
    hottest_that_keeps,
    preferred,
    survival,
)
from bedstone.quantities.line_figures import temperature_words

__all__ = ["AdditiveHeat", "additive_cautions", "additives_at", "heat_history"]

DIE_S = 3.0
"""Time from the die's hole to the cooler's air, common practice, no source."""
COOLER_PARTS = 8
CURVE_C = tuple(float(c) for c in range(50, 101, 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditiveHeat:
    """What the way through the line leaves of an additive."""

    ingredient: str
    what: str
    left: Survival
    least_left_frac: float
    hottest_c: float | None  # of the conditioner, judged by the low end; None if no setting does
    curve: tuple[tuple[float, float, float, float], ...]  # conditioner, left, low, high
    source: str

    @property
    def keeps(self) -> bool:
        """Whether the middle of what is left is enough."""
        return self.left.left >= self.least_left_frac


def heat_history(
    cond_c: float, stays_s: float, hot_c: float, leaving: Leaving | None, profile: Profile | None
) -> tuple[HeatStep, ...]:
    """The way of the pellets: conditioner, die, and the cooler's bed in equal times."""
    steps = [
        HeatStep(where="conditioner", temperature_c=cond_c, time_s=stays_s),
        HeatStep(where="die", temperature_c=hot_c, time_s=DIE_S),
    ]
    if leaving is not None and profile is not None:
        count = len(profile.pellet_c)
        for part in range(COOLER_PARTS):
            at = round((part + 0.5) / COOLER_PARTS * (count - 1))
            warm = min(max(profile.pellet_c[at], 0.0), 120.0)
            step_s = leaving.residence_s / COOLER_PARTS
            steps.append(HeatStep(where="cooler", temperature_c=warm, time_s=step_s))
    return tuple(steps)


def additives_at(
    mill: Mill, product: str, history: tuple[HeatStep, ...]
) -> tuple[AdditiveHeat, ...]:
    """What a way through the line leaves of the heat-sensitive additives of a running formula."""
    formula = mill.running_formula(product)
    inside = (
        set()
        if formula is None
        else {row.ingredient for row in mill.lines_of(product, formula.version)}
    )
    rows: dict[tuple[str, str], list[HeatSensitive]] = {}
    for row in mill.heat_sensitive:
        if row.ingredient in inside:
            rows.setdefault((row.ingredient, row.what), []).append(row)
    return tuple(_additive(known, history) for known in rows.values())


def _kinetics(row: HeatSensitive) -> Kinetics:
    return Kinetics(
        additive=row.what,
        d_s=row.d_s,
        at_c=row.at_c,
        z_dk=row.z_dk,
        d_spread=row.d_spread,
        measured=row.measured,  # type: ignore[arg-type]  # one of the table's choices
        source=row.source,
    )


def _additive(known: list[HeatSensitive], history: tuple[HeatStep, ...]) -> AdditiveHeat:
    kinetics = preferred([_kinetics(row) for row in known])
    row = next(one for one in known if one.measured == kinetics.measured)
    try:
        hottest_c: float | None = hottest_that_keeps(kinetics, history, row.least_left_frac)
    except NoAnswer:
        hottest_c = None
    curve = []
    for cond_c in CURVE_C:
        moved = tuple(
            HeatStep(
                where=step.where,
                temperature_c=min(
                    max(step.temperature_c + cond_c - history[0].temperature_c, 0.0), 120.0
                )
                if step.where != "cooler"
                else step.temperature_c,
                time_s=step.time_s,
            )
            for step in history
        )
        left = survival(kinetics, moved)
        curve.append((cond_c, left.left, left.left_lo, left.left_hi))
    return AdditiveHeat(
        ingredient=row.ingredient,
        what=row.what,
        left=survival(kinetics, history),
        least_left_frac=row.least_left_frac,
        hottest_c=hottest_c,
        curve=tuple(curve),
        source=row.source,
    )


def additive_cautions(mill: Mill, additives: Sequence[AdditiveHeat]) -> list[str]:
    """Of which too little is left, up to which setting enough is, and whose numbers are weak."""
    said = []
    for row in additives:
        if not row.keeps:
            hottest = (
                "at no setting"
                if row.hottest_c is None
                else f"only up to {temperature_words(row.hottest_c, mill.settings.units)}"
            )
            said.append(
                f"{row.what} ({mill.name_of(row.ingredient)}): about {100 * row.left.left:.0f} % "
                f"({100 * row.left.left_lo:.0f} to {100 * row.left.left_hi:.0f}) is left, "
                f"{100 * row.least_left_frac:.0f} % is wanted; {hottest} in the conditioner."
            )
        if row.left.caution:
            said.append(f"{row.what}: {row.left.caution}")
    return said
