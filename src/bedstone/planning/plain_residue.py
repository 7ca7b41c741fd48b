"""Residue reckoned a second time, in plain numbers, for the verifier alone.

Nothing here is shared with :mod:`bedstone.mill.residue`. What comes out of a batch is followed as
a chance process instead of a matrix exponential: with events at a common rate along the mass that
passes, each event lets every place exchange a little with what reaches it. Weighing the states
after 0, 1, 2 ... events by Poisson's chances gives the exact answer to the differential
equations (uniformization), as a sum of numbers none of which is below nothing.
"""

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from bedstone.mill.contents import worst_contents
from bedstone.mill.model import Mill
from bedstone.mill.plan import HeldSubstance

__all__ = ["Holding", "PlainResidue"]

EVENTS_AT_ONCE = 400.0
TAIL_LEFT = 1e-14
MG_KG = 1_000_000
WHOLE_SLACK = 1e-9
A_GRAM_KG = 1e-3  # a place that keeps less than that keeps nothing


@dataclass(slots=True)
class Holding:
    """What one place holds of one substance."""

    held_mg_kg: float = 0.0
    passed_kg: float = math.inf  # since the last material that contains it
    known: bool = True
    left_by: str = ""
    ever_handled: bool = False  # by the record, whatever was flushed or cleaned since


