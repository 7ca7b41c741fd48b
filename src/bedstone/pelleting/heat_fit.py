"""A mill's own D value: from what was counted before and after its own conditioner."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bedstone.errors import BadInput, NoAnswer
from bedstone.quantities.line_figures import temperature_words

__all__ = ["HeatTrial", "OwnKinetics", "fit_own"]

_COLDEST_C: Final = 20.0
_HOTTEST_C: Final = 120.0
_MOST_SPREAD: Final = 100.0
_ODD_SDS: Final = 2.0
_LARGE: Final = 1e15


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatTrial:
    """One sample before and one after a stretch at one temperature, in one unit of any kind."""

    before: float
    after: float
    temperature_c: float
    time_s: float
    units: str = "SI"  # in which faults are said

    def __post_init__(self) -> None:
        """Refuse a trial that cannot be."""
        known = (self.before, self.after, self.temperature_c, self.time_s)
        if not all(math.isfinite(one) for one in known) or max(self.before, self.after) > _LARGE:
            raise BadInput("A trial's figures are numbers.", seen=self.words)
        if self.before <= 0 or self.after <= 0:
            raise BadInput(
                "A count of nothing says only that less was there than the method finds.",
                seen=self.words,
                allowed="above 0 before and after",
                do="type the least that the method can find (D is then no longer than what comes out), "
                "or plate it less diluted",
            )
        if not _COLDEST_C <= self.temperature_c <= _HOTTEST_C or self.time_s <= 0:
            raise BadInput(
                "Temperature or time of a trial cannot be right.",
                seen=f"{self.time_s:g} s at {temperature_words(self.temperature_c, self.units)}",
                allowed=f"{temperature_words(_COLDEST_C, self.units)} to "
                f"{temperature_words(_HOTTEST_C, self.units)}, a time above 0 s",
            )

    @property
    def words(self) -> str:
        """What was found."""
        return f"{self.before:.6g} before, {self.after:.6g} after"

    @property
    def logs(self) -> float:
        """Powers of ten lost."""
        return math.log10(self.before / self.after)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnKinetics:
    """D at a temperature with the interval that holds nine times in ten; z was given, not found."""

    d_s: float
    d_lo_s: float
    d_hi_s: float
    d_spread: float  # the factor that holds both ends
    at_c: float
    z_dk: float
    trials: int
    error: str  # where the interval comes from


def fit_own(trials: Sequence[HeatTrial], *, z_dk: float, assay_cv_frac: float = 0.2) -> OwnKinetics:
    """The D value that a mill's own samples before and after its conditioner give.

    Parameters
    ----------
    trials : sequence of HeatTrial
        One or more, at one temperature or several.
    z_dk : float
        Kelvins that change D tenfold, from the maker or a publication: samples at one temperature
        cannot say it. [K]
    assay_cv_frac : float
        Standard deviation of one count or assay, as a part of it. [0 to 1]

    Returns
    -------
    kinetics : OwnKinetics
        D at the mean temperature, with its interval.

    Raises
    ------
    BadInput
        If there is no trial, z or the error cannot be, or more was found after than before
        beyond what the errors explain.
    NoAnswer
        If the loss cannot be told from the errors of the assays.

    Notes
    -----
    Least squares of the powers of ten lost on time at the mean temperature, through nothing. Their
    error is the assays', or the scatter of the trials about the line where that is greater (then
    by Student's t). Loss in proportion to time is the model of
    :func:`bedstone.pelleting.heat_damage.survival`.

    Sources
    -------
    [1] As :func:`bedstone.pelleting.heat_damage.survival`.
    """
    _refuse(trials, z_dk, assay_cv_frac)
    at_c = math.fsum(one.temperature_c for one in trials) / len(trials)
    times = [one.time_s * 10 ** ((one.temperature_c - at_c) / z_dk) for one in trials]
    weight = math.fsum(time * time for time in times)
    rate = math.fsum(t * one.logs for t, one in zip(times, trials, strict=True)) / weight
    half, error = _half(trials, times, rate, assay_cv_frac)
    half /= math.sqrt(weight)
    if rate - half <= 0:
        raise NoAnswer(
            "The loss cannot be told from the errors of the assays.",
            seen=_told(rate, half),
            allowed="a loss above its error",
            do="take more samples, a hotter or longer trial, or a better assay; until then keep to "
            "published values",
        )
    d_s, d_lo_s, d_hi_s = 1 / rate, 1 / (rate + half), 1 / (rate - half)
    return OwnKinetics(
        d_s=d_s,
        d_lo_s=d_lo_s,
        d_hi_s=d_hi_s,
        d_spread=min(max(d_s / d_lo_s, d_hi_s / d_s), _MOST_SPREAD),
        at_c=at_c,
        z_dk=z_dk,
        trials=len(trials),
        error=error,
    )


def _refuse(trials: Sequence[HeatTrial], z_dk: float, assay_cv_frac: float) -> None:
    if not trials:
        raise BadInput("There is no trial.", allowed="one or more, before and after")
    if not 1 <= z_dk <= 100 or not 0 < assay_cv_frac < 1:  # noqa: PLR2004 - as the table of additives
        raise BadInput(
            "z or the error of an assay cannot be right.",
            seen=f"z {z_dk:g} K, error {100 * assay_cv_frac:g} %",
            allowed="z from 1 to 100 K; an error above 0 and below 100 %",
        )
    for one in trials:
        if -one.logs > _ODD_SDS * _logs_sd(assay_cv_frac):
            raise BadInput(
                "More was found after the heat than before it.",
                seen=one.words,
                allowed="less after than before, but for the assay's error",
                do="look whether the samples were swapped, or the sample before was not mixed",
            )


def _logs_sd(assay_cv_frac: float) -> float:
    """Error of the powers of ten between two assays."""
    return math.sqrt(2 * math.log1p(assay_cv_frac**2)) / math.log(10)


def _told(rate: float, half: float) -> str:
    """A loss that cannot be told, in words; as shares lost in a minute."""
    most = 1 - 10 ** (-60 * (rate + half))
    found = (
        "no loss" if rate <= 0 else f"about {100 * (1 - 10 ** (-60 * rate)):.0f} % lost a minute"
    )
    return (
        f"{found}, but by these assays it may be anything from none to {100 * most:.0f} % a minute"
    )


def _half(
    trials: Sequence[HeatTrial], times: Sequence[float], rate: float, assay_cv_frac: float
) -> tuple[float, str]:
    """Half the interval of the powers of ten of one trial, nine times in ten, and where it is from."""
    from scipy import stats

    half = float(stats.norm.ppf(0.95)) * _logs_sd(assay_cv_frac)
    spare = len(trials) - 1
    if spare:
        off = math.fsum((one.logs - rate * t) ** 2 for t, one in zip(times, trials, strict=True))
        scattered = float(stats.t.ppf(0.95, spare)) * math.sqrt(off / spare)
        if scattered > half:
            return scattered, "the scatter of the trials"
    return half, f"{100 * assay_cv_frac:.3g} % error of each assay"
