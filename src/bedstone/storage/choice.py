"""Which bin a load goes into: what is out of the question and why, and the rest in order."""

import datetime as dt
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from statistics import NormalDist

__all__ = ["BinChoice", "BinState", "fits_frac", "rank"]

SURE = 0.95
DAY_S = 86_400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BinState:
    """A bin as it will be when the load comes.

    ``against`` are reasons why the bin is out of the question, ``cautions`` what to mind;
    ``room_mg`` is the room now, ``room_then_mg`` once what is planned until then has been drawn,
    both with one standard deviation ``room_sd_mg``; ``buried_at`` when the oldest of what would
    be buried came, None where nothing would (what comes first leaves first, or it is empty).
    """

    bin: str
    name: str
    against: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    holds_mg: int = 0
    room_mg: int
    room_then_mg: int
    room_sd_mg: int
    is_kept_for_it: bool = False
    is_kept_for_other: bool = False
    buried_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BinChoice:
    """A bin in the ranking, with the sentences that say why it stands there.

    Room is None where the bin is out of the question whatever its room. A list of what is out of
    the question names bins that are kept for something else together: nobody expected them.
    """

    bin: str
    name: str
    possible: bool
    why: tuple[str, ...]
    room_mg: int | None
    room_then_mg: int | None
    room_sd_mg: int
    fits_frac: float
    is_kept_for_other: bool = False


def fits_frac(room_mg: float, room_sd_mg: float, mass_mg: float) -> float:
    """Probability that a load finds room.

    Parameters
    ----------
    room_mg : float
        Room. [mg]
    room_sd_mg : float
        Its standard deviation. [mg]
    mass_mg : float
        The load. [mg]

    Returns
    -------
    fits_frac : float
        0 to 1.
    """
    if room_sd_mg <= 0:
        return float(room_mg >= mass_mg)
    return NormalDist().cdf((room_mg - mass_mg) / room_sd_mg)


def rank(
    states: Iterable[BinState], *, mass_mg: int, at: dt.datetime, shown: Callable[[int], str]
) -> tuple[BinChoice, ...]:
    """Bins best first; those out of the question last.

    Among bins that may take the load: sure room goes first, then a bin kept for the material,
    fewer cautions, then that which buries the youngest layer (or none), then the least room left
    over, so that large rooms stay for large loads.

    Parameters
    ----------
    states : iterable of BinState
        All bins that are asked about.
    mass_mg : int
        The load. [mg]
    at : datetime
        When it comes.
    shown : callable
        Mass in milligrams to the mill's words.

    Returns
    -------
    choices : tuple of BinChoice
        With sentences for each.
    """
    rows = [(state, _choice(state, mass_mg=mass_mg, at=at, shown=shown)) for state in states]
    rows.sort(key=lambda row: _order(*row, mass_mg=mass_mg, at=at))
    return tuple(choice for _, choice in rows)


def _choice(
    state: BinState, *, mass_mg: int, at: dt.datetime, shown: Callable[[int], str]
) -> BinChoice:
    odds = fits_frac(state.room_then_mg, state.room_sd_mg, mass_mg)
    against = list(state.against)
    if not against and odds < 1 - SURE:
        against.append(
            f"No room: {shown(max(0, state.room_then_mg))} free when it comes, "
            f"the load is {shown(mass_mg)}."
        )
    why = against or _for(state, odds=odds, at=at, shown=shown)
    return BinChoice(
        bin=state.bin,
        name=state.name,
        possible=not against,
        why=tuple(why),
        room_mg=None if state.against else state.room_mg,
        room_then_mg=None if state.against else state.room_then_mg,
        room_sd_mg=state.room_sd_mg,
        fits_frac=odds,
        is_kept_for_other=state.is_kept_for_other,
    )


def _for(
    state: BinState, *, odds: float, at: dt.datetime, shown: Callable[[int], str]
) -> list[str]:
    """What speaks for a bin, and what to mind."""
    why = [f"Room for {shown(max(0, state.room_then_mg))} when it comes."]
    if state.room_then_mg != state.room_mg:
        why[0] = f"{why[0][:-1]} ({shown(max(0, state.room_mg))} now)."
    if odds < SURE:
        why.append(
            f"It may not fit: about {round(100 * odds)} in 100 that there is room for all of it. "
            "Look into the bin first."
        )
    why.append("Kept for this material." if state.is_kept_for_it else "May hold any material.")
    if state.holds_mg <= 0:
        why.append("Empty by the books.")
    if state.buried_at is not None:
        days = (at - state.buried_at).total_seconds() / DAY_S
        why.append(
            "Funnel flow: the load leaves before what lies below it, of which the oldest came "
            f"{math.floor(days)} days ago; draw the bin down first if you can."
            if days >= 1
            else "Funnel flow: the load leaves before what lies below it."
        )
    return why + list(state.cautions)


def _order(
    state: BinState, choice: BinChoice, *, mass_mg: int, at: dt.datetime
) -> tuple[bool, bool, bool, int, float, int, str]:
    buried_s = 0.0 if state.buried_at is None else (at - state.buried_at).total_seconds()
    return (
        not choice.possible,
        choice.fits_frac < SURE,
        not state.is_kept_for_it,
        len(state.cautions),
        buried_s,
        state.room_then_mg - mass_mg,
        state.bin,
    )
