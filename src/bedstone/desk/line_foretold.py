"""What the mill's own runs foretell of each feed of a line at its settings, in plain values."""

import datetime as dt
from dataclasses import dataclass

from bedstone.desk.line_model import lines_of_product
from bedstone.desk.line_regression import (
    DurabilityAhead,
    LineSays,
    LoadAhead,
    Says,
    durability_ahead,
    line_says,
    load_ahead,
)
from bedstone.desk.line_settings import settings_for
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BedstoneError
from bedstone.pelleting.regression import Effect
from bedstone.pelleting.telling import LeftOut

__all__ = ["FeedAhead", "LineForetold", "SaysPlain", "feeds_ahead", "line_foretold"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedAhead:
    """What is foretold of a feed at the settings of the tables."""

    product: str
    durability: DurabilityAhead | None
    load: LoadAhead | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SaysPlain:
    """A regression in values that can be written down."""

    what: str
    runs: int
    feeds: int
    why_not: str
    effects: tuple[Effect, ...]
    residual_sd: float | None
    other_feed_sd: float | None
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineForetold:
    """Both regressions of a line, and what they foretell of its feeds."""

    line: str
    durability: SaysPlain
    load: SaysPlain
    feeds: tuple[FeedAhead, ...]


def line_foretold(record: Record, line: str, *, at: dt.datetime) -> LineForetold:
    """What the runs of a line say, and foretell in the air of a moment."""
    says = line_says(record, line)
    return LineForetold(
        line=line,
        durability=_plain(says.durability),
        load=_plain(says.load),
        feeds=feeds_ahead(record, says, at=at),
    )


def _plain(says: Says) -> SaysPlain:
    fitted = says.fitted
    return SaysPlain(
        what=says.what,
        runs=says.runs,
        feeds=says.feeds,
        why_not=says.why_not,
        effects=() if fitted is None else fitted.effects(),
        residual_sd=None if fitted is None else fitted.residual_sd,
        other_feed_sd=None if fitted is None else fitted.other_sd,
        left_out=says.left_out,
    )


def feeds_ahead(record: Record, says: LineSays, *, at: dt.datetime) -> tuple[FeedAhead, ...]:
    """Each feed that the tables pellet on a line, at its settings; those without any are left out."""
    if says.durability.fitted is None and says.load.fitted is None:
        return ()
    mill = current_mill(record)
    found = []
    for row in mill.pellets:
        if says.line not in lines_of_product(mill, row.product):
            continue
        try:
            settings = settings_for(record, row.product, says.line, at=at)
        except BedstoneError:
            continue
        found.append(
            FeedAhead(
                product=row.product,
                durability=durability_ahead(record, settings, says),
                load=load_ahead(record, settings, says),
            )
        )
    return tuple(found)
