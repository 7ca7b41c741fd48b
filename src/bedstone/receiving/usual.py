"""What is asked of every load that its specification does not name: moisture, warmth, density."""

from bedstone.quantities.units import FOOT_M, LB_KG
from bedstone.receiving.gate import Wanted

__all__ = ["usual_tests"]

WARM_C = 38.0
DENSITY_OFF_FRAC = 0.2
LB_FT3_KG_M3 = float(LB_KG / FOOT_M**3)
NO_SOURCE = "common practice, no source"


def usual_tests(*, is_liquid: bool, density_kg_m3: float | None, is_us: bool) -> tuple[Wanted, ...]:
    """What is asked of a bulk load whatever the mill's tables say.

    Warm goods are held because they may be heating; a bulk density far from the ingredient's own
    because it may be another material, wet or full of chaff. Moisture is written down.

    Parameters
    ----------
    is_liquid : bool
        A liquid is asked for its warmth alone, and no warmth holds it.
    density_kg_m3 : float or None
        Bulk density that the mill reckons with. [kg/m3]
    is_us : bool
        Whether the mill reads in US units.

    Returns
    -------
    wanted : tuple of Wanted
        Each with limits in the unit of the mill; none of them must be known at the gate.

    Examples
    --------
    >>> [one.words for one in usual_tests(is_liquid=False, density_kg_m3=720, is_us=False)]
    ['no limit', 'at most 38 C', 'at least 576, at most 864 kg/m3']

    Sources
    -------
    [1] Both limits are common practice, no source: 38 C (100 F), a fifth of the density.
    """
    warm = WARM_C if not is_us else WARM_C * 9 / 5 + 32
    found = []
    if not is_liquid:
        found.append(_wanted("moisture", "%"))
    found.append(
        _wanted("temperature", "F" if is_us else "C", high=None if is_liquid else round(warm))
    )
    if density_kg_m3 is not None and not is_liquid:
        own = density_kg_m3 / LB_FT3_KG_M3 if is_us else density_kg_m3
        found.append(
            _wanted(
                "bulk density",
                "lb/ft3" if is_us else "kg/m3",
                low=round(own * (1 - DENSITY_OFF_FRAC), 1),
                high=round(own * (1 + DENSITY_OFF_FRAC), 1),
            )
        )
    return tuple(found)


def _wanted(test: str, unit: str, *, low: float | None = None, high: float | None = None) -> Wanted:
    return Wanted(
        test=test,
        unit=unit,
        minimum=low,
        maximum=high,
        reject_below=None,
        reject_above=None,
        at_gate=False,
        error_sd=None,
        risk_max_frac=0.5,
        source=NO_SOURCE,
    )
