"""What heat leaves of live and delicate additives, and what is to be put in to make up for it.

Loss is of the first order with a D value (seconds to a tenth) at a reference temperature and a z
value (kelvins that change D tenfold). Values from a laboratory bath overstate the loss in a mill
five times, so each set says where it was measured, mill values are preferred, and a bath's
interval reaches to what a mill would have shown.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from bedstone.errors import BadInput, NoAnswer

__all__ = [
    "HeatStep",
    "Kinetics",
    "Measured",
    "Survival",
    "hottest_that_keeps",
    "moved_to",
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
_HEAT_FROM_C: Final = 45.0
"""Colder than this nothing is counted, unless the kinetics were measured colder: vitamins A and D3
of a premix were stable for 30 days at 39.5 C (txaa143), where D and z of a mill's temperatures,
carried on, would have left nothing after a few days. That it begins at 45 C is ours."""
_BATH_OVERSTATES: Final = 5.3
"""D of a surrogate at 75 C: 18.1 s in a bath (Coe et al. 2022, Poultry Science 101:101976), 95 s in
a pilot mill by 135.4 s at 70 C and 47.1 s at 85 C (Coe et al. 2025, Poultry Science 104:104998)."""
_LEAST_Z_DK: Final = 1.0
_Z_SD_PART: Final = 0.2
_HOTTEST_SETTING_C: Final = 105.0  # the most that the pellets table takes
_SETTABLE_DK: Final = 1e-6  # far below what anybody can set
_NOTHING_LEFT: Final = 15.0  # powers of ten


@dataclass(frozen=True, slots=True, kw_only=True)
class Kinetics:
    """First-order loss of an additive.

    ``d_s`` is the time to a tenth at ``at_c``; ``d_spread`` is the factor within which D lies
    nine times in ten (2 says from half to double); ``z_dk`` with its standard deviation, a fifth
    of it where that is not known (our assumption, no source).
    """

    additive: str
    d_s: float
    at_c: float
    z_dk: float
    d_spread: float = 2.0
    z_sd_dk: float | None = None
    measured: Measured
    source: str

    def __post_init__(self) -> None:
        """Refuse kinetics that cannot be."""
        known = (self.d_s, self.at_c, self.z_dk, self.d_spread, self.z_sd_dk or 0.0)
        if (
            not all(math.isfinite(one) for one in known)
            or self.d_s <= 0
            or self.z_dk < _LEAST_Z_DK
            or self.d_spread < 1
            or (self.z_sd_dk or 0.0) < 0
        ):
            raise BadInput(
                f"Heat kinetics of {self.additive} cannot be right.",
                seen=f"D {self.d_s:g} s, z {self.z_dk:g} K, spread {self.d_spread:g}",
                allowed="D above 0, z of 1 K or more, spread 1 or more, no spread of z below 0",
                do="look at the maker's figures, or measure before and after the conditioner",
            )

    @property
    def z_spread_dk(self) -> float:
        """Standard deviation of z, as known or as taken."""
        return _Z_SD_PART * self.z_dk if self.z_sd_dk is None else self.z_sd_dk


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
    """What is left of what was meant to be put in, with the interval that holds nine times in ten."""

    additive: str
    left: float
    left_lo: float
    left_hi: float
    logs_lost: float
    overage: float  # put in, for each unit that must be left
    overage_hi: float
    by_step: tuple[tuple[str, float], ...]  # logs lost in each part of the way
    caution: str

    @property
    def lost_by_step(self) -> tuple[tuple[str, float], ...]:
        """Part of what came into each stretch that was lost in it."""
        return tuple((where, 1 - 10**-logs) for where, logs in self.by_step)


def survival(
    kinetics: Kinetics, history: Sequence[HeatStep], *, put_in_cv_frac: float = 0.0
) -> Survival:
    """What a temperature history leaves of an additive.

    Parameters
    ----------
    kinetics : Kinetics
        Of the additive.
    history : sequence of HeatStep
        Where, how hot, how long. Steps of one name count together in the answer.
    put_in_cv_frac : float
        Standard deviation of what was put in, as a part of it: the interval holds it as well.
        [0 to 1]

    Returns
    -------
    survival : Survival
        Share left, low and high, and the overage that makes up for the loss.

    Notes
    -----
    Errors of D, z and of what was put in are taken as independent and normal in logarithms. What
    was measured in a bath may have overstated the loss: its mild end is stretched by that. Below
    45 C, or below where the kinetics were measured if that is colder, nothing is lost.

    Sources
    -------
    [1] log10 S = -sum(t / D(T)), D(T) = D_ref 10^((T_ref - T) / z): the thermal-death model of
        Bigelow, as restated for dry feeds by Liu et al.
    """
    logs = _logs(kinetics, history, kinetics.z_dk)
    lost = math.fsum(logs)
    mild, hard = _ends(kinetics, history, lost)
    put_in = _NORMAL_90 * put_in_cv_frac / math.log(10)
    least = lost + math.hypot(hard - lost, put_in)
    by_step: dict[str, float] = {}
    for step, one in zip(history, logs, strict=True):
        by_step[step.where] = by_step.get(step.where, 0.0) + one
    return Survival(
        additive=kinetics.additive,
        left=10**-lost,
        left_lo=10**-least,
        left_hi=10 ** -(lost - math.hypot(lost - mild, put_in)),
        logs_lost=lost,
        overage=_power(lost),
        overage_hi=_power(least),
        by_step=tuple(by_step.items()),
        caution=_caution(kinetics),
    )


def _power(logs: float) -> float:
    """Ten to a power, without bound where nothing is left."""
    return 10**logs if logs < _NOTHING_LEFT else math.inf


def _logs(kinetics: Kinetics, history: Sequence[HeatStep], z_dk: float) -> list[float]:
    """Powers of ten lost in each step."""
    from_c = min(_HEAT_FROM_C, kinetics.at_c)
    return [
        step.time_s / kinetics.d_s * 10 ** ((step.temperature_c - kinetics.at_c) / z_dk)
        if step.temperature_c >= from_c
        else 0.0
        for step in history
    ]


def _ends(kinetics: Kinetics, history: Sequence[HeatStep], lost: float) -> tuple[float, float]:
    """Powers of ten lost at the mild and at the hard end of D and z."""
    if lost <= 0:
        return 0.0, 0.0
    half_dk = _NORMAL_90 * kinetics.z_spread_dk
    by_z = [
        math.log(math.fsum(_logs(kinetics, history, max(kinetics.z_dk + off, _LEAST_Z_DK))) / lost)
        for off in (-half_dk, half_dk)
    ]
    by_d = math.log(kinetics.d_spread)
    bath = _BATH_OVERSTATES if kinetics.measured == "a laboratory bath" else 1.0
    mild = math.hypot(by_d, min(0.0, *by_z)) + math.log(bath)
    return lost * math.exp(-mild), lost * math.exp(math.hypot(by_d, max(0.0, *by_z)))


def _caution(kinetics: Kinetics) -> str:
    if kinetics.measured == "a laboratory bath":
        return (
            "Measured in a laboratory bath, which overstates the loss in a mill: five times where "
            "both were measured (D at 75 C: 18 s in a bath, 95 s in a pilot mill). The high end "
            "allows for that."
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
    put_in_cv_frac: float = 0.0,
) -> float:
    """The hottest conditioner at which surely enough is left: at the low end of the interval.

    Parameters
    ----------
    kinetics : Kinetics
        Of the additive.
    history : sequence of HeatStep
        The way at the present setting; its first step is the conditioner. The rest of it follows
        as :func:`moved_to` has it.
    least_left : float
        Share of what was meant to be put in that must be left, above 0 and below 1. [0 to 1]
    put_in_cv_frac : float
        As in :func:`survival`.

    Returns
    -------
    temperature_c : float
        Of the conditioner, at most 105. [degrees C]

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
        moved = moved_to(history, conditioner_c)
        return survival(kinetics, moved, put_in_cv_frac=put_in_cv_frac).left_lo

    low_c, high_c = 20.0, _HOTTEST_SETTING_C
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


def moved_to(history: Sequence[HeatStep], conditioner_c: float) -> tuple[HeatStep, ...]:
    """The way at another conditioner.

    What is as hot as the conditioner or hotter (the die) moves with it in full. What is colder
    (the bed of the cooler) moves less the nearer it is to the coldest of the way, which the air
    holds where it is; nothing is hotter than the die.

    Parameters
    ----------
    history : sequence of HeatStep
        The way now; its first step is the conditioner.
    conditioner_c : float
        The other setting. [degrees C]

    Returns
    -------
    moved : tuple of HeatStep
        As many steps of the same times.
    """
    now_c = history[0].temperature_c
    coldest_c = min(step.temperature_c for step in history)
    by_dk = conditioner_c - now_c
    hottest_c = max(step.temperature_c for step in history) + by_dk

    def moved(step_c: float) -> float:
        if step_c >= now_c:
            return step_c + by_dk
        part = (step_c - coldest_c) / (now_c - coldest_c)
        return min(step_c + by_dk * part, hottest_c)

    return tuple(
        HeatStep(
            where=step.where,
            temperature_c=min(max(moved(step.temperature_c), _COLDEST_C), _HOTTEST_C),
            time_s=step.time_s,
        )
        for step in history
    )
