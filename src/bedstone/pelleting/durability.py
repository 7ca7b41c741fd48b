"""Pellet durability by the tumbling test, with what its repeats say of it."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from scipy import stats

from bedstone.errors import BadInput

__all__ = ["Durability", "Repeats", "durability", "repeats_of"]

TEST_G: Final = 500.0
ASSUMED_SD: Final = 1.0
"""Points between repeats where too few were made to tell (common practice, no source)."""
LEAST_SPARE: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """How far repeats of the test lie apart in a mill, in points, by how many spare repeats."""

    sd: float
    spare: int

    @property
    def measured(self) -> bool:
        """Whether the mill's own repeats tell; else a usual figure stands in."""
        return self.spare >= LEAST_SPARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Durability:
    """Durability index of a sample: mean of its tests, and the interval that holds 95 %."""

    index: float
    index_lo: float
    index_hi: float
    tests: int
    sd: float | None  # between its own repeats, in points; None of a single one
    repeats: Repeats  # by which the interval was reckoned


def repeats_of(tests: Iterable[tuple[Sequence[float], float]]) -> Repeats:
    """Spread between repeats of one sample, pooled over samples.

    Parameters
    ----------
    tests : iterable of tuple
        Grams left after each tumbling of a sample, and grams put in.

    Returns
    -------
    repeats : Repeats
        With the usual figure where fewer than four spare repeats were made.

    Sources
    -------
    [1] Pooled variance (NIST/SEMATECH e-Handbook of Statistical Methods, from memory).

    Examples
    --------
    >>> repeats_of([([450, 455, 445], 500), ([440, 445, 435], 500)])
    Repeats(sd=1.0, spare=4)
    """
    squares, spare = 0.0, 0
    for retained_g, test_g in tests:
        each = [100 * mass / test_g for mass in retained_g]
        mean = sum(each) / len(each)
        squares += sum((one - mean) ** 2 for one in each)
        spare += len(each) - 1
    if spare < LEAST_SPARE:
        return Repeats(sd=ASSUMED_SD, spare=0)
    return Repeats(sd=math.sqrt(squares / spare), spare=spare)


def durability(
    retained_g: Sequence[float], *, test_g: float = TEST_G, repeats: Repeats | None = None
) -> Durability:
    """Pellet durability index of one or more tumbling tests of a sample.

    Parameters
    ----------
    retained_g : sequence of float
        Left on the sieve after each test, grams.
    test_g : float
        Put into the box each time, grams.
    repeats : Repeats, optional
        How far the mill's repeats lie apart; else by these tests, or by the usual figure where
        they are too few.

    Returns
    -------
    durability : Durability
        In per cent. The interval is of the sample's index under repeats: how well a sample stands
        for its run is not in it.

    Raises
    ------
    BadInput
        If more was left than was put in, or there was no test.

    Sources
    -------
    [1] 500 g of screened pellets, a dust-tight box 30 x 30 x 12 cm with a 23 x 5 cm baffle, 50
        turns a minute for 10 minutes; index = 100 times what stays on the sieve over 500 g
        (the standard tumbling test as two course notes print it).
    """
    if test_g <= 0 or not retained_g or min(retained_g) < 0 or max(retained_g) > test_g:
        raise BadInput(
            "A durability test cannot be right.",
            seen=", ".join(f"{mass:g} g" for mass in retained_g) or "no test",
            allowed=f"0 to {test_g:g} g left, one test or more",
        )
    each = [100 * mass / test_g for mass in retained_g]
    count = len(each)
    mean = sum(each) / count
    known = repeats or repeats_of([(retained_g, test_g)])
    sd = math.sqrt(sum((one - mean) ** 2 for one in each) / (count - 1)) if count > 1 else None
    wide = float(stats.t.ppf(0.975, known.spare) if known.measured else stats.norm.ppf(0.975))
    half = wide * known.sd / math.sqrt(count)
    return Durability(
        index=mean,
        index_lo=max(mean - half, 0.0),
        index_hi=min(mean + half, 100.0),
        tests=count,
        sd=sd,
        repeats=known,
    )
