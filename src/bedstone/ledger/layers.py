"""What lots lie in every place, and of which lots every movement was.

What lots lie inside a bin is never booked; it is read from the movements here. A movement whose
lot is known (a sack scanned, a batch, a run) is taken at its word. For every other one the answer
has three degrees: a *nominal* mass of each lot by the way the bin empties, *certain* lots that must
be in it whatever the errors of the weighings, and lots that are only *possible*. The lot None is
something that nobody booked: more came out than was ever put in.

Where a lot goes unnamed from place to place (whole grain through a mill into a bin of ground
grain), what comes out of one place goes into the next as a blend of the lots that it may be of.
A place for which no flow pattern is given (a machine) counts as well mixed and forgets what was in
it when the books say that nothing is left.
"""

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Final, Protocol

from bedstone.ledger.flow_patterns import WellMixed, place_layers
from bedstone.ledger.model import FlowPattern, Movement, is_outside
from bedstone.ledger.place_layers import Layer, PlaceLayers
from bedstone.ledger.shares import Attribution, Key, Share, blend_of

__all__ = ["SEEN_EMPTY", "Booked", "Layer", "Layers", "SeenEmpty", "Share", "layers_of"]

SEEN_EMPTY: Final = "storage.bin_seen_empty/1"
"""Kind of the fact that says that a bin was seen empty."""


class Booked(Protocol):
    """A movement with the fact it belongs to, as a record returns it."""

    @property
    def position(self) -> int:
        """Position of its fact."""
        ...

    @property
    def line(self) -> int:
        """Its line within the fact."""
        ...

    @property
    def happened_at(self) -> dt.datetime:
        """When its fact happened."""
        ...

    @property
    def movement(self) -> Movement:
        """The movement itself."""
        ...

    @property
    def reversed_by(self) -> int | None:
        """Position of the fact that took it back."""
        ...

    @property
    def reverses(self) -> int | None:
        """Position of the fact that it takes back."""
        ...


class SeenEmpty(Protocol):
    """That a place was seen empty: after the movements of the same fact, before those of later."""

    @property
    def place(self) -> str:
        """The place."""
        ...

    @property
    def happened_at(self) -> dt.datetime:
        """When."""
        ...

    @property
    def position(self) -> int:
        """Position of the fact that says so."""
        ...


