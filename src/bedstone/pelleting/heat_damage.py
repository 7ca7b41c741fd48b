"""What heat leaves of live and delicate additives, and what is to be put in to make up for it.

Loss is of the first order with a D value (seconds to a tenth) at a reference temperature and a z
value (kelvins that change D tenfold). Values from a laboratory bath overstate the loss in a mill
tenfold, so each set says where it was measured, and mill values are preferred.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from bedstone.errors import BadInput, NoAnswer

__all__ = [
    "PILOT_MILL_SURROGATE",
    "HeatStep",
    "Kinetics",
    "Survival",
    "hottest_that_keeps",
    "preferred",
    "survival",
]

Measured = Literal["this mill", "a pilot mill", "a laboratory bath", "from memory"]
_BEST_FIRST: Final[tuple[Measured, ...]] = (
    "this mill",
    "a pilot mill",
    "a laboratory bath",
    "from memory",
)
_NORMAL_90: Final = 1.6448536269514722
_COLDEST_C: Final = 0.0
_HOTTEST_C: Final = 120.0
_SETTABLE_DK: Final = 1e-6  # far below what anybody can set
_NOTHING_LEFT: Final = 15.0  # powers of ten


@dataclass(frozen=True, slots=True, kw_only=True)
class Kinetics:
    """First-order loss of an additive.

    ``d_s`` is the time to a tenth at ``at_c``; ``d_spread`` is the factor within which D lies
    nine times in ten (2 says from half to double); ``z_dk`` with its standard deviation.
    """

    additive: str
    d_s: float
    at_c: float
    z_dk: float
    d_spread: float = 2.0
    z_sd_dk: float = 0.0
    measured: Measured
    source: str

    def __post_init__(self) -> None:
        """Refuse kinetics that cannot be."""
        if self.d_s <= 0 or self.z_dk <= 0 or self.d_spread < 1 or self.z_sd_dk < 0:
            raise BadInput(
                f"Heat kinetics of {self.additive} cannot be right.",
                seen=f"D {self.d_s:g} s, z {self.z_dk:g} K, spread {self.d_spread:g}",
                allowed="D and z above 0, spread 1 or more",
            )


PILOT_MILL_SURROGATE: Final = Kinetics(
    additive="Enterococcus faecium (surrogate)",
    d_s=135.4,
    at_c=70.0,
    z_dk=32.7,
    d_spread=1.5,
    measured="a pilot mill",
    source=(
        "D 135.4 s at 70 C and 47.1 s at 85 C in a pilot mill, 115 s of conditioning (Coe et al. "
        "2025, Poultry Science 104:104998); z from these two. The spread is ours."
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatStep:
    """A stretch of the way at one temperature: conditioner, die, cooler."""

    where: str
    temperature_c: float
    time_s: float

    def __post_init__(self) -> None:
        """Refuse a stretch that cannot be."""
        if not _COLDEST_C <= self.temperature_c <= _HOTTEST_C or self.time_s < 0:
            raise BadInput(
                f"Heat in {self.where} cannot be right.",
                seen=f"{self.temperature_c:g} degrees C for {self.time_s:g} s",
                allowed=f"{_COLDEST_C:g} to {_HOTTEST_C:g} degrees C, time 0 or more",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Survival:
    """What is left, with the interval that holds nine times in ten."""

    additive: str
    left: float
    left_lo: float
    left_hi: float
    logs_lost: float
    overage: float  # put in, for each unit that must be left
    overage_hi: float
    by_step: tuple[tuple[str, float], ...]  # logs lost in each
    caution: str


def survival(kinetics: Kinetics, history: Sequence[HeatStep]) -> Survival:
    """What a temperature history leaves of an additive.

    Parameters
    ----------
    kinetics : Kinetics
        Of the additive.
    history : sequence of HeatStep
        Where, how hot, how long.

    Returns
    -------
    survival : Survival
        Share left, low and high, and the overage that makes up for the loss.

    Sources
    -------
    [1] log10 S = -sum(t / D(T)), D(T) = D_ref 10^((T_ref - T) / z): the thermal-death model of
        Bigelow, as restated for dry feeds by Liu et al.
    """
    logs = _logs(kinetics, history, kinetics.d_s, kinetics.z_dk)
    ends = [
        sum(_logs(kinetics, history, kinetics.d_s * d, kinetics.z_dk + z))
        for d in (1 / kinetics.d_spread, kinetics.d_spread)
        for z in (-_NORMAL_90 * kinetics.z_sd_dk, _NORMAL_90 * kinetics.z_sd_dk)
    ]
    lost = sum(logs)
    return Survival(
        additive=kinetics.additive,
        left=10**-lost,
        left_lo=10 ** -max(ends),
        left_hi=10 ** -min(ends),
        logs_lost=lost,
        overage=_power(lost),
        overage_hi=_power(max(ends)),
        by_step=tuple((step.where, one) for step, one in zip(history, logs, strict=True)),
        caution=_caution(kinetics),
    )


def _power(logs: float) -> float:
    """Ten to a power, without bound where nothing is left."""
    return 10**logs if logs < _NOTHING_LEFT else math.inf


def _logs(kinetics: Kinetics, history: Sequence[HeatStep], d_s: float, z_dk: float) -> list[float]:
    """Powers of ten lost in each step; z is kept above 1 K."""
    z_dk = max(z_dk, 1.0)
    return [
        step.time_s / (d_s * 10 ** ((kinetics.at_c - step.temperature_c) / z_dk))
        for step in history
    ]


def _caution(kinetics: Kinetics) -> str:
    if kinetics.measured == "a laboratory bath":
        return (
            "Measured in a laboratory bath, which overstates the loss in a mill, tenfold where "
            "both were measured (D 18 s at 75 C in a bath, 135 s at 70 C in a pilot mill)."
        )
    if kinetics.measured == "from memory":
        return "Kinetics from memory: have the additive's maker confirm them before relying on it."
    return ""


def preferred(known: Sequence[Kinetics]) -> Kinetics:
    """Of several kinetics of an additive, those measured nearest to this mill.

    Parameters
    ----------
    known : sequence of Kinetics
        At least one.

    Returns
    -------
    kinetics : Kinetics
        The mill's own, else a pilot mill's, else a bath's, else those from memory.

    Raises
    ------
    BadInput
        If there are none.
    """
    if not known:
        raise BadInput(
            "Nothing is known of how the additive takes heat.",
            seen="no kinetics",
            allowed="D and z from its maker or from the mill's own assays",
        )
    return min(known, key=lambda one: _BEST_FIRST.index(one.measured))


def hottest_that_keeps(
    kinetics: Kinetics,
    history: Sequence[HeatStep],
    least_left: float,
    *,
    cautious: bool = True,
) -> float:
    """The hottest conditioner at which enough is left, die and cooler hotter by as much.

    Parameters
    ----------
    kinetics : Kinetics
        Of the additive.
    history : sequence of HeatStep
        The way at the present setting; its first step is the conditioner, and later steps keep
        their distance from it as far as they are above it.
    least_left : float
        Share that must be left, above 0 and below 1. [0 to 1]
    cautious : bool
        Judges by the low end of what is left, else by the middle.

    Returns
    -------
    temperature_c : float
        Of the conditioner. [degrees C]

    Raises
    ------
    BadInput
        If the share is no share, or there is no history.
    NoAnswer
        If even a cold conditioner leaves too little.

    Sources
    -------
    [1] As :func:`survival`, by halving the interval.
    """
    if not 0 < least_left < 1 or not history:
        raise BadInput(
            "A share that must be left lies between 0 and 1, and there is a way to go.",
            seen=f"{least_left:g}, {len(history)} steps",
            allowed="above 0 and below 1; one step or more",
        )

    def left_at(conditioner_c: float) -> float:
        found = survival(kinetics, _moved(history, conditioner_c))
        return found.left_lo if cautious else found.left

    low_c, high_c = 20.0, 110.0
    if left_at(low_c) < least_left:
        raise NoAnswer(
            f"{kinetics.additive} would not keep {100 * least_left:g} % at any setting.",
            seen=f"{100 * left_at(low_c):.3g} % at {low_c:g} degrees C",
            allowed=f"{100 * least_left:g} %",
            do="Put it on after the cooler, or take another form of it.",
        )
    if left_at(high_c) >= least_left:
        return high_c
    while high_c - low_c > _SETTABLE_DK:
        middle = (low_c + high_c) / 2
        if left_at(middle) >= least_left:
            low_c = middle
        else:
            high_c = middle
    return math.floor(low_c * 1e4) / 1e4


def _moved(history: Sequence[HeatStep], conditioner_c: float) -> list[HeatStep]:
    """The way at another conditioner: what was hotter keeps its distance, what was colder stays."""
    now_c = history[0].temperature_c
    return [
        HeatStep(
            where=step.where,
            temperature_c=min(
                max(
                    step.temperature_c + conditioner_c - now_c
                    if step.temperature_c >= now_c
                    else min(step.temperature_c, conditioner_c),
                    _COLDEST_C,
                ),
                _HOTTEST_C,
            ),
            time_s=step.time_s,
        )
        for step in history
    ]
