"""The layers as they are now, from no more of the past than they hang on.

A place that was seen empty remembers nothing from before: what moved through it earlier matters
only where it went on, unnamed, to a place that still remembers. Read backward, a movement counts
if the place it went into is still alive to the present, and a place it came out of unnamed comes
alive with it; where a place was emptied it dies. What is left is folded as
:func:`bedstone.ledger.layers.layers_of` folds everything, with the same result for each place;
the shares of movements that were passed over are not known.
"""

from collections.abc import Iterable, Mapping, Sequence

from bedstone.ledger.layers import Booked, Layers, SeenEmpty
from bedstone.ledger.model import FlowPattern, is_outside

__all__ = ["layers_now"]

_TAKE, _FORGET, _PUT, _EMPTIED = 1, 2, 4, 8


def layers_now(
    movements: Sequence[Booked],
    bins: Mapping[str, FlowPattern],
    *,
    seen_empty: Iterable[SeenEmpty] = (),
) -> Layers:
    """Return the layers of all places after the movements, without the shares of all of them.

    Parameters
    ----------
    movements : sequence of Booked
        Ordered by happened_at, position and line, as a record gives them.
    bins : mapping of place to FlowPattern
        How the bins empty.
    seen_empty : iterable of SeenEmpty, optional
        When bins were seen empty; in any order.

    Returns
    -------
    layers : Layers
        Layers, possible lots and slack of each place as :func:`layers_of` has them.
    """
    layers = Layers(bins)
    events = _merged(movements, seen_empty)
    emptied = _emptied(events, bins, layers)
    for event, flags in _alive(events, emptied):
        if isinstance(event, str):
            layers.seen_empty(event)
            continue
        layers.apply_part(
            event,
            take=bool(flags & _TAKE),
            forget=bool(flags & _FORGET),
            put=bool(flags & _PUT),
        )
    return layers


def _merged(movements: Sequence[Booked], seen_empty: Iterable[SeenEmpty]) -> list[Booked | str]:
    """Movements that stand, and places seen empty, in order of what happened."""
    marks = sorted(seen_empty, key=lambda mark: (mark.happened_at, mark.position), reverse=True)
    events: list[Booked | str] = []
    for item in movements:
        while marks and (marks[-1].happened_at, marks[-1].position) < (
            item.happened_at,
            item.position,
        ):
            events.append(marks.pop().place)
        if item.reversed_by is None and item.reverses is None:
            events.append(item)
    events.extend(mark.place for mark in reversed(marks))
    return events


def _emptied(
    events: Sequence[Booked | str], bins: Mapping[str, FlowPattern], layers: Layers
) -> bytearray:
    """Marks each movement after which the machine it came out of holds nothing by the books.

    On the way every place is made known to the layers, in the order in which they would meet it.
    """
    emptied = bytearray(len(events))
    totals: dict[str, int] = {}
    met: set[tuple[str, str]] = set()
    for n, event in enumerate(events):
        if isinstance(event, str):
            totals[event] = 0
            continue
        movement = event.movement
        source, target, mass_mg = movement.from_place, movement.to_place, movement.mass_mg
        for place in (source, target):
            if (place, movement.material) not in met:
                met.add((place, movement.material))
                layers.meet(place, movement.material)
        totals[source] = left = totals.get(source, 0) - mass_mg
        totals[target] = totals.get(target, 0) + mass_mg
        if not left and source not in bins and not is_outside(source):
            emptied[n] = 1
    return emptied


def _alive(events: Sequence[Booked | str], emptied: bytearray) -> list[tuple[Booked | str, int]]:
    """What must be folded, in order, with what must be done of each."""
    dead: set[str] = set()
    kept: list[tuple[Booked | str, int]] = []
    for n in range(len(events) - 1, -1, -1):
        event = events[n]
        if isinstance(event, str):
            if event not in dead:
                dead.add(event)
                kept.append((event, _EMPTIED))
            continue
        movement = event.movement
        source, target = movement.from_place, movement.to_place
        flags = 0
        asked = False
        if target not in dead and not is_outside(target):
            flags |= _PUT
            asked = movement.lot is None
        if emptied[n] and source not in dead:
            flags |= _FORGET
            dead.add(source)
        if asked:
            dead.discard(source)
        if source not in dead and not is_outside(source):
            flags |= _TAKE
        if flags:
            kept.append((event, flags))
    kept.reverse()
    return kept
