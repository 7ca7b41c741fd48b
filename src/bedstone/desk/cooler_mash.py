"""What leaves a cooler held against the mash that went into the line, in the words of the mill."""

from dataclasses import dataclass

from bedstone.quantities.line_figures import rise_words, steam_words

__all__ = ["AgainstMash", "OfMash", "above_words", "against_mash", "mash_words"]

HOUR_S = 3600
SAME_POINTS = 0.05
SAME_DK = 0.28  # half a degree F


@dataclass(frozen=True, slots=True, kw_only=True)
class OfMash:
    """The mash before steam: its water, hot pellets for each kilogram of it, what it costs."""

    moisture_wb: float
    hot_share: float
    usd_per_kg: float | None  # None without a running formula and its prices


@dataclass(frozen=True, slots=True, kw_only=True)
class AgainstMash:
    """Water won or lost on the way from mash to cold pellets."""

    points: float  # above nought: pellets leave wetter than their mash
    kg_s: float  # the same by mass
    lost_usd_per_h: float | None  # of what is below the mash; None where nothing is, or no price


def against_mash(dry_kg_s: float, moisture_wb: float, mash: OfMash) -> AgainstMash:
    """Pellets of a dry flow and a moisture against their mash.

    Parameters
    ----------
    dry_kg_s : float
        Dry matter. [kg/s]
    moisture_wb : float
        Of the pellets as they leave. [kg/kg]
    mash : OfMash
        That they were made of.

    Returns
    -------
    against : AgainstMash
        What the air took of the steam's own water costs nothing; what it took of the mash's is
        sold no more.
    """
    kg_s = dry_kg_s * (moisture_wb / (1 - moisture_wb) - mash.moisture_wb / (1 - mash.moisture_wb))
    lost = None
    if kg_s < 0 and mash.usd_per_kg is not None:
        lost = -kg_s * HOUR_S * mash.usd_per_kg
    return AgainstMash(
        points=100 * (moisture_wb - mash.moisture_wb), kg_s=kg_s, lost_usd_per_h=lost
    )


def mash_words(found: AgainstMash, units: str) -> str:
    """Won or lost, in points, by the hour and, where lost, in money."""
    if abs(found.points) < SAME_POINTS:
        return "as much water as their mash"
    mass = steam_words(abs(found.kg_s), units)
    if found.points > 0:
        return f"{found.points:.1f} points more water than their mash: {mass} won"
    money = "" if found.lost_usd_per_h is None else f", {found.lost_usd_per_h:.2f} USD an hour"
    return f"{-found.points:.1f} points less water than their mash: {mass} lost{money}"


def above_words(rise_dk: float, units: str) -> str:
    """How pellets leave against the air, which drying may cool below it."""
    if rise_dk > SAME_DK:
        return f"{rise_words(rise_dk, units)} above the air"
    if rise_dk >= -SAME_DK:
        return "as warm as the air"
    return f"{rise_words(-rise_dk, units)} below the air, which their drying does"
