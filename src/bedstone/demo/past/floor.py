"""The simulated mill's floor: what truly lies where, what the books say, and the facts so far.

The truth and the books differ by what instruments, counts and losses leave unsaid, as they do in
a real mill.
"""

import datetime as dt
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from bedstone.demo.faults import NO_FAULTS
from bedstone.demo.past.makeup import Makeup
from bedstone.demo.past.truth import Truth
from bedstone.ledger.model import Fact, How, Json, Lot, Movement, Reading, Recorded, is_outside
from bedstone.ledger.reversal import reversal_of
from bedstone.mill.model import Mill

__all__ = ["MG_KG", "POUND_MG", "Floor", "Mistake", "Moved", "Stock", "to_mg"]

Stock = Mapping[tuple[str, str], int]

MG_KG = 1_000_000
POUND_MG = 453_592.37
EVENING_HOUR = 14


def to_mg(mass_kg: float) -> int:
    """A mass in whole milligrams."""
    return round(mass_kg * MG_KG)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A movement as booked, and the mass that truly moved, from elsewhere if ``truly_from`` says."""

    movement: Movement
    true_mg: int
    truly_from: tuple[str, str] | None = None


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
    moved: tuple[Moved, ...] = ()
    read: Callable[[Stock], Fact] | None = None


@dataclass
class Floor:
    """Stock, truth and books, lots of sacks, and the facts of the day that is being simulated."""

    mill: Mill
    dice: random.Random
    position: int  # of the next fact in the journal
    seed: int = 0
    until: dt.datetime | None = None  # nothing is written down that would happen later
    truth: Truth = field(default_factory=lambda: Truth(NO_FAULTS))
    true: dict[tuple[str, str], int] = field(default_factory=dict)
    book: dict[tuple[str, str], int] = field(default_factory=dict)
    sacks: dict[tuple[str, str], list[tuple[str, int]]] = field(default_factory=dict)
    true_outside: dict[str, int] = field(default_factory=dict)
    _then: dict[tuple[str, str], int] = field(default_factory=dict)  # truth as facts are told
    _entries: list[_Entry] = field(default_factory=list)
    _turn: int = 0

    def __post_init__(self) -> None:
        """Lay out what the makeup of everything is."""
        self.makeup = Makeup(self.mill, self.dice_for("makeup"))
        self.truth.lots = self.makeup.lots

    def dice_for(self, what: str) -> random.Random:
        """Dice of its own for each matter, so that one does not change another's luck."""
        return random.Random(f"{what} {self.seed}")  # noqa: S311  a simulation, nothing secret

    def put_opening(self, place: str, material: str, *, lot: str, mass_mg: int) -> None:
        """Stock that is there when the past begins; its fact is the desk's."""
        self.makeup.loaded(
            lot, material, place=place, there_mg=self.true_mg(place, material), mass_mg=mass_mg
        )
        for side in (self.true, self.book, self._then):
            side[place, material] = side.get((place, material), 0) + mass_mg
        self.sacks.setdefault((place, material), []).append((lot, mass_mg))

    def true_mg(self, place: str, material: str) -> int:
        """What truly lies of a material in a place."""
        return self.true.get((place, material), 0)

    def held_mg(self, place: str) -> int:
        """What truly lies in a place, all materials together."""
        return sum(mass for (where, _), mass in self.true.items() if where == place)

    def room_since(self, place: str, mass_mg: int, *, capacity_mg: int) -> dt.datetime | None:
        """From when on today so much more fitted into a place; None if it always did."""
        level = sum(mass for (where, _), mass in self.book.items() if where == place) + mass_mg
        for entry in sorted(self._entries, key=lambda one: (one.at, one.turn), reverse=True):
            for item in entry.moved:
                row = item.movement
                level += row.mass_mg * ((row.from_place == place) - (row.to_place == place))
            if level > capacity_mg:
                return entry.at
        return None

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
        self._enter(at, fact, mistake, moved=tuple(moved))

    def note_reading(self, at: dt.datetime, read: Callable[[Stock], Fact]) -> None:
        """Note what somebody reads off at a moment; ``read`` gets the true stock of that moment."""
        self._turn += 1
        self._entries.append(_Entry(at, self._turn, None, read=read))

    def take_back(self, mistake: Mistake, *, at: dt.datetime) -> None:
        """Somebody takes a mistaken fact back at this moment of the day or on a later one."""
        self._enter(at, None, mistake)

    def _enter(
        self,
        at: dt.datetime,
        fact: Fact | None,
        mistake: Mistake | None,
        *,
        moved: tuple[Moved, ...] = (),
    ) -> None:
        self._turn += 1
        self._entries.append(_Entry(at, self._turn, fact, mistake, moved))

    def _move(self, item: Moved) -> None:
        row = item.movement
        for place, sign in ((row.from_place, -1), (row.to_place, 1)):
            if is_outside(place):
                outside = self.true_outside.get(place, 0)
                self.true_outside[place] = outside + sign * item.true_mg
                continue
            key = (place, row.material)
            self.book[key] = self.book.get(key, 0) + sign * row.mass_mg
        _move_truly(self.true, item)

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
        for item in entry.moved:
            _move_truly(self._then, item)
        if entry.read is not None:
            fact = entry.read(self._then)
        elif fact is None:
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

    def unaccounted(
        self, place: str, material: str, more_mg: int, *, true_out_mg: int = 0
    ) -> Moved:
        """The movement that brings the books of a place to what was found; the truth stays, but
        for what is said to have been lost.
        """
        ends = ("unaccounted", place) if more_mg > 0 else (place, "unaccounted")
        return Moved(
            movement=Movement(
                from_place=ends[0],
                to_place=ends[1],
                mass_mg=abs(more_mg),
                material=material,
                how=How.COUNTED,
            ),
            true_mg=-true_out_mg if more_mg > 0 else true_out_mg,
        )


def _move_truly(stock: dict[tuple[str, str], int], item: Moved) -> None:
    row = item.movement
    source = item.truly_from or (row.from_place, row.material)
    for key, sign in ((source, -1), ((row.to_place, row.material), 1)):
        if not is_outside(key[0]):
            stock[key] = stock.get(key, 0) + sign * item.true_mg
