"""What a mill's regressions say, in the words and units of the mill."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.desk.line_regression import (
    DIE,
    GRIND,
    HEAT,
    LOAD,
    RATE,
    DurabilityAhead,
    LoadAhead,
    Says,
)
from bedstone.pelleting.regression import Effect, Move, Unseen
from bedstone.pelleting.telling import LeftOut
from bedstone.quantities.line_figures import rate_words, rise_words, temperature_words

__all__ = [
    "EffectRow",
    "durability_words",
    "effect_rows",
    "left_out_words",
    "load_words",
    "move_words",
    "throughput_words",
    "unseen_words",
]

NAMES = {HEAT: "conditioner temperature", RATE: "rate of mash"}
WHY = {
    "never moved": "never moved",
    "moved only with others": "moved only together with others",
    "too few runs": "too few runs for one setting more",
    "too few feeds": "too few feeds for what differs by feed alone",
    "not known": "not known of most runs",
}
STEP_US_DK, STEP_SI_DK = 10 / 1.8, 5.0
STEP_UM, STEP_RATE_PCT = 100.0, 10.0
FULL_PCT = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectRow:
    """A setting, the range that was run, and what a step of it does."""

    setting: str
    run: str
    step: str
    change: str
    between: str


def _name(factor: str) -> str:
    return NAMES.get(factor, factor)


def value_words(factor: str, value: float, units: str) -> str:
    """A setting's value with its unit."""
    if factor == HEAT:
        return temperature_words(value, units)
    if factor == RATE:
        return rate_words(math.exp(value), units)
    if factor == GRIND:
        return f"{value:.0f} µm"
    return f"{value:.1f}" if factor == DIE else f"{value:.1f} %"


def unseen_words(unseen: Unseen, units: str) -> str:
    """Why nothing is claimed of a run."""
    if unseen.kind == "feed":
        return "not this feed, and too few feeds to tell of another"
    if unseen.kind == "unknown":
        return f"{_name(unseen.factor)} is not known of it"
    if unseen.kind == "combination":
        return "no run came near this combination of settings"
    low, high = (value_words(unseen.factor, one, units) for one in (unseen.low, unseen.high))
    value = value_words(unseen.factor, unseen.value, units)
    return f"{_name(unseen.factor)} {value}, but only {low} to {high} was run"


def _not(unseen: Unseen, done: str) -> str:
    return "" if unseen.kind == "unknown" else f"not {done} before: "


def left_out_words(left: Sequence[LeftOut]) -> tuple[str, ...]:
    """Settings of which the runs do not tell, those with the same reason together."""
    by_why: dict[str, list[str]] = {}
    for one in left:
        by_why.setdefault(one.why, []).append(_name(one.factor))
    return tuple(f"{', '.join(names)}: {WHY[why]}" for why, names in by_why.items())


def effect_rows(says: Says, units: str) -> tuple[EffectRow, ...]:
    """What a handy step of each setting does, others held: points of index, or per cent of load."""
    if says.fitted is None:
        return ()
    return tuple(_row(one, units, load=says.what == LOAD) for one in says.fitted.effects())


def _row(one: Effect, units: str, *, load: bool) -> EffectRow:
    step, words = _step(one.factor, units)
    ends = [step * one.each, step * one.each_lo, step * one.each_hi]
    if load:
        ends = [FULL_PCT * math.expm1(end) for end in ends]
    unit = "%" if load else "points"
    low, high = (value_words(one.factor, end, units) for end in (one.low, one.high))
    return EffectRow(
        setting=_name(one.factor),
        run=f"{low} to {high}",
        step=words,
        change=f"{ends[0]:+.1f} {unit}",
        between=f"{ends[1]:+.1f} to {ends[2]:+.1f} {unit}",
    )


def _step(factor: str, units: str) -> tuple[float, str]:
    """A step in the regression's unit, and in words."""
    if factor == HEAT:
        step_dk = STEP_US_DK if units == "US" else STEP_SI_DK
        return step_dk, f"{rise_words(step_dk, units)} more"
    if factor == GRIND:
        return STEP_UM, f"{STEP_UM:.0f} µm more"
    if factor == RATE:
        return math.log1p(STEP_RATE_PCT / FULL_PCT), f"{STEP_RATE_PCT:.0f} % more"
    return 1.0, "1 more" if factor == DIE else "1 % more"


def move_words(move: Move, units: str) -> str:
    """A setting moved for more durability."""
    return f"{_name(move.factor)} {value_words(move.factor, move.value, units)}"


def _ways(moves: Sequence[Move], units: str) -> str:
    """Settings moved, each by itself, and what another temperature costs."""
    said = " or ".join(move_words(move, units) for move in moves)
    if any(move.factor == HEAT for move in moves):
        said += " (hotter costs steam, and rate where the cooler's air binds)"
    return said


def durability_words(ahead: DurabilityAhead, units: str) -> str:
    """Interval, runs and what would give more; or why nothing is said."""
    found = ahead.forecast
    if found.unseen is not None:
        return f"{_not(found.unseen, 'tested')}{unseen_words(found.unseen, units)}"
    ends = f"{max(found.low, 0.0):.0f} to {min(found.high, FULL_PCT):.0f} %"
    said = f"{ends} nine times in ten, by {ahead.runs} runs"
    if ahead.moves:
        ways = _ways(ahead.moves, units)
        said += f"; two points more at about {ways}"
    return said


def load_words(ahead: LoadAhead, units: str) -> str:
    """Interval, runs and the plate; or why nothing is said."""
    found = ahead.forecast
    if found.unseen is not None:
        return f"{_not(found.unseen, 'run')}{unseen_words(found.unseen, units)}"
    said = f"{found.low:.0f} to {found.high:.0f} A nine times in ten, by {ahead.runs} runs"
    if ahead.full_a is not None:
        part = FULL_PCT * found.value / ahead.full_a
        said += f"; {part:.0f} % of the plate's {ahead.full_a:.0f} A"
    return said


def throughput_words(ahead: LoadAhead, units: str) -> str:
    """The rate that the motor allows, as far as runs tell; empty where they do not."""
    said = _by_motor(ahead, units)
    if ahead.moves:
        ways = _ways(ahead.moves, units)
        lighter = f"a twentieth less load at about {ways}"
        return f"{said}; {lighter}" if said else lighter
    return said


def _by_motor(ahead: LoadAhead, units: str) -> str:
    rate = ahead.rate
    if rate is None:
        return ""
    if rate.surely_kg_s is None:
        return "it may be over its plate at every rate that was run"
    sure = f"surely within it up to {rate_words(rate.surely_kg_s, units)}"
    if rate.low_kg_s is None:
        return f"{sure}, the most that was run like this"
    if rate.middle_kg_s is None:
        return sure
    return f"{sure}, full load is expected at {rate_words(rate.middle_kg_s, units)}"
