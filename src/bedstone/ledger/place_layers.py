"""What lots lie in one place, whatever the way it empties. Movements are applied one by one.

Masses are whole milligrams throughout; nominal layers add up to the book stock of the place, or to
nothing where that is below nothing.
"""

import datetime as dt
from abc import ABC, abstractmethod
from collections.abc import Iterable, Sequence
from copy import copy
from itertools import islice
from math import isqrt
from typing import Final, NamedTuple, Self

from bedstone.ledger.shares import Attribution, Blend, Key, LotsSoFar, Part, attribution, lots_in

__all__ = ["Heap", "Layer", "PlaceLayers"]

_WIDTHS: Final = 3  # standard deviations that count as possible

Heap = tuple[Key, int, int, dt.datetime]
"""A nominal layer: key, mass, the least that must be there, when the last of it came."""


class Layer(NamedTuple):
    """A nominal layer: lot, mass, whether some of it is there for certain, when the last came."""

    lot: str | None
    mass_mg: int
    certain: bool
    happened_at: dt.datetime


class PlaceLayers(ABC):
    """Layers of one place. Subclasses know how it empties.

    ``slack_mg`` is how far the books may be off: three standard deviations of all movements since
    the place was last seen empty (the error of one movement taken as independent of another's),
    and whatever counts have put to or from *unaccounted* since, which may have come or gone
    anywhere. ``drawn_beyond`` is True once more has been drawn than was booked in: then something
    that nobody booked, the lot None, may be in it until it is seen empty.
    """

    __slots__ = (
        "_came_in",
        "_ever",
        "_known",
        "_met",
        "_unaccounted_mg",
        "_variance",
        "drawn_beyond",
        "total_mg",
    )

    def __init__(self) -> None:
        self.total_mg = 0
        self.drawn_beyond = False
        self._variance = 0
        self._unaccounted_mg = 0
        self._forget_lots()

    @property
    def slack_mg(self) -> int:
        """How far the books may be off, either way. [mg]"""
        if not self._variance:
            return self._unaccounted_mg
        return isqrt(_WIDTHS * _WIDTHS * self._variance - 1) + 1 + self._unaccounted_mg

    def put(
        self, key: Key, mass_mg: int, *, at: dt.datetime, sd_mg: int = 0, counted: bool = False
    ) -> None:
        """Add what came in. ``counted`` says that a count found it, not that it was brought."""
        self._widen(mass_mg, sd_mg=sd_mg, counted=counted)
        self._came_in.append(key)
        owed_mg = min(mass_mg, -self.total_mg) if self.total_mg < 0 else 0
        self.total_mg += mass_mg
        self._lay(key, mass_mg, owed_mg=owed_mg, at=at)

    def take(
        self, mass_mg: int, *, lot: str | None = None, sd_mg: int = 0, counted: bool = False
    ) -> Attribution:
        """Take out and return of which lots it was. A ``lot`` that is given is the truth.

        The draw's own error counts: where it ends is as uncertain as its mass.
        """
        self._widen(mass_mg, sd_mg=sd_mg, counted=counted)
        held_mg = max(0, self.total_mg)
        beyond_mg = mass_mg - held_mg
        if lot is not None:
            self._draw_lot(lot, min(mass_mg, held_mg))
            out = Attribution(((lot, mass_mg, mass_mg),), (), 0)
        elif beyond_mg <= 0:
            slack_mg = self.slack_mg
            also = self._beside(mass_mg, slack_mg=slack_mg)
            many = len(also)
            out = attribution(self._draw(mass_mg, slack_mg=slack_mg), also, many)
        else:
            self.drawn_beyond = True
            self._came_in.append(None)
            slack_mg = self.slack_mg
            near = self.possible()
            parts = self._draw(held_mg, slack_mg=slack_mg) if held_mg else []
            parts.append((None, beyond_mg, beyond_mg - slack_mg))
            out = attribution(parts, near, len(near))
        self.total_mg -= mass_mg
        return out

    def copied(self) -> Self:
        """Return layers that can be drawn from without changing these."""
        out = copy(self)
        for kind in type(self).__mro__:
            for name in getattr(kind, "__slots__", ()):
                value = getattr(self, name)
                if isinstance(value, list | dict | set):
                    setattr(out, name, type(value)(value))
        return out

    def seen_empty(self) -> None:
        """Forget everything: somebody has seen that nothing is in it."""
        self.total_mg = 0
        self.drawn_beyond = False
        self._variance = self._unaccounted_mg = 0
        self._forget_lots()
        self._clear()

    def layers(self) -> tuple[Layer, ...]:
        """Return the nominal layers, that which comes out first first; blends as their lots."""
        out: list[Layer] = []
        for key, mass_mg, least_mg, at in self._heaps():
            out.extend(
                Layer(lot, lot_mg, certain=least > 0, happened_at=at)
                for lot, lot_mg, least in lots_in(key, mass_mg, least_mg=least_mg)
                if lot_mg
            )
        return tuple(out)

    def possible(self) -> tuple[str | None, ...]:
        """Return all lots that may be in the place now."""
        return tuple(self._since_empty())

    def _beside(self, mass_mg: int, *, slack_mg: int) -> Sequence[Key]:
        """Return what is possible in the next draw."""
        del mass_mg, slack_mg
        return self._since_empty()

    def _forget_lots(self) -> None:
        self._came_in: list[Key] = []  # not yet written out in _ever
        self._ever = LotsSoFar()
        self._known: set[str | None] = set()
        self._met: dict[int, tuple[LotsSoFar, int]] = {}  # how far lists of other places are in

    def _since_empty(self) -> LotsSoFar:
        """Return the lots that came since the place was seen empty."""
        for key in self._came_in:
            if not isinstance(key, Blend):
                self._meet((key,))
                continue
            source, also = key.source, key.source.also
            if isinstance(also, LotsSoFar):
                _, start = self._met.get(id(also), (also, 0))
                self._meet(part[0] for part in source.parts)
                self._meet(islice(also, start, source.many))
                self._met[id(also)] = (also, max(start, source.many))
            else:
                self._meet(key.lots)
        self._came_in.clear()
        return self._ever

    def _meet(self, lots: Iterable[str | None]) -> None:
        for lot in lots:
            if lot not in self._known:
                self._known.add(lot)
                self._ever.append(lot)

    def _widen(self, mass_mg: int, *, sd_mg: int, counted: bool) -> None:
        if sd_mg:
            self._variance += sd_mg * sd_mg
        if counted:
            self._unaccounted_mg += mass_mg

    @abstractmethod
    def _lay(self, key: Key, mass_mg: int, *, owed_mg: int, at: dt.datetime) -> None:
        """Add a layer, of which ``owed_mg`` has gone before it came."""

    @abstractmethod
    def _draw(self, mass_mg: int, *, slack_mg: int) -> list[Part]:
        """Take out nominally, no more than there is."""

    @abstractmethod
    def _draw_lot(self, lot: str, mass_mg: int) -> None:
        """Take out a lot that is known; what is not there of it comes out nominally."""

    @abstractmethod
    def _heaps(self) -> list[Heap]:
        """Return the nominal layers with blends as they are."""

    @abstractmethod
    def _clear(self) -> None:
        """Forget the layers."""