@dataclass
class PlainResidue:
    """What the places of a mill hold, batch after batch."""

    mill: Mill
    places: dict[str, dict[str, Holding]] = field(default_factory=dict)
    _worst: dict[str, tuple[float, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Read what a place may hold of which nothing is known."""
        self._worst = worst_contents(self.mill)

    def start(self, rows: Iterable[HeldSubstance]) -> None:
        """Take over what places hold; a place that no row names is unknown."""
        for row in rows:
            place = self.places.setdefault(row.place, {})
            place[row.substance] = Holding(
                row.concentration_mg_kg,
                math.inf if row.passed_mg is None else row.passed_mg / MG_KG,
                row.known,
                row.left_by,
                row.ever_handled or (row.known and row.passed_mg is not None),
            )

    def at(self, place: str, substance: str) -> Holding:
        """What a place holds of a substance."""
        held = self.places.get(place)
        if held is None:
            held = {
                code: Holding(content_mg_kg, 0.0, known=False, left_by=material)
                for code, (content_mg_kg, material) in self._worst.items()
            }
            self.places[place] = held
        return held.setdefault(substance, Holding())

    def clean(self, places: Iterable[str]) -> None:
        """Places cleaned by hand hold nothing; they have still handled what they have handled."""
        for place in places:
            self.places[place] = {
                substance: Holding(ever_handled=True)
                for substance, holding in self.places.get(place, {}).items()
                if holding.ever_handled
            }

    def reach(self, places: Iterable[str], *, material: str, contents: Mapping[str, float]) -> None:
        """Places to which a material came hold at least what it contains. [mg/kg]"""
        for place in places:
            for substance, content_mg_kg in contents.items():
                if content_mg_kg > 0:
                    holding = self.at(place, substance)
                    holding.held_mg_kg = max(holding.held_mg_kg, content_mg_kg)
                    holding.passed_kg, holding.known, holding.left_by = 0.0, True, material
                    holding.ever_handled = True

    def along(self, route: tuple[str, ...]) -> list[str]:
        """Places along a route on which products run, the ways between them included."""
        passed: list[str] = []
        before = ""
        for code in route:
            if (before, code) in self.mill.route_by_ends:
                passed.append(f"{before}>{code}")
            row = self.mill.bin_by_code.get(code)
            if row is None or row.kind != "flush":
                passed.append(code)
            before = code
        return passed

    def pass_batch(
        self,
        route: tuple[str, ...],
        *,
        material: str,
        mass_kg: float,
        contents: Mapping[str, float],
        sack_kg: float,
        watched: Collection[str] | None = None,
    ) -> dict[str, list[float]]:
        """Let a batch pass; the mean of each sack-sized portion, by substance [mg/kg].

        Of substances that are not watched the whole batch is one portion, which is quicker.
        """
        places = self.along(route)
        portions: dict[str, list[float]] = {}
        for substance in sorted(self.mill.substance_by_code):
            own = contents.get(substance, 0.0)
            holdings = [self.at(place, substance) for place in places]
            is_watched = watched is None or substance in watched
            portions[substance] = self._portions(
                places,
                holdings,
                own=own,
                mass_kg=mass_kg,
                sack_kg=sack_kg if is_watched else mass_kg,
            )
            latest: Holding | None = None
            for holding in holdings:
                if own > 0:
                    holding.passed_kg, holding.known, holding.left_by = 0.0, True, material
                    holding.ever_handled = True
                    continue
                if latest is not None and latest.passed_kg < holding.passed_kg + mass_kg:
                    holding.passed_kg = latest.passed_kg
                    holding.known, holding.left_by = latest.known, latest.left_by
                    holding.ever_handled |= latest.known and math.isfinite(latest.passed_kg)
                else:
                    holding.passed_kg += mass_kg
                latest = holding
        return portions

    def _portions(
        self,
        places: list[str],
        holdings: list[Holding],
        *,
        own: float,
        mass_kg: float,
        sack_kg: float,
    ) -> list[float]:
        left_kg, _ = self._hold_up(places[0])
        mixture = (mass_kg * own + left_kg * holdings[0].held_mg_kg) / (mass_kg + left_kg)
        holdings[0].held_mg_kg = mixture
        keeping = [
            (holding, *self._hold_up(place))
            for holding, place in zip(holdings[1:], places[1:], strict=True)
        ]
        keeping = [row for row in keeping if row[1] >= A_GRAM_KG]
        state = [row[0].held_mg_kg for row in keeping]
        chain = [(hold_up_kg, exchange) for _, hold_up_kg, exchange in keeping]
        sizes = [sack_kg] * math.floor(mass_kg / sack_kg + WHOLE_SLACK)
        rest_kg = mass_kg - sack_kg * len(sizes)
        if rest_kg > WHOLE_SLACK * sack_kg or not sizes:
            sizes.append(rest_kg)
        means: list[float] = []
        for size_kg in sizes:
            if mixture == 0.0 and not any(state):
                means.append(0.0)
                continue
            mean, state = _one_portion(chain, state, mixture=mixture, size_kg=size_kg)
            means.append(mean)
        for (holding, _, _), held_mg_kg in zip(keeping, state, strict=True):
            holding.held_mg_kg = held_mg_kg
        return means

    def _hold_up(self, place: str) -> tuple[float, float]:
        if ">" in place:
            start, end = place.split(">", 1)
            route = self.mill.route_by_ends[(start, end)]
            return route.hold_up_kg, route.exchange_frac
        machine = self.mill.machine_by_code.get(place)
        if machine is not None:
            return machine.hold_up_kg, machine.exchange_frac
        row = self.mill.bin_by_code.get(place)
        return (row.hold_up_kg if row is not None else 0.0), 1.0


def _one_portion(
    chain: list[tuple[float, float]], state: list[float], *, mixture: float, size_kg: float
) -> tuple[float, list[float]]:
    """Mean of what comes out of a chain while a portion passes, and the state after it."""
    if not chain:
        return mixture, state
    rate = max(exchange / hold_up_kg for hold_up_kg, exchange in chain)
    pieces = max(1, math.ceil(rate * size_kg / EVENTS_AT_ONCE))
    weights = [exchange / hold_up_kg / rate for hold_up_kg, exchange in chain]
    exchanges = [exchange for _, exchange in chain]
    total = 0.0
    for _ in range(pieces):
        mean, state = _one_piece(
            weights, exchanges, state, mixture=mixture, events=rate * size_kg / pieces
        )
        total += mean
    return total / pieces, state


def _one_piece(
    weights: list[float],
    exchanges: list[float],
    state: list[float],
    *,
    mixture: float,
    events: float,
) -> tuple[float, list[float]]:
    chance = math.exp(-events)  # of no event
    beyond = 1.0 - chance  # of more events than counted so far
    after = [0.0] * len(state)
    mean, number = 0.0, 0
    now = state
    while True:
        passing = mixture
        coming: list[float] = []
        for weight, exchange, held in zip(weights, exchanges, now, strict=True):
            coming.append(held + weight * (passing - held))
            passing += exchange * (held - passing)
        for at, held in enumerate(now):
            after[at] += chance * held
        mean += beyond / events * passing
        if beyond < TAIL_LEFT and number > events:
            return mean, after
        number += 1
        chance *= events / number
        beyond = max(0.0, beyond - chance)
        now = coming
