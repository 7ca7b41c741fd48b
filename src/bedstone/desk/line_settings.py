"""Settings of a pellet line for a product: heat, steam, die, cooler, what is left of additives."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from bedstone.cooling.cooler import cool
from bedstone.cooling.model import AirIn, Leaving, PelletsIn, Profile
from bedstone.desk.line_air import air_of
from bedstone.desk.line_conditioner import (
    ConditionerAnswer,
    at_temperature,
    reckon,
    set_down_c,
)
from bedstone.desk.line_factors import Calibrated, line_factors
from bedstone.desk.line_heat import (
    AdditiveHeat,
    additive_cautions,
    additives_at,
    heat_history,
)
from bedstone.desk.line_model import (
    ProductAtConditioner,
    best_rate_kg_s,
    cooler_of,
    hot_pellets,
    limits_of_product,
    lines_of_product,
    mash_before_steam_c,
    pellet_kind,
    product_at_conditioner,
    rate_at_hour_kg_s,
)
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.mill.model import Mill
from bedstone.pelleting.boiler import Boiler
from bedstone.pelleting.conditioner import Conditioned, unsteamed_c
from bedstone.pelleting.specific_heat import Proximate
from bedstone.pelleting.steam import Steam
from bedstone.quantities.line_figures import rise_words, temperature_words

__all__ = ["CAUTIONS", "LineSettings", "Setting", "settings_for"]

TRIES = 3
LITTLE = 1e-6
WET = "the mash is too wet for the die before any steam"
CAUTIONS = (
    "Steam and hot surfaces burn: open conditioner and die chamber only shut off, cold, locked out.",
    "Samples of hot pellets: gloves, insulated jug.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """The temperature to set, and what keeps it from the one that is wanted."""

    wanted_c: float | None  # by the tables, or as asked; None where steam was asked
    use_c: float
    binds: str  # empty where the wanted one stands
    runs: bool = True  # not if the mash is too wet for the die before any steam


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSettings:
    """The settings of a run, with what follows from them; all is reckoned at ``setting.use_c``."""

    product: str
    line: str
    setting: Setting
    rate_kg_s: float  # of mash, with the liquid that its formula puts in at the conditioner
    mash_c: float
    mash_moisture_wb: float
    made_of: Proximate  # the mash before steam
    usual: tuple[str, ...]  # of its composition, for want of an analysis
    specific_heat_j_kg_k: float
    steam: Steam
    conditioned: Conditioned
    residence_s: float
    boiler: Boiler
    die_moisture_max_wb: float
    most_c_for_die: float | None  # None where the mash is too wet before any steam
    die_always: bool  # it takes the mash at any temperature up to boiling
    die_c: float
    die: str
    additives: tuple[AdditiveHeat, ...]
    air_c: float | None
    air_humidity_frac: float | None
    leaving: Leaving | None
    profile: Profile | None
    factors: Calibrated
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """A product on a line in the air of a moment, before its temperature is chosen."""

    record: Record
    mill: Mill
    product: str
    line: str
    at: dt.datetime
    air: AirIn | None
    factors: Calibrated
    found: ProductAtConditioner

    @property
    def units(self) -> str:
        return self.mill.settings.units


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tried:
    """What follows from a temperature of the conditioner."""

    answer: ConditionerAnswer
    hot: PelletsIn
    leaving: Leaving | None
    profile: Profile | None
    additives: tuple[AdditiveHeat, ...]


def settings_for(
    record: Record,
    product: str,
    line: str = "",
    *,
    at: dt.datetime,
    conditioning_c: float | None = None,
    rate_kg_s: float | None = None,
    given: Mapping[str, Any] | None = None,
) -> LineSettings:
    """Settings of a product on a line in the air of a moment.

    Where the die, boiling or an additive takes less than the tables want, the setting is the
    hottest that all of them take, and says what binds.

    Parameters
    ----------
    record : Record
        The mill's record.
    product, line : str
        The line may be left out where the product has one.
    at : datetime
        The moment of the run.
    conditioning_c : float, optional
        As it was read: reckoned at it whatever binds. [degrees C]
    rate_kg_s : float, optional
        Another rate than the tables have. [kg/s]
    given : mapping, optional
        Fields of ``AskedOfConditioner`` that somebody typed, before those of the tables; a wanted
        temperature or a steam rate among them is reckoned with whatever binds.

    Raises
    ------
    BadInput
        If the line is none of the product's, or what was typed cannot be reached.
    NoAnswer
        If so much steam as was typed would not condense.
    Unknown
        If product, pellets, or conditioner are not in the tables.
    """
    mill = current_mill(record)
    line = _line(mill, product, line)
    hour = at.replace(minute=0, second=0, microsecond=0)
    known = weather_by_hour(record).get(hour)
    air = None if known is None else air_of(mill, known[-1])
    typed = dict(given or {})
    local = at.astimezone(mill.settings.zone).hour
    rate = rate_kg_s or rate_at_hour_kg_s(mill, product, line, local)
    outside_c = None if air is None else air.temperature_c
    found = product_at_conditioner(
        mill,
        product,
        line,
        rate_kg_s=rate,
        mash_c=mash_before_steam_c(mill, line, outside_c),
    )
    if typed.get("steam_kg_s") is not None:
        typed.setdefault("wanted_c", None)
    run = _Run(
        record=record,
        mill=mill,
        product=product,
        line=line,
        at=at,
        air=air,
        factors=line_factors(record, line),
        found=replace(found, asked=replace(found.asked, **typed)),
    )
    if conditioning_c is not None:
        made = at_temperature(run.found.chamber(run.units), conditioning_c)
        setting = Setting(wanted_c=conditioning_c, use_c=made.temperature_c, binds="")
        tried = _tried(run, made)
    elif {"wanted_c", "steam_kg_s"} & typed.keys():
        tried = _tried(run)
        use_c = tried.answer.made.temperature_c
        setting = Setting(wanted_c=run.found.asked.wanted_c, use_c=use_c, binds="")
    else:
        setting, tried = _chosen(run)
    return _with_cautions(run, _settings(run, rate, setting, tried))


def _chosen(run: _Run) -> tuple[Setting, _Tried]:
    """The hottest setting up to the tables' that die, boiling and additives take."""
    chamber = run.found.chamber(run.units)
    wanted_c, coldest_c = run.found.asked.wanted_c or 0.0, unsteamed_c(chamber)
    use_c, binds = wanted_c, ""
    if wanted_c > chamber.steam.boils_c:
        use_c = set_down_c(chamber.steam.boils_c, run.units)
        binds = f"boiling binds: water boils at {temperature_words(chamber.steam.boils_c, run.units)} here"
    tried = _tried(run, at_temperature(chamber, use_c))
    most = tried.answer.most
    if most is None:
        return Setting(wanted_c=wanted_c, use_c=use_c, binds=WET, runs=False), tried
    if tried.answer.too_wet:
        use_c = max(set_down_c(most.temperature_c, run.units), coldest_c)
        binds = (
            f"the die binds: hotter than {temperature_words(use_c, run.units)} the mash is wetter than "
            f"the {100 * run.found.asked.die_moisture_wb:.1f} % it takes"
        )
        tried = _tried(run, at_temperature(chamber, use_c))
    for _ in range(TRIES):
        short = _short(tried, use_c, coldest_c)
        if short is None:
            break
        use_c = set_down_c(short.hottest_c or use_c, run.units)
        binds = f"{short.what} binds: surely kept up to {temperature_words(use_c, run.units)}"
        tried = _tried(run, at_temperature(chamber, use_c))
    return Setting(wanted_c=wanted_c, use_c=use_c, binds=binds), tried


