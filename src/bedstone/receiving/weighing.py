"""Gross, tare and net on a weighbridge, and how well the net is known."""

import math
from dataclasses import dataclass

__all__ = ["Weighed", "bridge_tolerance_mg", "is_as_shown", "least_load_mg", "net_weight"]

STEP_L = 500
CLASS_III_STEPS = ((500, 1), (2000, 2), (4000, 3))
CLASS_III_LAST = 5
LEAST_DIVISIONS = {"III L": 50, "III": 20}
OFF_FRAC = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """A net mass with its uncertainty. Masses are whole milligrams."""

    gross_mg: int
    tare_mg: int
    net_mg: int
    net_sd_mg: int


def bridge_tolerance_mg(load_mg: int, division_mg: int, *, scale_class: str) -> int:
    """Maintenance tolerance of a weighbridge at a load, each way.

    Parameters
    ----------
    load_mg : int
        Load on it. [mg]
    division_mg : int
        Scale division. [mg]
    scale_class : str
        "III L" or "III".

    Returns
    -------
    tolerance_mg : int
        Mass that the reading may be off, each way. [mg]

    Raises
    ------
    ValueError
        If the load is below nothing, the division not above nothing, or the class unknown.

    Examples
    --------
    80,000 lb on a division of 20 lb are 4,000 divisions, so 8 divisions, 160 lb (counted in lb):

    >>> bridge_tolerance_mg(80_000, 20, scale_class="III L")
    160

    Sources
    -------
    [1] NIST Handbook 44, section 2.20, Table 6, maintenance tolerances: class III L one division for
        each 500 divisions or fraction of them (from memory), class III 1, 2, 3, 5 divisions.
    """
    if load_mg < 0 or division_mg <= 0:
        msg = f"a load of {load_mg} on a division of {division_mg}"
        raise ValueError(msg)
    divisions = -(-load_mg // division_mg)
    if scale_class == "III L":
        return max(1, -(-divisions // STEP_L)) * division_mg
    if scale_class == "III":
        steps = next((n for most, n in CLASS_III_STEPS if divisions <= most), CLASS_III_LAST)
        return steps * division_mg
    msg = f"no class {scale_class!r}"
    raise ValueError(msg)


def least_load_mg(division_mg: int, *, scale_class: str) -> int:
    """Least load that a scale should weigh: below it a division is too large a part.

    Parameters
    ----------
    division_mg : int
        Scale division. [mg]
    scale_class : str
        "III L" or "III".

    Returns
    -------
    least_mg : int
        Mass. [mg]

    Raises
    ------
    ValueError
        If the class is unknown.

    Examples
    --------
    A truck scale that shows every 20 lb should not weigh less than 1,000 lb (counted in lb):

    >>> least_load_mg(20, scale_class="III L")
    1000

    Sources
    -------
    [1] NIST Handbook 44, section 2.20, Table 8, recommended minimum load: 50 divisions for class
        III L, 20 for class III; from memory.
    """
    if scale_class not in LEAST_DIVISIONS:
        msg = f"no class {scale_class!r}"
        raise ValueError(msg)
    return LEAST_DIVISIONS[scale_class] * division_mg


def is_as_shown(mass_mg: int, division_mg: float) -> bool:
    """Whether a scale of this division can have shown a mass: a whole number of divisions.

    Parameters
    ----------
    mass_mg : int
        What was read. [mg]
    division_mg : float
        Scale division, as exact as it is known. [mg]

    Returns
    -------
    is_shown : bool
        True within a hundredth of a division.

    Sources
    -------
    [1] A digital indication goes up by the division d: NIST Handbook 44, section 2.20, S.1.2 (from
        memory of its number).
    """
    return abs(mass_mg - round(mass_mg / division_mg) * division_mg) <= OFF_FRAC * division_mg


def net_weight(gross_mg: int, tare_mg: int, *, division_mg: int, scale_class: str) -> Weighed:
    """Net mass of a load, with a standard deviation: half the tolerance of each weighing.

    Parameters
    ----------
    gross_mg : int
        Carrier with its load. [mg]
    tare_mg : int
        Carrier after unloading. [mg]
    division_mg : int
        Scale division. [mg]
    scale_class : str
        "III L" or "III".

    Returns
    -------
    weighed : Weighed
        Gross, tare, net and the standard deviation of the net.

    Raises
    ------
    ValueError
        If the net is not above nothing, or a mass below nothing.

    Sources
    -------
    [1] As :func:`bridge_tolerance_mg`; that a tolerance is two standard deviations is common
        practice, no source.
    """
    if tare_mg < 0 or gross_mg <= tare_mg:
        msg = f"gross {gross_mg} and tare {tare_mg} leave no net"
        raise ValueError(msg)
    parts = [
        bridge_tolerance_mg(load, division_mg, scale_class=scale_class) / 2
        for load in (gross_mg, tare_mg)
    ]
    return Weighed(
        gross_mg=gross_mg,
        tare_mg=tare_mg,
        net_mg=gross_mg - tare_mg,
        net_sd_mg=round(math.hypot(*parts)),
    )
