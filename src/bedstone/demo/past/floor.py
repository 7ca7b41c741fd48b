"""The simulated mill's floor: what truly lies where, what the books say, and the facts so far.

The truth and the books differ by what instruments, counts and losses leave unsaid, as they do in
a real mill.
"""

import datetime as dt
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from bedstone.ledger.model import Fact, How, Json, Lot, Movement, Reading, Recorded, is_outside
from bedstone.ledger.reversal import reversal_of
from bedstone.mill.model import Mill

__all__ = ["MG_KG", "POUND_MG", "Floor", "Mistake", "Moved", "to_mg"]

MG_KG = 1_000_000
POUND_MG = 453_592.37
EVENING_HOUR = 14


def to_mg(mass_kg: float) -> int:
    """A mass in whole milligrams."""
    return round(mass_kg * MG_KG)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A movement as booked, and the mass that truly moved."""

    movement: Movement
    true_mg: int


@dataclass(slots=True)
class Mistake:
    """A fact that somebody takes back later, once its place in the journal is known."""

    why: str
    by: str
    found: Recorded | None = None


@dataclass(slots=True)
class _Entry:
    at: dt.datetime
    turn: int
    fact: Fact | None
    mistake: Mistake | None = None


@dataclass
class Floor:
    """Stock, truth and books, lots of sacks, and the facts of the day that is being simulated."""

    mill: Mill
    dice: random.Random
    position: int  # of the next fact in the journal
    true: dict[tuple[str, str], int] = field(default_factory=dict)
    book: dict[tuple[str, str], int] = field(default_factory=dict)
    sacks: dict[tuple[str, str], list[tuple[str, int]]] = field(default_factory=dict)
    _entries: list[_Entry] = field(default_factory=list)
    _turn: int = 0

    def put_opening(self, place: str, material: str, *, lot: str, mass_mg: int) -> None:
        """Stock that is there when the past begins; its fact is the desk's."""
        for side in (self.true, self.book):
            side[place, material] = side.get((place, material), 0) + mass_mg
        self.sacks.setdefault((place, material), []).append((lot, mass_mg))

    def true_mg(self, place: str, material: str) -> int:
        """What truly lies of a material in a place."""
        return self.true.get((place, material), 0)

    def held_mg(self, place: str) -> int:
        """What truly lies in a place, all materials together."""
        return sum(mass for (where, _), mass in self.true.items() if where == place)

    def who(self, role: str, at: dt.datetime) -> str:
        """Who of a role is at work: the first before the afternoon, the second after."""
        people = [row.person for row in self.mill.people if row.role == role]
        if not people:
            people = [self.mill.people[0].person]
        late = at.astimezone(self.mill.settings.zone).hour >= EVENING_HOUR
        return people[-1] if late else people[0]

    def note(
        self,
        kind: str,
        *,
        at: dt.datetime,
        by: str,
        content: Mapping[str, Json],
        moved: Sequence[Moved] = (),
        lots: Sequence[Lot] = (),
        mistake: Mistake | None = None,
    ) -> None:
        """Book a fact and move what truly moved."""
        at = at.replace(microsecond=0)
        for item in moved:
            self._move(item)
        fact = Fact(
            kind=kind,
            happened_at=at,
            by=by,
            content=content,
            movements=tuple(item.movement for item in moved if item.movement.mass_mg),
            lots=tuple(lots),
        )
        self._enter(at, fact, mistake)

    def take_back(self, mistake: Mistake, *, at: dt.datetime) -> None:
        """Somebody takes a mistaken fact back at this moment of the day or on a later one."""
        self._enter(at, None, mistake)

    def _enter(self, at: dt.datetime, fact: Fact | None, mistake: Mistake | None) -> None:
        self._turn += 1
        self._entries.append(_Entry(at, self._turn, fact, mistake))

    def _move(self, item: Moved) -> None:
        row = item.movement
        for place, sign in ((row.from_place, -1), (row.to_place, 1)):
            if is_outside(place):
                continue
            key = (place, row.material)
            self.book[key] = self.book.get(key, 0) + sign * row.mass_mg
            self.true[key] = self.true.get(key, 0) + sign * item.true_mg

    def day_over(self, until: dt.datetime | None = None) -> Iterator[Fact]:
        """The facts so far in order of time, each with its place in the journal counted."""
        self._entries.sort(key=lambda entry: (entry.at, entry.turn))
        kept: list[_Entry] = []
        for entry in self._entries:
            if until is not None and entry.at >= until:
                kept.append(entry)
            elif (fact := self._made(entry)) is not None:
                yield fact
        self._entries = kept

    def _made(self, entry: _Entry) -> Fact | None:
        fact, mistake = entry.fact, entry.mistake
        if fact is None:
            if mistake is None or mistake.found is None:
                return None
            fact = reversal_of(mistake.found, by=mistake.by, why=mistake.why)
        elif mistake is not None:
            mistake.found = Recorded(
                position=self.position, recorded_at=entry.at, fact=fact, text="", head=""
            )
        self.position += 1
        return fact

    def reading(self, mass_mg: int, *, division_mg: int) -> Reading:
        """A reading as the instrument shows it, in the unit of the mill."""
        unit, unit_mg = ("lb", POUND_MG) if self.mill.settings.units == "US" else ("kg", MG_KG)
        division = division_mg / unit_mg
        places = max(0, min(4, len(f"{division:.4f}".rstrip("0").split(".")[1])))
        return Reading(
            number=f"{mass_mg / unit_mg:.{places}f}",
            unit=unit,
            division=f"{division:.{places}f}",
        )

    def unaccounted(self, place: str, material: str, more_mg: int) -> Moved:
        """The movement that brings the books of a place to what was found; the truth stays."""
        ends = ("unaccounted", place) if more_mg > 0 else (place, "unaccounted")
        return Moved(
            movement=Movement(
                from_place=ends[0],
                to_place=ends[1],
                mass_mg=abs(more_mg),
                material=material,
                how=How.COUNTED,
            ),
            true_mg=0,
        )
