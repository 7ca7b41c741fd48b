"""The four ways in which places empty: first in first out, from the top, well mixed, by the lot."""

import datetime as dt
from collections.abc import Sequence

from bedstone.ledger.model import FlowPattern
from bedstone.ledger.place_layers import Heap, PlaceLayers
from bedstone.ledger.shares import Attribution, Blend, Key, Part, flat, shared_out

__all__ = ["FunnelFlow", "KeptApart", "MassFlow", "WellMixed", "place_layers"]


class MassFlow(PlaceLayers):
    """First in, first out.

    Think of everything that ever came laid end to end. What is drawn next begins nominally where
    the last draw ended, give or take the slack. A lot is possible in a draw if its stretch comes
    within the slack of it; it is certain if it ends more than the slack behind where the draw begins
    and begins more than the slack before the draw ends.
    """

    __slots__ = ("_at", "_front", "_gone", "_keys", "_left")

    def __init__(self) -> None:
        super().__init__()
        self._clear()

    def _clear(self) -> None:
        self._keys: list[Key] = []
        self._left: list[int] = []
        self._gone: list[int] = []
        self._at: list[dt.datetime] = []
        self._front = 0

    def _lay(self, key: Key, mass_mg: int, *, owed_mg: int, at: dt.datetime) -> None:
        if self._keys and self._keys[-1] == key and self._left[-1]:
            self._left[-1] += mass_mg
            self._at[-1] = at
            return
        self._keys.append(key)
        self._left.append(mass_mg - owed_mg)
        self._gone.append(owed_mg)
        self._at.append(at)
        self._advance()

    def _draw(self, mass_mg: int, *, slack_mg: int) -> list[Part]:
        left, front = self._left, self._front
        parts: list[Part] = []
        start, need, n = -self._gone[front], mass_mg, front
        end = left[front]
        while True:
            taken = min(left[n], need)
            if taken:
                least = min(end, mass_mg - start) - slack_mg
                if least > 0:  # some of it is; how much is as uncertain as the lengths are
                    least = max(1, min(least, min(end - start, mass_mg) - slack_mg))
                parts.append((self._keys[n], taken, least))
                left[n] -= taken
                self._gone[n] += taken
                need -= taken
            if not need:
                break
            n += 1
            start, end = end, end + left[n]
        self._front = n
        self._advance()
        return parts

    def _beside(self, mass_mg: int, *, slack_mg: int) -> Sequence[Key]:
        near = self._near(mass_mg, slack_mg)
        if self.drawn_beyond:
            near.append(None)
        return near

    def _near(self, mass_mg: int, slack_mg: int) -> list[Key]:
        """Return the keys whose stretch comes within the slack of what is drawn next."""
        keys: list[Key] = []
        behind = self._gone[self._front]  # from the draw back to the end of the layer before
        n = self._front - 1
        while n >= 0 and behind < slack_mg:
            keys.append(self._keys[n])
            behind += self._gone[n]
            n -= 1
        ahead, n = 0, self._front
        while n < len(self._keys) and ahead < mass_mg + slack_mg:
            if self._left[n] or slack_mg:
                keys.append(self._keys[n])
            ahead += self._left[n]
            n += 1
        return keys

    def _advance(self) -> None:
        """Step over layers of which nothing is left, but for the last one."""
        while self._front < len(self._keys) - 1 and not self._left[self._front]:
            self._front += 1

    def _draw_lot(self, lot: str, mass_mg: int) -> None:
        for named in (True, False):
            for n in range(self._front, len(self._keys)):
                if mass_mg and (not named or self._keys[n] == lot):
                    taken = min(self._left[n], mass_mg)
                    self._left[n] -= taken
                    self._gone[n] += taken
                    mass_mg -= taken
            if not mass_mg:
                break
        self._advance()

    def _heaps(self) -> list[Heap]:
        out: list[Heap] = []
        end, slack_mg = 0, self.slack_mg
        for n in range(self._front, len(self._keys)):
            end += self._left[n]
            if self._left[n]:
                least_mg = min(self._left[n], end - slack_mg)
                out.append((self._keys[n], self._left[n], least_mg, self._at[n]))
        return out

    def possible(self) -> tuple[str | None, ...]:
        """Return all lots that may be in the place now."""
        if not self._keys:
            return (None,) if self.drawn_beyond else ()
        near = self._beside(max(0, self.total_mg), slack_mg=self.slack_mg)
        return tuple(dict.fromkeys(flat(near)))


