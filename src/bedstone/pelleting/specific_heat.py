"""Heat that a mash takes up, from what it is made of."""

from dataclasses import dataclass
from typing import Final

from bedstone.errors import BadInput

__all__ = ["TYPICAL_FEED", "Proximate", "mash_heat_j_kg", "specific_heat_j_kg_k"]

# J/(kg K) at t degrees C: constant, linear and square coefficient
_CHOI_OKOS: Final = {
    "water": (4176.2, -0.090864, 0.0054731),
    "protein": (2008.2, 1.2089, -0.0013129),
    "fat": (1984.2, 1.4733, -0.0048008),
    "carbohydrate": (1548.8, 1.9625, -0.0059399),
    "fibre": (1845.9, 1.8306, -0.0046509),
    "ash": (1092.6, 1.8896, -0.0036817),
}
_CLOSE: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Proximate:
    """Composition of a mash in shares of its mass as it is; they add up to 1."""

    water: float
    protein: float
    fat: float
    carbohydrate: float  # nitrogen-free extract
    fibre: float
    ash: float

    def __post_init__(self) -> None:
        """Refuse shares that are no shares, or do not add up."""
        shares = self.shares
        if min(shares) < 0 or abs(sum(shares) - 1) > _CLOSE:
            raise BadInput(
                "The composition of a mash must add up.",
                seen=", ".join(f"{share:g}" for share in shares),
                allowed="shares from 0 to 1 that add up to 1",
                do="Give water, protein, fat, carbohydrate, fibre and ash as fed.",
            )

    @property
    def shares(self) -> tuple[float, ...]:
        """Water, protein, fat, carbohydrate, fibre and ash, in this order."""
        return self.water, self.protein, self.fat, self.carbohydrate, self.fibre, self.ash

    def with_water(self, water: float) -> "Proximate":
        """The same dry matter at another water content."""
        scale = (1 - water) / (1 - self.water)
        return Proximate(
            water=water,
            protein=self.protein * scale,
            fat=self.fat * scale,
            carbohydrate=self.carbohydrate * scale,
            fibre=self.fibre * scale,
            ash=1 - water - scale * (self.protein + self.fat + self.carbohydrate + self.fibre),
        )


TYPICAL_FEED: Final = Proximate(
    water=0.12, protein=0.18, fat=0.04, carbohydrate=0.54, fibre=0.06, ash=0.06
)
"""A usual compound feed, for whoever has no analysis (common practice, no source)."""


def mash_heat_j_kg(mash: Proximate, from_c: float, to_c: float) -> float:
    """Heat to bring a kilogram of mash from one temperature to another.

    Parameters
    ----------
    mash : Proximate
        What it is made of.
    from_c, to_c : float
        Temperatures between -20 and 110. [degrees C]

    Returns
    -------
    heat_j_kg : float
        Joule for each kilogram as it is.

    Sources
    -------
    [1] Y. Choi, M. R. Okos: specific heats of food components (1986), as printed in two course
        notes; the term of fibre from memory. The linear short formula 0.837 + 3.348 w (Siebel) is
        not used: at 12 % water it gives 1.24 kJ/(kg K) where measured meals have 1.6 to 2.4.
    """
    heat = 0.0
    for share, (constant, linear, square) in zip(mash.shares, _CHOI_OKOS.values(), strict=True):
        heat += share * (
            constant * (to_c - from_c)
            + linear / 2 * (to_c**2 - from_c**2)
            + square / 3 * (to_c**3 - from_c**3)
        )
    return heat


def specific_heat_j_kg_k(mash: Proximate, temperature_c: float) -> float:
    """Specific heat of a mash at a temperature.

    Parameters
    ----------
    mash : Proximate
        What it is made of.
    temperature_c : float
        Between -20 and 110. [degrees C]

    Returns
    -------
    heat_j_kg_k : float
        Joule for each kilogram as it is and kelvin.

    Sources
    -------
    [1] As :func:`mash_heat_j_kg`.
    """
    heat = 0.0
    for share, (constant, linear, square) in zip(mash.shares, _CHOI_OKOS.values(), strict=True):
        heat += share * (constant + linear * temperature_c + square * temperature_c**2)
    return heat
