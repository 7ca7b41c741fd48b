"""How long mash stays in a conditioner, and how full it runs for that."""

import math

from bedstone.errors import BadInput, NoAnswer

__all__ = ["chamber_m3", "fill_for", "residence_s"]


def chamber_m3(length_m: float, diameter_m: float) -> float:
    """Volume of a round conditioner from its inside measures.

    Parameters
    ----------
    length_m, diameter_m : float
        Inside. [m]

    Returns
    -------
    volume_m3 : float
        Of the cylinder; shaft and paddles are not taken off. [m3]
    """
    return math.pi / 4 * diameter_m**2 * length_m


def residence_s(volume_m3: float, fill_frac: float, bulk_kg_m3: float, rate_kg_s: float) -> float:
    """How long mash stays in the conditioner.

    Parameters
    ----------
    volume_m3 : float
        Of the chamber. [m3]
    fill_frac : float
        How full it runs. [0 to 1]
    bulk_kg_m3 : float
        Bulk density of the hot mash. [kg/m3]
    rate_kg_s : float
        Mass that leaves. [kg/s]

    Returns
    -------
    time_s : float
        Mean time. [s]

    Raises
    ------
    BadInput
        If a number is not above nothing, or the fill above 1.

    Sources
    -------
    [1] Hold-up over throughput. Usual: 12 to 18 s short, 30 s long conditioners (trade press).
    """
    if min(volume_m3, bulk_kg_m3, rate_kg_s) <= 0 or not 0 < fill_frac <= 1:
        raise BadInput(
            "A conditioner has volume, fill, density and rate.",
            seen=f"{volume_m3:g} m3, {fill_frac:g}, {bulk_kg_m3:g} kg/m3, {rate_kg_s:g} kg/s",
            allowed="all above 0, fill up to 1",
        )
    return fill_frac * volume_m3 * bulk_kg_m3 / rate_kg_s


def fill_for(volume_m3: float, wanted_s: float, bulk_kg_m3: float, rate_kg_s: float) -> float:
    """How full a conditioner must run for mash to stay a wanted time: the inverse of :func:`residence_s`.

    Parameters
    ----------
    volume_m3, bulk_kg_m3, rate_kg_s
        As :func:`residence_s` takes them.
    wanted_s : float
        Mean time wanted. [s]

    Returns
    -------
    fill_frac : float
        Up to 1. [0 to 1]

    Raises
    ------
    NoAnswer
        If even a full one lets the mash through sooner.

    Sources
    -------
    [1] As :func:`residence_s`.
    """
    most_s = residence_s(volume_m3, 1.0, bulk_kg_m3, rate_kg_s)
    if wanted_s > most_s:
        raise NoAnswer(
            "The conditioner is too small for mash to stay that long at this rate.",
            seen=f"{wanted_s:.0f} s, which would fill it to {100 * wanted_s / most_s:.0f} %",
            allowed=f"up to {most_s:.0f} s, when it is full",
            do="Run slower, or take a longer conditioner.",
        )
    return wanted_s / most_s