def _short(tried: _Tried, use_c: float, coldest_c: float) -> AdditiveHeat | None:
    """The additive that asks for the coldest setting of those of which too little is left."""
    short = [
        row
        for row in tried.additives
        if not row.keeps and row.hottest_c is not None and coldest_c < row.hottest_c < use_c
    ]
    return min(short, key=lambda row: row.hottest_c or 0.0, default=None)


def _tried(run: _Run, made: Conditioned | None = None) -> _Tried:
    """What follows from a conditioner's outlet, or from what was typed."""
    mill, found = run.mill, run.found
    answer = reckon(found.asked, run.units, liquid=found.liquid, made=made)
    hot = hot_pellets(mill, run.product, answer.made)
    leaving, profile = _cooled(mill, run.product, run.line, hot, run.air, run.factors)
    history = heat_history(
        answer.made.temperature_c, answer.inside_s, hot.temperature_c, leaving, profile
    )
    day = run.at.astimezone(mill.settings.zone).date()
    return _Tried(
        answer=answer,
        hot=hot,
        leaving=leaving,
        profile=profile,
        additives=additives_at(run.record, mill, run.product, history, on=day),
    )


def _settings(run: _Run, rate_kg_s: float, setting: Setting, tried: _Tried) -> LineSettings:
    answer, most, air = tried.answer, tried.answer.most, run.air
    return LineSettings(
        product=run.product,
        line=run.line,
        setting=setting,
        rate_kg_s=rate_kg_s,
        mash_c=answer.asked.mash_c,
        mash_moisture_wb=answer.made_of.water,
        made_of=answer.made_of,
        usual=run.found.usual,
        specific_heat_j_kg_k=answer.specific_heat_j_kg_k,
        steam=answer.steam,
        conditioned=answer.made,
        residence_s=answer.inside_s,
        boiler=answer.boiler,
        die_moisture_max_wb=answer.asked.die_moisture_wb,
        most_c_for_die=None if most is None else most.temperature_c,
        die_always=most is not None and most.moisture_wb < answer.asked.die_moisture_wb - LITTLE,
        die_c=tried.hot.temperature_c,
        die=run.mill.product(run.product).die,
        additives=tried.additives,
        air_c=None if air is None else air.temperature_c,
        air_humidity_frac=None if air is None else air.relative_humidity_frac,
        leaving=tried.leaving,
        profile=tried.profile,
        factors=run.factors,
        cautions=answer.cautions,
    )


