"""How often a sampling plan takes a bad lot and turns away a good one."""

import math
from functools import cache
from statistics import NormalDist

__all__ = ["accepts_count", "accepts_mean", "cut_of", "odds_beyond"]


@cache
def _log_choose(of: int, take: int) -> float:
    return math.lgamma(of + 1) - math.lgamma(take + 1) - math.lgamma(of - take + 1)


def accepts_count(*, sample: int, allowed: int, bad_frac: float, lot: int | None = None) -> float:
    """Odds that a plan "at most so many bad ones in the sample" takes a lot.

    Parameters
    ----------
    sample : int
        Units looked at, at least one.
    allowed : int
        Most bad ones with which the lot is taken.
    bad_frac : float
        Part of the lot that is bad. [0 to 1]
    lot : int, optional
        Units of a finite lot (sacks, totes), of which ``bad_frac`` is rounded to whole ones; bulk
        without it.

    Returns
    -------
    odds : float
        Probability of acceptance: hypergeometric for a finite lot, else binomial.

    Raises
    ------
    ValueError
        If the sample is larger than the lot or a number lies outside its range.

    Examples
    --------
    >>> round(accepts_count(sample=10, allowed=0, bad_frac=0.1), 4)
    0.3487

    Sources
    -------
    [1] NIST/SEMATECH e-Handbook of Statistical Methods, section 6.2.3.2 (from memory of its number).
    """
    if sample < 1 or allowed < 0 or not 0 <= bad_frac <= 1 or (lot is not None and sample > lot):
        msg = f"no such plan: {sample} of {lot}, {allowed} allowed, {bad_frac} bad"
        raise ValueError(msg)
    total = 0.0
    for bad in range(min(allowed, sample) + 1):
        if lot is not None:
            wrong = round(bad_frac * lot)
            if bad > wrong or sample - bad > lot - wrong:
                continue
            total += math.exp(
                _log_choose(wrong, bad)
                + _log_choose(lot - wrong, sample - bad)
                - _log_choose(lot, sample)
            )
        else:
            total += math.comb(sample, bad) * bad_frac**bad * (1 - bad_frac) ** (sample - bad)
    return min(1.0, total)


def accepts_mean(true: float, *, limit: float, error_sd: float, upper: bool = True) -> float:
    """Odds that a result is on the right side of a limit when the lot really is at ``true``.

    Parameters
    ----------
    true : float
        What the lot really holds, in the unit of the test.
    limit : float
        The limit, in the same unit.
    error_sd : float
        Standard deviation of the result: sampling and method together, in the same unit.
    upper : bool
        Whether the limit is a most; a least otherwise.

    Returns
    -------
    odds : float
        Probability of acceptance.

    Raises
    ------
    ValueError
        If the standard deviation is below nothing.

    Examples
    --------
    >>> accepts_mean(15.5, limit=15.5, error_sd=0.3)
    0.5

    Sources
    -------
    [1] Normal distribution of results about the true value; no published plan is meant.
    """
    if error_sd < 0 or not math.isfinite(error_sd):
        msg = f"a standard deviation of {error_sd}"
        raise ValueError(msg)
    room = limit - true if upper else true - limit
    if error_sd == 0:
        return 1.0 if room >= 0 else 0.0
    return 0.5 * math.erfc(-room / error_sd / math.sqrt(2))


def cut_of(limit: float, *, error_sd: float, risk_max_frac: float, upper: bool = True) -> float:
    """The result from which a load is held, so that what is let in carries no more than a risk.

    Parameters
    ----------
    limit : float
        The limit, in the unit of the test.
    error_sd : float
        Standard deviation of the result, in the same unit.
    risk_max_frac : float
        Most odds of really lying beyond with which a result still passes. [0 to 1]
    upper : bool
        Whether the limit is a most; a least otherwise.

    Returns
    -------
    cut : float
        The limit itself at even odds, inside it below them.

    Examples
    --------
    >>> round(cut_of(20.0, error_sd=3.0, risk_max_frac=0.1), 2)
    16.16

    Sources
    -------
    [1] As :func:`odds_beyond`, solved for the result.
    """
    inside = -NormalDist().inv_cdf(risk_max_frac) * error_sd
    return limit - inside if upper else limit + inside


def odds_beyond(seen: float, *, limit: float, error_sd: float, upper: bool = True) -> float:
    """Odds that a lot that tested as ``seen`` really lies beyond a limit.

    Parameters
    ----------
    seen : float
        The result, in the unit of the test.
    limit : float
        The limit, in the same unit.
    error_sd : float
        Standard deviation of the result, in the same unit.
    upper : bool
        Whether the limit is a most; a least otherwise.

    Returns
    -------
    odds : float
        Probability, when nothing else is known of the lot (a flat prior).

    Sources
    -------
    [1] As :func:`accepts_mean`, with a flat prior on the true value.
    """
    return 1 - accepts_mean(seen, limit=limit, error_sd=error_sd, upper=upper)
