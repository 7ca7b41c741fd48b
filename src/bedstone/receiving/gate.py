"""What tests at the gate say of a load: taken, priced down, held at the gate, or turned away."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

from bedstone.receiving.operating import odds_beyond

__all__ = [
    "LIMITS_OF_UNIT",
    "Judged",
    "Outcome",
    "Seen",
    "Wanted",
    "judge_test",
    "sane",
    "worst_of",
]

LIMITS_OF_UNIT: Mapping[str, tuple[float, float]] = {
    "%": (0, 100),
    "mg/kg": (0, 1e6),
    "ug/kg": (0, 1e9),
    "kg/m3": (20, 3000),
    "lb/ft3": (1, 190),
    "lb/bu": (1, 240),
    "C": (-50, 100),
    "F": (-58, 212),
}
"""What a value can be at all, by its unit."""


class Outcome(IntEnum):
    """What becomes of a load, from good to bad."""

    TAKE = 0
    PRICE_DOWN = 1
    HOLD = 2
    REJECT = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What an ingredient must test as."""

    test: str
    unit: str
    minimum: float | None
    maximum: float | None
    reject_below: float | None
    reject_above: float | None
    at_gate: bool
    error_sd: float | None
    risk_max_frac: float
    source: str
    waits: bool = False  # not known at the gate, the load may wait for it in a bin, on hold
    method: str = ""

    @property
    def words(self) -> str:
        """The limits in words."""
        pairs = (
            ("at least", self.minimum),
            ("at most", self.maximum),
            ("turned away below", self.reject_below),
            ("turned away above", self.reject_above),
        )
        said = [f"{name} {value:g}" for name, value in pairs if value is not None]
        return f"{', '.join(said)} {self.unit}" if said else "no limit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A result: mean of so many readings of one sample."""

    test: str
    value: float
    unit: str
    readings: int = 1
    method: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One test judged: outcome, why, and the odds that the load really lies beyond the limit.

    ``may_wait``: what holds it is a result that the load may wait for in a bin, on hold.
    """

    test: str
    outcome: Outcome
    why: str
    odds_beyond: float | None = None
    may_wait: bool = False
    limits: str = ""
    method: str = ""
    error_sd: float | None = None
    source: str = ""


def sane(seen: Seen) -> str:
    """What is wrong with a value as such; empty if it can be."""
    low, high = LIMITS_OF_UNIT.get(seen.unit, (-math.inf, math.inf))
    if not (math.isfinite(seen.value) and low <= seen.value <= high):
        return f"{seen.test} from {low:g} to {high:g} {seen.unit}"
    return ""


def judge_test(limits: Wanted, seen: Seen | None, *, priced: bool) -> Judged:
    """One test against its limits.

    A missing result of a test that is needed at the gate holds the load there.

    Parameters
    ----------
    limits : Wanted
        The specification.
    seen : Seen or None
        The result, None if there is none.
    priced : bool
        Whether the price schedule has a step for the result.

    Returns
    -------
    judged : Judged
        Outcome with its reason.
    """
    found = _judged(limits, seen, priced=priced)
    return replace(
        found,
        odds_beyond=found.odds_beyond if limits.error_sd is not None else None,
        limits=limits.words,
        method=(seen.method if seen else "") or limits.method,
        error_sd=limits.error_sd,
        source=limits.source,
    )


def _judged(limits: Wanted, seen: Seen | None, *, priced: bool) -> Judged:
    if seen is None:
        waits = limits.waits and not limits.at_gate
        outcome = Outcome.HOLD if limits.at_gate or waits else Outcome.TAKE
        words = "not tested yet" + (
            ": it stays at the gate"
            if limits.at_gate
            else ": until it is known the load may be unloaded under hold only"
            if waits
            else ""
        )
        return Judged(
            test=limits.test, outcome=outcome, why=f"{limits.test} {words}", may_wait=waits
        )
    sd = (limits.error_sd or 0.0) / math.sqrt(seen.readings)
    found = f"{limits.test} {seen.value:g} {limits.unit}"
    for edge, upper in ((limits.reject_below, False), (limits.reject_above, True)):
        if edge is not None and _beyond(seen.value, edge, upper=upper):
            side = "above" if upper else "below"
            return Judged(
                test=limits.test,
                outcome=Outcome.REJECT,
                why=f"{found} is {side} {edge:g}, where it is turned away",
                odds_beyond=odds_beyond(seen.value, limit=edge, error_sd=sd, upper=upper),
            )
    if limits.minimum is None and limits.maximum is None:
        within = "" if limits.words != "no limit" else ", written down: no limit is set for it"
        return Judged(test=limits.test, outcome=Outcome.TAKE, why=f"{found}{within}")
    sides = [
        _side(limits, seen.value, edge, sd, upper=upper, priced=priced)
        for edge, upper in ((limits.minimum, False), (limits.maximum, True))
        if edge is not None
    ]
    plain = Judged(test=limits.test, outcome=Outcome.TAKE, why=f"{found} is within limits")
    return max(sides, key=lambda one: (one.outcome, one.odds_beyond or 0.0), default=plain)


def _beyond(value: float, edge: float, *, upper: bool) -> bool:
    return value > edge if upper else value < edge


def _side(
    limits: Wanted, value: float, edge: float, error_sd: float, *, upper: bool, priced: bool
) -> Judged:
    """One result against one limit of full price."""
    found = f"{limits.test} {value:g} {limits.unit}"
    named = f"{'at most' if upper else 'at least'} {edge:g} {limits.unit}"
    odds = odds_beyond(value, limit=edge, error_sd=error_sd, upper=upper)
    outcome, why = Outcome.TAKE, f"{found} is within limits"
    if _beyond(value, edge, upper=upper):
        outcome = Outcome.PRICE_DOWN if priced else Outcome.HOLD
        end = "the price schedule has a step for it" if priced else "ask before it is taken"
        why = f"{found}, wanted {named}: {end}"
    elif odds > limits.risk_max_frac:
        outcome = Outcome.HOLD
        why = (
            f"{found} is too close to {named}: odds of {odds:.0%} that it really lies outside; "
            "test again or send a sample away"
        )
    return Judged(
        test=limits.test,
        outcome=outcome,
        why=why,
        odds_beyond=odds,
        may_wait=outcome is Outcome.HOLD,
    )


def worst_of(judged: Sequence[Judged]) -> Outcome:
    """The outcome of all tests together."""
    return max((one.outcome for one in judged), default=Outcome.TAKE)