def _cooled(  # noqa: PLR0917 - what goes into the cooler
    mill: Mill, product: str, line: str, hot: PelletsIn, air: AirIn | None, known: Calibrated
) -> tuple[Leaving | None, Profile | None]:
    """What leaves the cooler, where the line has one and the air is known."""
    if air is None or all(cooler.line != line for cooler in mill.coolers):
        return None, None
    pellet = pellet_kind(mill, product)
    cooler = cooler_of(mill, line, pellet, air, hot, factors=known.factors)
    return cool(cooler, pellet, hot, air, known.factors)


def _line(mill: Mill, product: str, line: str) -> str:
    lines = lines_of_product(mill, product)
    if not lines:
        raise BadInput(
            f"{mill.name_of(product)} goes over no pellet line.",
            seen=mill.product(product).route,
            allowed=", ".join(row.product for row in mill.pellets) or "no product has pellets yet",
        )
    if (line and line not in lines) or (not line and len(lines) > 1):
        raise BadInput(
            f"{mill.name_of(product)} does not go over one pellet line of that name.",
            seen=line or "no line",
            allowed=", ".join(lines),
        )
    return line or lines[0]


def _with_cautions(run: _Run, found: LineSettings) -> LineSettings:
    mill = run.mill
    said = [*CAUTIONS, *found.cautions]
    said += additive_cautions(mill, found.additives)
    limits = limits_of_product(mill, found.product)
    if found.leaving is not None and (
        found.leaving.above_ambient_dk > limits.above_ambient_dk
        or found.leaving.water_activity_frac > limits.water_activity_frac
    ):
        said.append(
            f"At this rate pellets would leave "
            f"{rise_words(found.leaving.above_ambient_dk, mill.settings.units)} above the air "
            f"at water activity {found.leaving.water_activity_frac:.2f}: slow down, or wait for "
            "better air; pellets sent warm or damp sweat and mould."
        )
    if found.leaving is not None and found.leaving.wet_duct:
        said.append("Air leaving the cooler will drip in a bare duct: look for wet dust and mould.")
    if found.rate_kg_s > best_rate_kg_s(mill, found.product, found.line) * 1.001:
        said.append("This is quicker than the tables have for the line.")
    return replace(found, cautions=tuple(said))
