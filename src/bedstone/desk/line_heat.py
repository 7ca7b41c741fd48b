"""What the way through a pellet line leaves of live and delicate additives, against the tag."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.cooling.model import Leaving, Profile
from bedstone.desk.line_tag import OnTag, Overage, overage_of, shares_inside, tag_of
from bedstone.desk.record import Record
from bedstone.errors import NoAnswer
from bedstone.mill.model import HeatSensitive, Mill
from bedstone.pelleting.heat_damage import (
    HeatStep,
    Kinetics,
    Survival,
    hottest_that_keeps,
    moved_to,
    preferred,
    survival,
)
from bedstone.quantities.line_figures import amount_words, temperature_words, ton_words
from bedstone.quantities.units import DIMENSIONS, from_si

__all__ = [
    "AdditiveHeat",
    "KnownHeat",
    "additive_cautions",
    "additives_at",
    "heat_history",
    "is_no_way",
    "left_words",
    "more_words",
    "most_words",
    "nearest_row",
    "state_words",
    "step_words",
    "unlisted_words",
]

DIE_S = 3.0
"""Time from the die's hole to the cooler's air, common practice, no source."""
COOLER_PARTS = 48
CURVE = {
    "US": tuple((float(f) - 32) / 1.8 for f in range(120, 214, 5)),
    "SI": tuple(float(c) for c in range(50, 101, 2)),
}
BOILS_C = 100.0
PCT = 100.0
MOST_TIMES = 2.0
"""An overage beyond so many times the formula's share is no figure to mix: our assumption, no source."""
FRAIL_CLASSES = ("micro", "drug")


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownHeat:
    """One row of what is known of an additive's heat damage, and what it would leave."""

    measured: str
    d_s: float
    at_c: float
    z_dk: float
    d_spread: float
    source: str
    left: Survival
    counts: bool  # the nearest to this mill


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditiveHeat:
    """What the way through the line leaves of an additive, and whether that is enough.

    Shares are of what the formula means to put in. ``least_left_frac`` is what must be left: what
    the tag guarantees of what is put in, or what the table wants where the tag says nothing.
    """

    ingredient: str
    what: str
    left: Survival
    least_left_frac: float
    hottest_c: float | None  # of the conditioner, judged by the low end; None if no setting does
    curve: tuple[tuple[float, float, float, float], ...]  # conditioner, left, low, high
    source: str
    tag: OnTag | None
    note: str  # why the tag was not held against it, or what of it is not known
    known: tuple[KnownHeat, ...]
    overage: Overage | None  # None without a tag, or where no amount would hold it

    @property
    def keeps(self) -> bool:
        """Whether the middle of what is left is enough."""
        return self.left.left >= self.least_left_frac

    @property
    def surely(self) -> bool:
        """Whether the low end of what is left is enough."""
        return self.left.left_lo >= self.least_left_frac

    @property
    def any_setting(self) -> bool:
        """Whether no mash can get too hot for it."""
        return self.hottest_c is not None and self.hottest_c >= BOILS_C


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
    record: Record, mill: Mill, product: str, history: tuple[HeatStep, ...], *, on: dt.date
) -> tuple[AdditiveHeat, ...]:
    """What a way through the line leaves of the heat-sensitive additives of a running formula.

    Parameters
    ----------
    record, mill : Record, Mill
        The record with its assays, and its tables.
    product : str
        Product.
    history : tuple of HeatStep
        As :func:`heat_history`.
    on : date
        Day of the prices.
    """
    shares = shares_inside(mill, product)
    rows: dict[tuple[str, str], list[HeatSensitive]] = {}
    for row in mill.heat_sensitive:
        if row.ingredient in shares:
            rows.setdefault((row.ingredient, row.what), []).append(row)
    found = []
    for known in rows.values():
        row = nearest_row(known)
        tag, note = tag_of(record, mill, product, row, shares=shares, on=on)
        found.append(_additive(known, row, history, tag=tag, note=note, units=mill.settings.units))
    return tuple(found)


