"""May a carrier unload after what it held before: the shipped rules and the mill's stricter ones."""

import csv
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import cache
from importlib import resources

__all__ = [
    "Cleaned",
    "Leave",
    "MillRule",
    "ShippedRule",
    "Unloading",
    "may_unload",
    "shipped_rules",
]

MOST_BACK = 3
BACK_WORDS = ("last cargo", "cargo before the last", "cargo two before the last")


class Leave(IntEnum):
    """How a carrier may unload, from mild to strict."""

    ACCEPT = 0
    SWEPT = 1
    WASH = 2
    REJECT = 3


class Cleaned(IntEnum):
    """What the carrier proves of its cleaning since the last cargo."""

    NOT = 0
    SWEPT = 1
    WASHED = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class ShippedRule:
    """A row of the rules that come with the program."""

    cargo: str
    makes: str  # "any", or what the mill must make for the row to count
    back_from: int
    back_to: int
    leave: Leave
    brings: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MillRule:
    """The mill's own rule; the stricter of it and the shipped ones stands."""

    cargo: str
    ingredient: str
    loads_back: int
    leave: Leave
    why: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Unloading:
    """What the earlier cargoes ask for, whether the proof is there, and each reason."""

    needed: Leave
    met: bool
    reasons: tuple[str, ...]
    sources: tuple[str, ...]


@cache
def shipped_rules() -> tuple[ShippedRule, ...]:
    """The rules of the data file, in its order."""
    text = resources.files("bedstone.receiving").joinpath("data/earlier_cargoes.csv").read_text()
    return tuple(
        ShippedRule(
            cargo=row["cargo"],
            makes=row["makes"],
            back_from=int(row["back_from"]),
            back_to=int(row["back_to"]),
            leave=Leave[row["verdict"].upper()],
            brings=row["brings"],
            source=row["source"],
        )
        for row in csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    )


def may_unload(
    cargoes: Sequence[str],
    *,
    makes: Collection[str],
    ingredient: str,
    cleaned: Cleaned,
    mill_rules: Iterable[MillRule] = (),
) -> Unloading:
    """Whether a carrier with these earlier cargoes may unload.

    Parameters
    ----------
    cargoes : sequence of str
        Classes of the last three cargoes, the last first; one that is missing is unknown.
    makes : collection of str
        What the mill makes feed for: "ruminant", "horse"; "any" always counts.
    ingredient : str
        What comes now.
    cleaned : Cleaned
        What is proved of the cleaning since the last cargo.
    mill_rules : iterable of MillRule
        The mill's own rules.

    Returns
    -------
    unloading : Unloading
        What is needed at the most, whether it is met, reasons with sources.

    Raises
    ------
    ValueError
        If a cargo has no rule.

    Sources
    -------
    [1] The rows of ``data/earlier_cargoes.csv``, each with its own.
    """
    own = tuple(mill_rules)
    found: list[tuple[Leave, str, str]] = []
    for back in range(1, MOST_BACK + 1):
        cargo = cargoes[back - 1] if back <= len(cargoes) and cargoes[back - 1] else "unknown"
        rows = [rule for rule in shipped_rules() if rule.cargo == cargo]
        if not rows:
            msg = f"there is no rule for an earlier cargo {cargo!r}"
            raise ValueError(msg)
        where = BACK_WORDS[back - 1]
        found += [
            (rule.leave, f"{where}: {cargo} brings {rule.brings}", rule.source)
            for rule in rows
            if rule.back_from <= back <= rule.back_to and rule.makes in {"any", *makes}
        ]
        found += [
            (tighter.leave, f"{where}: {cargo}, {tighter.why}", tighter.source)
            for tighter in own
            if tighter.cargo == cargo
            and back <= tighter.loads_back
            and tighter.ingredient in {"", ingredient}
        ]
    needed = max((leave for leave, *_ in found), default=Leave.ACCEPT)
    deciding = [(words, source) for leave, words, source in found if leave == needed]
    met = needed is not Leave.REJECT and int(cleaned) >= int(needed)
    said = deciding if needed else []
    return Unloading(
        needed=needed,
        met=met,
        reasons=tuple(dict.fromkeys(words for words, _ in said)),
        sources=tuple(dict.fromkeys(source for _, source in said)),
    )
