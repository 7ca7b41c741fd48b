"""The layers as they are now, from no more of the past than they hang on.

A place that was seen empty remembers nothing from before: what moved through it earlier matters
only where it went on, unnamed, to a place that still remembers. Read backward, a movement counts
if the place it went into is still alive to the present, and a place it came out of unnamed comes
alive with it; where a place was emptied it dies. Once nothing is alive, nothing older is read.
What is left is folded as :func:`bedstone.ledger.layers.layers_of` folds everything, with the same
result for each place; the shares of movements that were passed over are not known.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping

from bedstone.ledger.layers import Booked, Layers, SeenEmpty
from bedstone.ledger.model import FlowPattern, is_outside

__all__ = ["layers_now"]

_TAKE, _FORGET, _PUT = 1, 2, 4


def layers_now(
    newest_first: Iterable[Booked],
    bins: Mapping[str, FlowPattern],
    *,
    left_mg: Mapping[str, int],
    seen_empty: Iterable[SeenEmpty] = (),
    machines: Collection[str] = (),
    forgotten: Collection[str] = (),
) -> Layers:
    """Return the layers of all places after the movements, without the shares of all of them.

    Parameters
    ----------
    newest_first : iterable of Booked
        Ordered by happened_at, position and line, the newest first; read only as far as needed.
    bins : mapping of place to FlowPattern
        How the bins empty.
    left_mg : mapping of place to int
        Book stock of each machine after all movements. [mg]
    seen_empty : iterable of SeenEmpty, optional
        When bins, never machines, were seen empty; in any order.
    machines : collection of str, optional
        Places that are no bins and may remember something.
    forgotten : collection of str, optional
        Places known to remember nothing, for whose sake nothing is read: through which nothing
        ever went, or machines that the last movement out of them left with nothing.

    Returns
    -------
    layers : Layers
        Layers, possible lots and slack of each place as :func:`layers_of` has them. Machines in
        which nothing lies may be unknown to it.
    """
    layers = Layers(bins)
    inside = {*bins, *machines}
    needed = _alive(
        newest_first, bins, left_mg, seen_empty, alive=inside, idle={*forgotten} & inside
    )
    for event, flags in reversed(needed):
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


def _backward(
    newest_first: Iterable[Booked], seen_empty: Iterable[SeenEmpty]
) -> Iterator[Booked | str]:
    """Movements that stand, and places seen empty, the newest first."""
    marks = sorted(seen_empty, key=lambda mark: (mark.happened_at, mark.position))
    for item in newest_first:
        while marks and (marks[-1].happened_at, marks[-1].position) >= (
            item.happened_at,
            item.position,
        ):
            yield marks.pop().place
        if item.reversed_by is None and item.reverses is None:
            yield item
    yield from (mark.place for mark in reversed(marks))


def _alive(
    newest_first: Iterable[Booked],
    bins: Mapping[str, FlowPattern],
    left_mg: Mapping[str, int],
    seen_empty: Iterable[SeenEmpty],
    *,
    alive: set[str],
    idle: set[str],
) -> list[tuple[Booked | str, int]]:
    """What must be folded, the newest first, with what must be done of each.

    Reading goes on until none is alive but the idle: those of which nothing older matters unless
    something newer than it turns up.
    """
    left = {place: mass for place, mass in left_mg.items() if place not in bins}
    kept: list[tuple[Booked | str, int]] = []
    for event in _backward(newest_first, seen_empty):
        if len(alive) <= len(idle) and alive <= idle:
            break
        if isinstance(event, str):
            idle.discard(event)
            if event in alive:
                alive.discard(event)
                kept.append((event, 0))
            continue
        idle -= {event.movement.from_place, event.movement.to_place}
        flags = _needed(event, bins, alive, left)
        if flags:
            kept.append((event, flags))
    return kept


def _needed(
    event: Booked, bins: Mapping[str, FlowPattern], alive: set[str], left: dict[str, int]
) -> int:
    """What must be done of a movement, which then has not been yet: who is alive before it."""
    movement = event.movement
    source, target = movement.from_place, movement.to_place
    flags = 0
    asked = False
    if target in alive:
        flags |= _PUT
        asked = movement.lot is None
    inside = not is_outside(source)
    if inside and source not in bins and not left.get(source, 0) and source in alive:
        flags |= _FORGET
        alive.discard(source)
    if asked and inside:
        alive.add(source)
    if source in alive:
        flags |= _TAKE
    if source not in bins:
        left[source] = left.get(source, 0) + movement.mass_mg
    if target not in bins:
        left[target] = left.get(target, 0) - movement.mass_mg
    return flags