def _kinetics(row: HeatSensitive) -> Kinetics:
    return Kinetics(
        additive=row.what,
        d_s=row.d_s,
        at_c=row.at_c,
        z_dk=row.z_dk,
        d_spread=row.d_spread,
        z_sd_dk=row.z_sd_dk,
        measured=row.measured,  # type: ignore[arg-type]  # one of the table's choices
        source=row.source,
    )


def nearest_row(known: list[HeatSensitive]) -> HeatSensitive:
    """The row of an additive whose kinetics were measured nearest to this mill."""
    best = preferred([_kinetics(row) for row in known])
    return next(row for row in known if row.measured == best.measured)


def _additive(
    known: list[HeatSensitive],
    row: HeatSensitive,
    history: tuple[HeatStep, ...],
    *,
    tag: OnTag | None,
    note: str,
    units: str,
) -> AdditiveHeat:
    kinetics = _kinetics(row)
    cv = 0.0 if tag is None else tag.put_in_cv_frac
    least = row.least_left_frac if tag is None else tag.needs_frac
    curve = []
    for cond_c in CURVE[units]:
        left = survival(kinetics, moved_to(history, cond_c), put_in_cv_frac=cv)
        curve.append((cond_c, left.left, left.left_lo, left.left_hi))
    now = survival(kinetics, history, put_in_cv_frac=cv)
    return AdditiveHeat(
        ingredient=row.ingredient,
        what=row.what,
        left=now,
        least_left_frac=least,
        hottest_c=_hottest_c(kinetics, history, least, cv),
        curve=tuple(curve),
        source=row.source,
        tag=tag,
        note=note,
        known=tuple(_known(one, history, cv, counts=one is row) for one in known),
        overage=None if tag is None else overage_of(tag, now.left_lo),
    )


def _hottest_c(
    kinetics: Kinetics, history: tuple[HeatStep, ...], least: float, cv: float
) -> float | None:
    if least >= 1:
        return None
    try:
        return hottest_that_keeps(kinetics, history, least, put_in_cv_frac=cv)
    except NoAnswer:
        return None


def _known(
    row: HeatSensitive, history: tuple[HeatStep, ...], cv: float, *, counts: bool
) -> KnownHeat:
    return KnownHeat(
        measured=row.measured,
        d_s=row.d_s,
        at_c=row.at_c,
        z_dk=row.z_dk,
        d_spread=row.d_spread,
        source=row.source,
        left=survival(_kinetics(row), history, put_in_cv_frac=cv),
        counts=counts,
    )


def left_words(row: AdditiveHeat) -> str:
    """What is in the bag against what the tag says, or the table wants; no full stop at its end."""
    left = row.left
    if row.tag is None:
        return (
            f"about {PCT * left.left:.0f} % of {row.what} is left at the bag ({PCT * left.left_lo:.0f} "
            f"to {PCT * left.left_hi:.0f} %); {PCT * row.least_left_frac:.0f} % is wanted"
        )
    put_in, unit = row.tag.put_in, row.tag.unit
    low, middle, high = (
        amount_words(put_in * one) for one in (left.left_lo, left.left, left.left_hi)
    )
    return (
        f"about {middle} {unit} of {row.tag.nutrient} is left at the bag ({low} to {high}); the tag "
        f"guarantees {amount_words(row.tag.minimum)} {unit}"
    )


def state_words(row: AdditiveHeat) -> str:
    """Whether enough is left, in a few words; no full stop at their end."""
    if row.surely:
        return "enough, also at the low end"
    if row.least_left_frac >= 1:
        return "too little is put in, even without heat"
    if row.keeps:
        return "may be too hot: enough in the middle, not at the low end"
    return "too hot for it"