class FunnelFlow(PlaceLayers):
    """A core draws from the top: nominally last in, first out.

    What stands along the walls may come at any time, so that every lot that came since the place
    was seen empty is possible. A lot is certain in a draw only if there is not enough of everything
    else: at least ``inflow - everything drawn since it first came`` of it must still be there.
    """

    __slots__ = ("_came", "_drawn", "_since", "_stack")

    def __init__(self) -> None:
        super().__init__()
        self._clear()

    def _clear(self) -> None:
        self._stack: list[tuple[Key, int, dt.datetime]] = []  # the top is the last
        self._came: dict[Key, int] = {}
        self._since: dict[Key, int] = {}  # all that had been drawn when it first came
        self._drawn = 0

    def _lay(self, key: Key, mass_mg: int, *, owed_mg: int, at: dt.datetime) -> None:
        mass_mg -= owed_mg
        self._since.setdefault(key, self._drawn)
        self._came[key] = self._came.get(key, 0) + mass_mg
        if self._stack and self._stack[-1][0] == key:
            mass_mg += self._stack.pop()[1]
        if mass_mg:
            self._stack.append((key, mass_mg, at))

    def _draw(self, mass_mg: int, *, slack_mg: int) -> list[Part]:
        taken: dict[Key, int] = {}
        need = mass_mg
        while need:
            key, left, at = self._stack.pop()
            part = min(left, need)
            taken[key] = taken.get(key, 0) + part
            need -= part
            if left > part:
                self._stack.append((key, left - part, at))
        parts: list[Part] = [
            (key, part, self._least(key, mass_mg) - slack_mg) for key, part in taken.items()
        ]
        self._drawn += mass_mg
        return parts

    def _least(self, key: Key, mass_mg: int) -> int:
        """Return how much of a lot must be in a draw if the books are right; may be below nothing."""
        there_mg = self._came[key] - (self._drawn - self._since[key])
        return mass_mg - (self.total_mg - there_mg) if there_mg > 0 else 0

    def _draw_lot(self, lot: str, mass_mg: int) -> None:
        kept: list[tuple[Key, int, dt.datetime]] = []
        while self._stack and mass_mg:
            key, left, at = self._stack.pop()
            part = min(left, mass_mg) if key == lot else 0
            mass_mg -= part
            if part:
                self._came[key] -= part
            if left > part:
                kept.append((key, left - part, at))
        self._stack.extend(reversed(kept))
        if mass_mg:
            self._draw(mass_mg, slack_mg=0)

    def _heaps(self) -> list[Heap]:
        slack_mg, total_mg = self.slack_mg, self.total_mg
        return [
            (key, left, min(left, self._least(key, total_mg) - slack_mg), at)
            for key, left, at in reversed(self._stack)
        ]


class WellMixed(PlaceLayers):
    """Stirred: every draw is of all lots in proportion.

    Every lot since the place was seen empty is possible; a lot is certain if there is nominally
    more of it left than the slack.
    """

    __slots__ = ("_heap", "_rounded")

    def __init__(self) -> None:
        super().__init__()
        self._clear()

    def _clear(self) -> None:
        self._heap: dict[Key, tuple[Key, int, dt.datetime]] = {}
        self._rounded = 0  # draws that were shared out to the milligram, each off by up to one

    def _lay(self, key: Key, mass_mg: int, *, owed_mg: int, at: dt.datetime) -> None:
        before = self._heap.get(key)
        mass_mg += (before[1] if before else 0) - owed_mg
        if mass_mg:
            self._heap[key] = (key, mass_mg, at)

    def _draw(self, mass_mg: int, *, slack_mg: int) -> list[Part]:
        heap = self._heap
        parts: list[Part] = []
        if mass_mg == self.total_mg:
            parts = [(key, left, left - slack_mg) for key, left, _ in heap.values()]
            heap.clear()
        else:
            whole = list(heap.values())
            taken = shared_out(mass_mg, [left for _, left, _ in whole])
            self._rounded += 1
            for (key, left, at), part in zip(whole, taken, strict=True):
                if part:
                    least = (left - slack_mg) * part // left
                    if left > slack_mg:  # some of it is, in a draw that may be smaller than booked
                        least = max(1, least - slack_mg - self._rounded)
                    parts.append((key, part, least))
                    self._lower(key, left - part, at)
        return parts

    def _lower(self, key: Key, left_mg: int, at: dt.datetime) -> None:
        if left_mg:
            self._heap[key] = (key, left_mg, at)
        else:
            del self._heap[key]

    def _draw_lot(self, lot: str, mass_mg: int) -> None:
        there = self._heap.get(lot)
        if there is not None:
            part = min(there[1], mass_mg)
            self._lower(lot, there[1] - part, there[2])
            mass_mg -= part
        if mass_mg:
            self._draw(mass_mg, slack_mg=0)

    def _heaps(self) -> list[Heap]:
        slack_mg = self.slack_mg
        return [(key, left, left - slack_mg, at) for key, left, at in self._heap.values()]


