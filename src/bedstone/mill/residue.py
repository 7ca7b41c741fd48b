"""What every machine, bin and route holds of every substance, batch after batch.

A mixer mixes what is left in it with the next batch; what comes after it is a hold-up that
exchanges with what passes. Besides the concentration each place remembers how much has passed
since the last material that contains the substance: a declared flush is judged by that. Where
feed passes from a place that has handled a substance into one that has not, the second counts as
having handled it too, with no more passed than the first: what a flush picks up, it carries on.
A place that nobody knows anything about holds the worst that the mill handles. That a place has
handled a substance at all, as far as the record goes back, is kept apart from that: no flush and no
clean-out makes a place one that has never handled it.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bedstone.mill.contents import worst_contents
from bedstone.mill.model import Mill
from bedstone.mill.plan import HeldSubstance
from bedstone.mill.residue_chain import BatchMap, run_map
from bedstone.mill.residue_places import ResiduePlaces

__all__ = [
    "CleanedOut",
    "MaterialPassed",
    "Ran",
    "Reached",
    "Residue",
    "ResidueState",
    "Way",
    "came_out",
    "replay",
]

MG_KG = 1_000_000
"""Milligrams in a kilogram."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialPassed:
    """One batch (feed or flush) that went along a route, mixer first."""

    route: tuple[str, ...]
    material: str
    mass_mg: int
    contents: Mapping[str, float]  # own content of each substance, mg/kg


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanedOut:
    """Places (routes as "A>B") that were cleaned by hand."""

    places: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """Places (routes as "A>B") to which a material came, or may have come, without cleaning them
    of anything: they hold at least what it contains.
    """

    places: tuple[str, ...]
    material: str
    contents: Mapping[str, float]  # own content of each substance, mg/kg


Ran = MaterialPassed | CleanedOut | Reached
"""What happens to the places: one of these after the other."""


@dataclass(slots=True)
class ResidueState:
    """What all places hold: arrays of shape (places, substances)."""

    held_mg_kg: NDArray[np.float64]
    passed_kg: NDArray[np.float64]  # infinite where never handled, or cleaned since
    known: NDArray[np.bool_]
    left_by: NDArray[np.int64]  # number of the material, -1 for none
    ever: NDArray[np.bool_]  # the record has seen it there, however long ago

    def copy(self) -> "ResidueState":
        """An own copy."""
        return ResidueState(
            self.held_mg_kg.copy(),
            self.passed_kg.copy(),
            self.known.copy(),
            self.left_by.copy(),
            self.ever.copy(),
        )


@dataclass(frozen=True, slots=True)
class Way:
    """A route as numbers of places, with their hold-ups and exchanges."""

    places: NDArray[np.int64]
    hold_ups_kg: tuple[float, ...]
    exchanges_frac: tuple[float, ...]