def most_words(row: AdditiveHeat, units: str) -> str:
    """Up to which setting of the conditioner it is surely kept; no full stop at its end."""
    if row.hottest_c is None:
        return "no setting of the conditioner surely keeps it"
    if row.any_setting:
        return "no setting of the conditioner is too hot for it"
    return f"surely kept up to {temperature_words(row.hottest_c, units)} in the conditioner"


def is_no_way(row: AdditiveHeat) -> bool:
    """Whether more of the ingredient is no answer: far more than the formula's, or not allowed."""
    if row.tag is None or row.overage is None or row.overage.more_frac <= 0:
        return False
    return (
        row.overage.beyond_allowed
        or row.overage.share_needed_frac > MOST_TIMES * row.tag.share_frac
    )


def more_words(mill: Mill, row: AdditiveHeat) -> str:
    """What more of the ingredient would surely hold the tag, in amounts and money; empty without a
    tag.
    """
    if row.tag is None:
        return ""
    name, units = mill.name_of(row.ingredient), mill.settings.units
    now = ton_words(row.tag.share_frac, units)
    if row.overage is None:
        return f"No amount of {name} would surely hold the tag at this setting."
    if row.overage.more_frac <= 0:
        return f"The formula's {now} of {name} surely holds the tag at this setting."
    if is_no_way(row):
        times = row.overage.share_needed_frac / row.tag.share_frac
        most = row.tag.share_max_frac
        allowed = (
            ""
            if most is None
            else f", of which the inclusions table allows {ton_words(most, units)}"
        )
        return (
            f"It cannot be made up by more of {name}: that would be {times:.1f} times the formula's "
            f"{now}{allowed}, and as many times all else that it holds. Use a lower conditioner "
            "temperature, put it on after the cooler, or take a form that stands the heat."
        )
    usd = float(from_si(row.overage.more_usd_t, DIMENSIONS["usd_t"].written(units)))
    return (
        f"To hold the tag surely at this setting it would take "
        f"{ton_words(row.overage.more_frac, units)} more of {name}, beside the formula's {now}: "
        f"{usd:.2f} USD a {'ton' if units == 'US' else 't'} of feed more."
    )


def unlisted_words(mill: Mill, product: str) -> str:
    """Which small ingredients of a running formula the heat table does not know; empty if none."""
    listed = {row.ingredient for row in mill.heat_sensitive}
    names = [
        mill.name_of(code)
        for code in sorted(shares_inside(mill, product))
        if code not in listed
        and (found := mill.ingredient_by_code.get(code)) is not None
        and found.ingredient_class in FRAIL_CLASSES
    ]
    if not names:
        return ""
    return (
        f"The heat table has no row for {', '.join(names)}: what heat leaves of them nobody knows "
        "here. Vitamins, enzymes, live cultures and some drugs do lose by heat; ask the maker and "
        "add a row to heat_sensitive.csv."
    )


def step_words(row: AdditiveHeat) -> str:
    """Which part of the way cost what."""
    return ", ".join(f"{where} {PCT * lost:.0f} %" for where, lost in row.left.lost_by_step)


def _ways_out(row: AdditiveHeat) -> str:
    """What can be done where the tag may not hold at this setting."""
    if row.hottest_c is None:
        return " Put it on after the cooler, or take another form of it."
    more = "" if is_no_way(row) else "put more in, "
    return f" Set it no hotter than that, {more}or put it on after the cooler."


def additive_cautions(mill: Mill, additives: Sequence[AdditiveHeat]) -> list[str]:
    """Of which too little is left, up to which setting enough is, and whose numbers are weak."""
    said = []
    for row in additives:
        if not row.surely:
            said.append(
                f"{row.what[:1].upper()}{row.what[1:]} ({mill.name_of(row.ingredient)}), "
                f"{state_words(row)}: {left_words(row)}; {most_words(row, mill.settings.units)}."
                f"{_ways_out(row)}"
            )
        if row.left.caution:
            said.append(f"{row.what}: {row.left.caution}")
    return said
