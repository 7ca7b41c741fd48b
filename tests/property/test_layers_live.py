"""Layers from what they hang on are the layers of a full fold."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

import pytest

from bedstone.desk.record import MovementRecorded
from bedstone.ledger.layers import Layers, layers_of
from bedstone.ledger.layers_live import layers_now
from bedstone.ledger.model import FlowPattern, How, Movement

AT = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)
FLOWS = tuple(FlowPattern)
BINS = {f"B{n}": flow for n, flow in enumerate(FLOWS * 2)}
MACHINES = ("MX", "GR")


@dataclass
class Mark:
    """A place seen empty."""

    place: str
    happened_at: dt.datetime
    position: int


def story(seed: int, *, many: int, empties: float) -> tuple[list[MovementRecorded], list[Mark]]:
    """Loads, moves with and without lots, machines run empty, counts, facts taken back."""
    dice = Random(seed)
    movements, marks = [], []
    inside = [*BINS, *MACHINES]
    in_machine = dict.fromkeys(MACHINES, 0)
    for n in range(1, many + 1):
        at = AT + dt.timedelta(minutes=n // 2)
        start = dice.choice(("supplier/A", "unaccounted", *inside, *inside))
        end = dice.choice([row for row in (*inside, "customer/Z", "unaccounted") if row != start])
        mass = dice.randint(1, 30)
        if in_machine.get(start, 0) > 0 and dice.random() < 0.7:
            mass = in_machine[start]
        lot = f"L{n}" if start == "supplier/A" else dice.choice((None, None, None, f"L{n - 3}"))
        back = dice.random() < 0.03
        if not back:
            for place, sign in ((start, -1), (end, 1)):
                if place in in_machine:
                    in_machine[place] += sign * mass
        movement = Movement(
            from_place=start,
            to_place=end,
            mass_mg=mass,
            material=dice.choice(("CORN", "SALT")),
            how=How.WEIGHED,
            lot=lot,
            mass_sd_mg=dice.choice((0, 1, 2)),
        )
        movements.append(
            MovementRecorded(
                position=n,
                line=1,
                kind="a.b/1",
                happened_at=at,
                movement=movement,
                reversed_by=n + 1 if back else None,
            )
        )
        if dice.random() < empties:
            place = dice.choice(list(BINS))
            marks.append(Mark(place, at, n))
    dice.shuffle(marks)
    return movements, marks


def live(movements: list[MovementRecorded], marks: list[Mark], seen: list[int]) -> Layers:
    """The layers of now, with how many movements were read."""
    left: dict[str, int] = {}
    last = {}
    for item in movements:
        move = item.movement
        if item.reversed_by is None:
            last[move.from_place] = last[move.to_place] = move.from_place
            left[move.from_place] = left.get(move.from_place, 0) - move.mass_mg
            left[move.to_place] = left.get(move.to_place, 0) + move.mass_mg

    def newest() -> Iterator[MovementRecorded]:
        for item in reversed(movements):
            seen.append(item.position)
            yield item

    forgotten = [place for place in (*BINS, *MACHINES) if place not in last]
    forgotten += [row for row in MACHINES if not left.get(row, 0) and last.get(row) == row]
    return layers_now(
        newest(), BINS, left_mg=left, seen_empty=marks, machines=MACHINES, forgotten=forgotten
    )


@pytest.mark.parametrize("empties", [0.0, 0.05, 0.3])
def test_what_is_passed_over_changes_nothing(empties: float):
    """Over 250 random stories every place has the layers, possible lots and slack of the full fold,
    and goes on to have them.
    """
    for seed in range(250):
        movements, marks = story(seed, many=60, empties=empties)
        kept = live(movements, marks, [])
        plain = layers_of(movements, BINS, seen_empty=marks)
        later, _ = story(seed + 9000, many=5, empties=0)
        for item in (None, *later):
            if item is not None:
                kept.apply(item)
                plain.apply(item)
            for place in plain.places():
                assert kept.layers(place) == plain.layers(place)
                assert kept.possible_lots(place) == plain.possible_lots(place)
                assert kept.slack_mg(place) == plain.slack_mg(place)


def test_what_a_seen_empty_bin_held_is_not_folded():
    """Of 60 moves before every place was seen empty none is folded."""
    movements, _ = story(1, many=60, empties=0)
    at = movements[-1].happened_at
    for place in MACHINES:  # the last movement out leaves nothing by the books
        over = sum(
            row.movement.mass_mg
            * ((row.movement.to_place == place) - (row.movement.from_place == place))
            for row in movements
            if row.reversed_by is None
        )
        for start, end, mass in (("supplier/A", place, 1000), (place, "customer/Z", over + 1000)):
            move = Movement(
                from_place=start, to_place=end, mass_mg=mass, material="CORN", how=How.WEIGHED
            )
            position = len(movements) + 1
            movements.append(
                MovementRecorded(
                    position=position, line=1, kind="a.b/1", happened_at=at, movement=move
                )
            )
    marks = [Mark(place, movements[-1].happened_at, 99) for place in BINS]
    seen: list[int] = []
    kept = live(movements, marks, seen)
    assert kept.drawn() == {}
    assert all(kept.layers(place) == () for place in kept.places())
    assert len(seen) == 1