@dataclass
class Residue:
    """The reckoning for one mill."""

    mill: Mill
    places: ResiduePlaces = field(init=False)
    substances: tuple[str, ...] = field(init=False)
    substance_number: dict[str, int] = field(init=False)

    def __post_init__(self) -> None:
        """Number places and substances."""
        self.places = ResiduePlaces(self.mill)
        self.substances = tuple(sorted(self.mill.substance_by_code))
        self.substance_number = {code: number for number, code in enumerate(self.substances)}
        self._materials: list[str] = []
        self._material_number: dict[str, int] = {}
        self._ways: dict[tuple[str, ...], Way] = {}

    def unknown(self) -> ResidueState:
        """The state of a mill of which the record says nothing."""
        shape = (len(self.places.all), len(self.substances))
        state = ResidueState(
            np.zeros(shape),
            np.full(shape, np.inf),
            np.ones(shape, dtype=np.bool_),
            np.full(shape, -1, dtype=np.int64),
            np.zeros(shape, dtype=np.bool_),
        )
        for substance, (content_mg_kg, material) in worst_contents(self.mill).items():
            number = self.substance_number.get(substance)
            if number is not None:
                state.held_mg_kg[:, number] = content_mg_kg
                state.passed_kg[:, number] = 0.0
                state.known[:, number] = False
                state.left_by[:, number] = self._material(material)
        return state

    def from_held(self, held: Iterable[HeldSubstance]) -> ResidueState:
        """The state that plain values describe; a place that they do not name is unknown."""
        state = self.unknown()
        named: set[int] = set()
        for row in held:
            place = self.places.number.get(row.place)
            if place is None:
                continue  # a place that is on no route any more
            if place not in named:
                named.add(place)
                self._clear(state, np.array([place], dtype=np.int64))
            number = self.substance_number.get(row.substance)
            if number is None:
                continue
            state.held_mg_kg[place, number] = row.concentration_mg_kg
            if row.passed_mg is not None:
                state.passed_kg[place, number] = row.passed_mg / MG_KG
            state.known[place, number] = row.known
            state.left_by[place, number] = self._material(row.left_by) if row.left_by else -1
            state.ever[place, number] = row.ever_handled or (
                row.known and row.passed_mg is not None
            )
        return state

    def to_held(self, state: ResidueState) -> tuple[HeldSubstance, ...]:
        """The state as plain values: a row where something is or was, one row for a clean place."""
        rows: list[HeldSubstance] = []
        for place, code in enumerate(hold_up.place for hold_up in self.places.all):
            numbers = [
                number
                for number in range(len(self.substances))
                if state.held_mg_kg[place, number] > 0
                or np.isfinite(state.passed_kg[place, number])
                or state.ever[place, number]
            ]
            rows.extend(
                self._held(state, place, number=number, code=code)
                for number in numbers or range(min(1, len(self.substances)))
            )
        return tuple(rows)

    def way(self, route: tuple[str, ...]) -> Way:
        """A route, mixer first, as numbers of places."""
        found = self._ways.get(route)
        if found is None:
            numbers = self.places.along(route)
            found = Way(
                np.array(numbers, dtype=np.int64),
                tuple(self.places.all[number].hold_up_kg for number in numbers),
                tuple(self.places.all[number].exchange_frac for number in numbers),
            )
            self._ways[route] = found
        return found

    def own(self, contents: Mapping[str, float]) -> NDArray[np.float64]:
        """Own contents as an array, shape (substances,) [mg/kg]."""
        own = np.zeros(len(self.substances))
        for substance, content_mg_kg in contents.items():
            number = self.substance_number.get(substance)
            if number is not None:
                own[number] = content_mg_kg
        return own

    def map(self, way: Way, *, masses_kg: tuple[float, ...], sack_kg: float) -> BatchMap:
        """How batches of one material in a row carry what they find along a way."""
        return run_map(way.hold_ups_kg, way.exchanges_frac, masses_kg=masses_kg, sack_kg=sack_kg)

    def sacks(
        self, state: ResidueState, way: Way, *, carried: BatchMap, own: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Concentration in each portion, own content included: shape (portions, substances)."""
        column = np.vstack([state.held_mg_kg[way.places], own])
        mixed: NDArray[np.float64] = carried.sacks @ column
        return mixed

    def pass_through(
        self,
        state: ResidueState,
        way: Way,
        *,
        carried: BatchMap,
        own: NDArray[np.float64],
        mass_kg: float,
        material: str,
    ) -> None:
        """Change the state as batches of a material go along a way."""
        places = way.places
        column = np.concatenate((state.held_mg_kg[places], own[None, :]))
        state.held_mg_kg[places] = carried.after @ column
        passed = state.passed_kg[places]
        lowest = np.minimum.accumulate(passed, axis=0)
        is_lowest = passed == lowest
        if not is_lowest.all():
            self._hand_on(state, places, is_lowest=is_lowest, lowest=lowest)
        lowest += mass_kg
        contains = np.flatnonzero(own > 0)
        if len(contains):
            lowest[:, contains] = 0.0
        state.passed_kg[places] = lowest
        if len(contains):
            held = places[:, None], contains
            state.known[held] = True
            state.ever[held] = True
            state.left_by[held] = self._material(material)

    def clean(self, state: ResidueState, places: Iterable[str]) -> None:
        """Change the state as places are cleaned by hand; that they have handled things stays."""
        numbers = [self.places.number[code] for code in places if code in self.places.number]
        self._clear(state, np.array(numbers, dtype=np.int64))

    def reach(
        self,
        state: ResidueState,
        places: Iterable[str],
        *,
        own: NDArray[np.float64],
        material: str,
    ) -> None:
        """Change the state as a material comes to places that it does not clean of anything."""
        numbers = [self.places.number[code] for code in places if code in self.places.number]
        contains = np.flatnonzero(own > 0)
        if not numbers or not len(contains):
            return
        held = np.ix_(np.array(numbers, dtype=np.int64), contains)
        state.held_mg_kg[held] = np.maximum(state.held_mg_kg[held], own[contains])
        state.passed_kg[held] = 0.0
        state.known[held] = True
        state.ever[held] = True
        state.left_by[held] = self._material(material)

    def name_of_material(self, number: int) -> str:
        """The code of a numbered material, empty for none."""
        return self._materials[number] if number >= 0 else ""

    def _hand_on(
        self,
        state: ResidueState,
        places: NDArray[np.int64],
        *,
        is_lowest: NDArray[np.bool_],
        lowest: NDArray[np.float64],
    ) -> None:
        """Let places downstream take over who left what, where upstream has handled it later."""
        rows = np.arange(len(places), dtype=np.int64)[:, None]
        origin = places[np.maximum.accumulate(np.where(is_lowest, rows, -1), axis=0)]
        columns = np.arange(lowest.shape[1], dtype=np.int64)
        known = state.known[origin, columns]
        state.left_by[places] = state.left_by[origin, columns]
        state.known[places] = known
        state.ever[places] |= np.isfinite(lowest) & known

    def _held(self, state: ResidueState, place: int, *, number: int, code: str) -> HeldSubstance:
        passed_kg = float(state.passed_kg[place, number])
        return HeldSubstance(
            place=code,
            substance=self.substances[number],
            concentration_mg_kg=float(state.held_mg_kg[place, number]),
            passed_mg=round(passed_kg * MG_KG) if np.isfinite(passed_kg) else None,
            known=bool(state.known[place, number]),
            left_by=self.name_of_material(int(state.left_by[place, number])),
            ever_handled=bool(state.ever[place, number]),
        )

    def _clear(self, state: ResidueState, places: NDArray[np.int64]) -> None:
        state.held_mg_kg[places] = 0.0
        state.passed_kg[places] = np.inf
        state.known[places] = True
        state.left_by[places] = -1

    def _material(self, code: str) -> int:
        number = self._material_number.get(code)
        if number is None:
            number = len(self._materials)
            self._materials.append(code)
            self._material_number[code] = number
        return number


def replay(
    mill: Mill,
    events: Iterable[Ran],
    *,
    starting: tuple[HeldSubstance, ...] = (),
) -> tuple[HeldSubstance, ...]:
    """What the machines hold after what really ran, in order of time.

    Before the first event the places hold what ``starting`` says; those it does not name hold
    the worst that the mill handles.
    """
    residue = Residue(mill)
    state = residue.from_held(starting)
    for event in events:
        _happen(residue, state, event)
    return residue.to_held(state)


def came_out(
    mill: Mill, events: Sequence[Ran], *, numbers: Collection[int]
) -> dict[int, dict[str, float]]:
    """What batches contain on average at the end of their way, with what they carried along
    [mg/kg]; the events of these numbers, those that did not pass left out.
    """
    residue = Residue(mill)
    state = residue.unknown()
    found: dict[int, dict[str, float]] = {}
    for number, event in enumerate(events):
        before = state.copy() if number in numbers else None
        _happen(residue, state, event)
        if before is None or not isinstance(event, MaterialPassed):
            continue
        way, mass_kg = residue.way(event.route), event.mass_mg / MG_KG
        if len(way.places) and mass_kg > 0:
            carried = residue.map(way, masses_kg=(mass_kg,), sack_kg=mass_kg)
            means = residue.sacks(before, way, carried=carried, own=residue.own(event.contents))
            found[number] = {
                code: float(means[0, column]) for column, code in enumerate(residue.substances)
            }
    return found


def _happen(residue: Residue, state: ResidueState, event: Ran) -> None:
    """Change the state as one thing happens."""
    if isinstance(event, CleanedOut):
        residue.clean(state, event.places)
        return
    own = residue.own(event.contents)
    if isinstance(event, Reached):
        residue.reach(state, event.places, own=own, material=event.material)
        return
    way, mass_kg = residue.way(event.route), event.mass_mg / MG_KG
    if not len(way.places) or mass_kg <= 0:
        return
    residue.pass_through(
        state,
        way,
        carried=residue.map(way, masses_kg=(mass_kg,), sack_kg=mass_kg),
        own=own,
        mass_kg=mass_kg,
        material=event.material,
    )