class Layers:
    """Layers of all places, brought forward movement by movement.

    Parameters
    ----------
    bins : mapping of place to FlowPattern
        How the bins empty; any other place inside the mill counts as a machine.
    """

    def __init__(self, bins: Mapping[str, FlowPattern]) -> None:
        self._places: dict[str, PlaceLayers | None] = {
            place: place_layers(flow) for place, flow in bins.items()
        }
        self._apart: dict[str, dict[str, PlaceLayers]] = {
            place: {} for place, flow in bins.items() if flow is FlowPattern.SEPARATE
        }
        self._machines: set[str] = set()
        self._drawn: dict[tuple[int, int], Attribution] = {}

    def apply(self, item: Booked) -> None:
        """Bring the layers forward by one movement. Movements come in order of happened_at,
        position and line; those that were taken back, and what took them back, are passed over.
        """
        if item.reversed_by is not None or item.reverses is not None:
            return
        movement = item.movement
        lot, mass_mg, sd_mg = movement.lot, movement.mass_mg, movement.mass_sd_mg
        source = self._place(movement.from_place, movement.material)
        target = self._place(movement.to_place, movement.material)
        key: Key = lot
        if source is not None:
            drawn = source.take(
                mass_mg, lot=lot, sd_mg=sd_mg, counted=movement.to_place == "unaccounted"
            )
            self._drawn[item.position, item.line] = drawn
            if source.total_mg == 0 and movement.from_place in self._machines:
                source.seen_empty()
            if lot is None and target is not None:
                key = blend_of(drawn, mass_mg)
        if target is not None:
            target.put(
                key,
                mass_mg,
                at=item.happened_at,
                sd_mg=sd_mg,
                counted=movement.from_place == "unaccounted",
            )

    def apply_part(self, item: Booked, *, take: bool, forget: bool, put: bool) -> None:
        """Bring only one side forward: what nobody will ask about any more may be left out.

        ``forget`` says that the place it came out of holds nothing after it. A movement of an
        unnamed lot that is put must be taken too.
        """
        if take and put and not forget:
            self.apply(item)
            return
        movement = item.movement
        source = self._place(movement.from_place, movement.material)
        target = self._place(movement.to_place, movement.material)
        key: Key = movement.lot
        if take and source is not None:
            drawn = source.take(
                movement.mass_mg,
                lot=movement.lot,
                sd_mg=movement.mass_sd_mg,
                counted=movement.to_place == "unaccounted",
            )
            if key is None and target is not None:
                key = blend_of(drawn, movement.mass_mg)
        if forget and source is not None:
            source.seen_empty()
        if put and target is not None:
            target.put(
                key,
                movement.mass_mg,
                at=item.happened_at,
                sd_mg=movement.mass_sd_mg,
                counted=movement.from_place == "unaccounted",
            )

    def seen_empty(self, place: str) -> None:
        """Forget what lay in a place: somebody has seen that it is empty."""
        for layers in self._all(place):
            layers.seen_empty()

    def shares(self, position: int, line: int) -> tuple[Share, ...]:
        """Return of which lots a movement out of a place of the mill was: shares with a mass first,
        then lots that are only possible. Empty for what came from outside.
        """
        drawn = self._drawn.get((position, line))
        return () if drawn is None else drawn.shares

    def drawn(self) -> Mapping[tuple[int, int], Attribution]:
        """Return all movements out of places of the mill by (position, line)."""
        return self._drawn

    def places(self) -> tuple[str, ...]:
        """Return every place of the mill, bins first."""
        return tuple(place for place, layers in self._places.items() if layers is not None)

    def layers(self, place: str) -> tuple[Layer, ...]:
        """Return the nominal layers of a place, that which comes out first first; where lots are
        kept apart, material by material.
        """
        return tuple(layer for found in self._all(place) for layer in found.layers())

    def possible_lots(self, place: str) -> tuple[str | None, ...]:
        """Return every lot that may lie in a place."""
        return tuple(dict.fromkeys(lot for found in self._all(place) for lot in found.possible()))

    def slack_mg(self, place: str) -> int:
        """Return how far the books of a place may be off, either way. [mg]"""
        return sum(found.slack_mg for found in self._all(place))

    def would_draw(self, place: str, mass_mg: int, *, material: str = "") -> tuple[Share, ...]:
        """Return of which lots a draw would be, and change nothing. Where lots are kept apart the
        material must be named.
        """
        if place in self._apart:
            found = self._apart[place].get(material)
        else:
            found = self._places.get(place)
        if found is None:
            return ()
        return found.copied().take(mass_mg).shares

    def _all(self, place: str) -> tuple[PlaceLayers, ...]:
        if place in self._apart:
            return tuple(found for _, found in sorted(self._apart[place].items()))
        found = self._places.get(place)
        return () if found is None else (found,)

    def _place(self, place: str, material: str) -> PlaceLayers | None:
        """Where lots are kept apart, a draw of one material is of no lot of another."""
        apart = self._apart.get(place)
        if apart is not None:
            if material not in apart:
                apart[material] = place_layers(FlowPattern.SEPARATE)
            return apart[material]
        try:
            return self._places[place]
        except KeyError:
            layers = None if is_outside(place) else WellMixed()
            self._places[place] = layers
            if layers is not None:
                self._machines.add(place)
            return layers


def layers_of(
    movements: Iterable[Booked],
    bins: Mapping[str, FlowPattern],
    *,
    seen_empty: Iterable[SeenEmpty] = (),
) -> Layers:
    """Return the layers of all places after the movements.

    Parameters
    ----------
    movements : iterable of Booked
        Ordered by happened_at, position and line, as a record gives them.
    bins : mapping of place to FlowPattern
        How the bins empty.
    seen_empty : iterable of SeenEmpty, optional
        When bins were seen empty; in any order.

    Returns
    -------
    layers : Layers
        Layers of each place, and the shares of each movement by position and line.
    """
    layers = Layers(bins)
    events = sorted(seen_empty, key=lambda event: (event.happened_at, event.position), reverse=True)
    for item in movements:
        while events and (events[-1].happened_at, events[-1].position) < (
            item.happened_at,
            item.position,
        ):
            layers.seen_empty(events.pop().place)
        layers.apply(item)
    while events:
        layers.seen_empty(events.pop().place)
    return layers
