"""What still falls when a gate has been told to close: learned from past draws, gate by gate."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bedstone.errors import BadInput

__all__ = ["InFlight", "PastDraw", "learn_in_flight"]

LATEST: Final = 15
FEWEST: Final = 5
_TO_SD: Final = 1.4826  # median of absolute deviations to a standard deviation, for a normal error
_MOST_MOVE_SDS: Final = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PastDraw:
    """A draw of an ingredient through a gate: where the gate was told to close, and what came."""

    cut_off_kg: float
    drawn_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class InFlight:
    """Mass that falls after the gate is told to close, its spread, and from how many draws."""

    mass_kg: float
    sd_kg: float
    draws: int
    left_out: int  # draws far from the others
    says: str


def learn_in_flight(
    past: Sequence[PastDraw],
    *,
    now_kg: float | None = None,
    latest: int = LATEST,
    may_be_below_nothing: bool = False,
) -> InFlight | None:
    """Material in flight from the latest draws, so that no single draw moves it.

    Parameters
    ----------
    past : sequence of PastDraw
        Of one gate and ingredient, oldest first.
    now_kg : float, optional
        What is set now; the answer moves from it by no more than two spreads at a time. [kg]
    latest : int
        How many draws count.
    may_be_below_nothing : bool
        True where the cut-off given is the target, so that a correction of it is learned.

    Returns
    -------
    in_flight : InFlight or None
        None until there are five draws.

    Raises
    ------
    BadInput
        If a mass is no number.

    Sources
    -------
    [1] Median and median absolute deviation (any text on robust statistics).
    """
    falls = [one.drawn_kg - one.cut_off_kg for one in past[-latest:]]
    if not all(map(math.isfinite, falls)):
        raise BadInput("A past draw is no number.", seen=str(falls), allowed="numbers in kg")
    if len(falls) < FEWEST:
        return None
    middle = _median(falls)
    spread = _TO_SD * _median([abs(fall - middle) for fall in falls])
    near = [fall for fall in falls if abs(fall - middle) <= 4 * spread or spread == 0]
    says = f"median of {len(falls)} draws"
    if now_kg is not None and spread > 0:
        most = _MOST_MOVE_SDS * spread
        if abs(middle - now_kg) > most:
            says += f"; moved by {most:.2f} kg at most, more after further draws"
            middle = now_kg + math.copysign(most, middle - now_kg)
    return InFlight(
        mass_kg=middle if may_be_below_nothing else max(middle, 0.0),
        sd_kg=spread,
        draws=len(falls),
        left_out=len(falls) - len(near),
        says=says,
    )


def _median(values: Sequence[float]) -> float:
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2