class KeptApart(WellMixed):
    """Sacks or totes on a floor: the lot is scanned. If it was not, nominally the oldest was taken,
    but it may have been any: every lot stays possible until the place is seen empty, or until all
    of it has been scanned out and its masses are counts, without error. One is certain only if
    there cannot be enough of the others: neither of what came of them less what was scanned out,
    nor of all that is there less what must be left of the lot itself.
    """

    __slots__ = ("_drawn", "_most", "_most_of_all", "_open", "_rough", "_since")

    def _clear(self) -> None:
        super()._clear()
        self._most: dict[Key, int] = {}  # what came less what was scanned out
        self._most_of_all = 0
        self._since: dict[Key, int] = {}  # all that had been drawn unscanned when it first came
        self._drawn = 0
        self._open: dict[Key, None] = {}  # what may be there
        self._rough: set[Key] = set()  # of which some masses have errors

    def put(
        self, key: Key, mass_mg: int, *, at: dt.datetime, sd_mg: int = 0, counted: bool = False
    ) -> None:
        """Add what came in."""
        if sd_mg:
            self._rough.add(key)
        if counted:  # more is there than was booked, of whatever lot
            self._open.update(dict.fromkeys(self._most))
            self._rough.update(self._most)
        super().put(key, mass_mg, at=at, sd_mg=sd_mg, counted=counted)

    def take(
        self, mass_mg: int, *, lot: str | None = None, sd_mg: int = 0, counted: bool = False
    ) -> Attribution:
        """Take out and return of which lots it was."""
        if lot is not None:
            if sd_mg:
                self._rough.add(lot)
            self._scan(lot, mass_mg)
        return super().take(mass_mg, lot=lot, sd_mg=sd_mg, counted=counted)

    def _scan(self, lot: str, mass_mg: int) -> None:
        """Note that so much of a lot went; more than came of it says that the books are wrong.

        Where a blend may hold the lot too, nobody knows which of the two it was of.
        """
        if any(isinstance(key, Blend) and lot in key.lots for key in self._most):
            self._drawn += mass_mg
            return
        most_mg = self._most.get(lot, 0)
        self._most[lot] = max(0, most_mg - mass_mg)
        self._most_of_all -= min(most_mg, mass_mg)
        self._since.setdefault(lot, self._drawn)
        if mass_mg > most_mg:
            self._unaccounted_mg += mass_mg - most_mg
            self._rough.add(lot)
            if lot not in self._open:
                self._open[lot] = None
                self._came_in.append(lot)
        elif mass_mg == most_mg and lot not in self._rough:
            self._open.pop(lot, None)

    def _lay(self, key: Key, mass_mg: int, *, owed_mg: int, at: dt.datetime) -> None:
        super()._lay(key, mass_mg, owed_mg=owed_mg, at=at)
        self._since[key] = self._since.get(key, self._drawn) - owed_mg
        self._most[key] = self._most.get(key, 0) + mass_mg
        self._most_of_all += mass_mg
        self._open[key] = None

    def _draw(self, mass_mg: int, *, slack_mg: int) -> list[Part]:
        parts: list[Part] = []
        for key, part in self._oldest(mass_mg):
            parts.append((key, part, self._least(key, mass_mg) - slack_mg))
        self._drawn += mass_mg
        return parts

    def _oldest(self, mass_mg: int) -> list[tuple[Key, int]]:
        """Take out nominally, the oldest first."""
        taken: list[tuple[Key, int]] = []
        for key, left, _ in self._heap.values():
            if not mass_mg:
                break
            taken.append((key, min(left, mass_mg)))
            mass_mg -= taken[-1][1]
        for key, part in taken:
            _, left, at = self._heap[key]
            self._lower(key, left - part, at)
        return taken

    def _least(self, key: Key, mass_mg: int) -> int:
        """Return how much of a lot must be in a draw if the books are right; may be below nothing."""
        most_mg = self._most[key]
        there_mg = max(0, most_mg - (self._drawn - self._since[key]))
        others_mg = self.total_mg - there_mg
        if not self.drawn_beyond:
            others_mg = min(others_mg, self._most_of_all - most_mg)
        return mass_mg - others_mg

    def _draw_lot(self, lot: str, mass_mg: int) -> None:
        there = self._heap.get(lot)
        if there is not None:
            part = min(there[1], mass_mg)
            self._lower(lot, there[1] - part, there[2])
            mass_mg -= part
        if mass_mg:
            self._oldest(mass_mg)

    def _heaps(self) -> list[Heap]:
        slack_mg, total_mg = self.slack_mg, self.total_mg
        return [
            (key, left, min(left, self._least(key, total_mg) - slack_mg), at)
            for key, left, at in self._heap.values()
        ]

    def _beside(self, mass_mg: int, *, slack_mg: int) -> Sequence[Key]:
        del mass_mg, slack_mg
        if len(self._open) == len(self._most):
            return self._since_empty()
        there: list[Key] = list(self._open)
        if self.drawn_beyond:
            there.append(None)
        return there

    def possible(self) -> tuple[str | None, ...]:
        """Return all lots that may be in the place now."""
        return tuple(dict.fromkeys(flat(self._beside(0, slack_mg=0))))


_WAYS: dict[FlowPattern, type[PlaceLayers]] = {
    FlowPattern.MASS: MassFlow,
    FlowPattern.FUNNEL: FunnelFlow,
    FlowPattern.MIXED: WellMixed,
    FlowPattern.SEPARATE: KeptApart,
}


def place_layers(flow: FlowPattern) -> PlaceLayers:
    """Return the layers of an empty place that empties in this way."""
    return _WAYS[flow]()
