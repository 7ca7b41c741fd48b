"""What there is to mix: by bin and mixer, what grinding can add, and who gets what is scarce."""

from dataclasses import dataclass, field

from bedstone.mill.model import Bin, Machine, Mill
from bedstone.mill.residue_places import way_of
from bedstone.planning.batches import MG_KG
from bedstone.planning.jobs import CannotBeMade, Job
from bedstone.planning.model import DayProblem
from bedstone.planning.words import mass_text

__all__ = ["GroundPool", "Larder", "Shelves", "ground_pools", "reaches"]

CARRIED_KINDS = ("floor", "warehouse")
NOT_DRAWN_KINDS = ("surge", "flush")
TINY_KG = 1e-6


def reaches(mill: Mill, row: Bin, mixer: str) -> bool:
    """True when what lies in a bin can be drawn into a mixer, on its instruments or by hand."""
    if row.kind in NOT_DRAWN_KINDS:
        return False
    starts = {route.start for route in mill.routes}
    for code in row.feeds.split():
        scale, meter = mill.scale_by_code.get(code), mill.meter_by_code.get(code)
        machine = scale.machine if scale else meter.machine if meter else ""
        if machine == mixer:
            return True
        station = mill.machine_by_code.get(machine)
        is_station = station is not None and station.kind == "hand-add station"
        if is_station and ((machine, mixer) in mill.route_by_ends or machine not in starts):
            return True
    return row.kind in CARRIED_KINDS and not row.feeds and _has_hand_scale(mill, mixer)


def _has_hand_scale(mill: Mill, mixer: str) -> bool:
    return any((scale.machine, mixer) in mill.route_by_ends for scale in mill.scales)


class Shelves:
    """Which bins of a material a mixer draws from.

    Where every bin of a material reaches the same mixers, it is one shelf. Where they differ (a
    ground bin for each mixer), each mixer has a shelf of its own, and a bin that several could
    reach stands on one of them only, so that nothing is counted twice.
    """

    def __init__(self, problem: DayProblem) -> None:
        self._problem = problem
        self._mixers = [row.machine for row in problem.mill.machines if row.kind == "mixer"]
        self._bins: dict[tuple[str, str], tuple[str, ...]] = {}
        self._is_shared: dict[str, bool] = {}
        for material in (*problem.mill.ingredient_by_code, *problem.mill.product_by_code):
            self._fill(material)

    def key(self, material: str, mixer: str) -> str:
        """Name of a mixer's shelf of a material: the material alone where all share it."""
        return material if self._is_shared.get(material, True) else f"{material}@{mixer}"

    def material(self, key: str) -> str:
        """The material on a shelf."""
        return key.split("@", 1)[0]

    def bins(self, material: str, mixer: str) -> tuple[str, ...]:
        """Bins on a mixer's shelf of a material."""
        return self._bins.get((material, mixer), ())

    def keys_of_bin(self, material: str, code: str) -> set[str]:
        """Shelves of a material on which a bin stands."""
        return {
            self.key(material, mixer)
            for mixer in self._mixers
            if code in self.bins(material, mixer)
        }

    def all(self) -> dict[str, tuple[str, tuple[str, ...]]]:
        """Every shelf by name: its material and bins."""
        return {
            self.key(material, mixer): (material, bins)
            for (material, mixer), bins in self._bins.items()
        }

    def _fill(self, material: str) -> None:
        mill = self._problem.mill
        product = mill.product_by_code.get(material)
        on_way = {code for step in way_of(product.route) for code in step} if product else set()
        reach: dict[str, list[str]] = {}
        for row in mill.bins:
            lies = self._problem.stock_mg.get((row.bin, material), 0) > 0
            if lies or row.holds == material or (row.bin in on_way and row.holds == ""):
                mixers = [mixer for mixer in self._mixers if reaches(mill, row, mixer)]
                if mixers:
                    reach[row.bin] = mixers
        self._is_shared[material] = len({tuple(mixers) for mixers in reach.values()}) <= 1
        if not self._is_shared[material]:
            alone = {mixers[0] for mixers in reach.values() if len(mixers) == 1}
            reach = {
                code: [next((one for one in mixers if one not in alone), mixers[0])]
                for code, mixers in reach.items()
            }
        for mixer in self._mixers:
            bins = tuple(code for code, mixers in reach.items() if mixer in mixers)
            if bins:
                self._bins[material, mixer] = bins


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundPool:
    """Ground grain of one shelf: where it lies, and how more of it is ground."""

    key: str
    material: str
    source: str
    grinder: Machine
    from_place: str
    to_place: str
    capacity_kg: float


def ground_pools(problem: DayProblem, shelves: Shelves) -> dict[str, GroundPool]:
    """How the ground grain of each shelf is ground here, by the shelf's name."""
    mill = problem.mill
    pools: dict[str, GroundPool] = {}
    for key, (material, codes) in shelves.all().items():
        ingredient = mill.ingredient_by_code.get(material)
        if ingredient is None or not ingredient.ground_from:
            continue
        bins = [mill.bin_by_code[code] for code in codes]
        found = _grinding_way(problem, ingredient.ground_from, bins)
        if found is not None:
            grinder, from_place, to_place = found
            pools[key] = GroundPool(
                key=key,
                material=material,
                source=ingredient.ground_from,
                grinder=grinder,
                from_place=from_place,
                to_place=to_place,
                capacity_kg=mill.bin_by_code[to_place].capacity_kg,
            )
    return pools


def _grinding_way(
    problem: DayProblem, grain: str, bins: list[Bin]
) -> tuple[Machine, str, str] | None:
    mill = problem.mill
    best: tuple[int, Machine, str, str] | None = None
    for grinder in mill.machines:
        if grinder.kind != "grinder" or not grinder.rate_kg_s:
            continue
        for start in mill.bins:
            lying_mg = problem.stock_mg.get((start.bin, grain), 0)
            if lying_mg <= 0 or (start.bin, grinder.machine) not in mill.route_by_ends:
                continue
            for end in bins:
                joined = (grinder.machine, end.bin) in mill.route_by_ends
                if joined and (best is None or lying_mg > best[0]):
                    best = (lying_mg, grinder, start.bin, end.bin)
    return None if best is None else best[1:]


@dataclass(eq=False)
class Larder:
    """What is left for each run, bin by bin, as runs are promised what they need."""

    problem: DayProblem
    shelves: Shelves
    pools: dict[str, GroundPool]
    left_kg: dict[tuple[str, str], float] = field(default_factory=dict)
    coming_kg: dict[str, float] = field(default_factory=dict)  # products that runs for stock make

    def __post_init__(self) -> None:
        """Start with book stock; a book below nothing counts as nothing."""
        self.left_kg = {
            key: mass_mg / MG_KG for key, mass_mg in self.problem.stock_mg.items() if mass_mg > 0
        }

    def promise(self, job: Job) -> None:
        """Set aside what a run needs.

        Raises
        ------
        CannotBeMade
            If there is too little of something; nothing is set aside then.
        """
        option = job.options[0]
        left, coming = dict(self.left_kg), dict(self.coming_kg)
        mass_kg = option.cut.mass_mg / MG_KG
        try:
            for material, parts_frac in job.parts.items():
                job.needs[material] = mass_kg * parts_frac
                self.take(material, mass_kg * parts_frac, mixer=option.mixer)
        except CannotBeMade:
            self.left_kg, self.coming_kg = left, coming
            raise

    def take(self, material: str, mass_kg: float, *, mixer: str) -> None:
        """Set a mass of a material aside for a mixer, grinding and runs for stock counted in."""
        need_kg = mass_kg - self._take_lying(material, mass_kg, mixer=mixer)
        coming_kg = min(need_kg, self.coming_kg.get(material, 0.0))
        if coming_kg > 0:
            self.coming_kg[material] -= coming_kg
            need_kg -= coming_kg
        pool = self.pools.get(self.shelves.key(material, mixer))
        grain_kg = 0.0
        if need_kg > TINY_KG and pool is not None:
            wanted_kg = need_kg / (1.0 - pool.grinder.loss_frac)
            grain_kg = min(wanted_kg, self.left_kg.get((pool.from_place, pool.source), 0.0))
            self.left_kg[(pool.from_place, pool.source)] = (
                self.left_kg.get((pool.from_place, pool.source), 0.0) - grain_kg
            )
            need_kg -= grain_kg * (1.0 - pool.grinder.loss_frac)
        if need_kg > TINY_KG:
            raise CannotBeMade("stock", self._short_text(material, mass_kg, need_kg, mixer=mixer))

    def within_reach_kg(self, material: str, *, mixer: str) -> float:
        """What of a material is left for a mixer, with what could be ground [kg]."""
        places = self.shelves.bins(material, mixer)
        lying_kg = sum(self.left_kg.get((place, material), 0.0) for place in places)
        pool = self.pools.get(self.shelves.key(material, mixer))
        if pool is not None:
            grain_kg = self.left_kg.get((pool.from_place, pool.source), 0.0)
            lying_kg += grain_kg * (1.0 - pool.grinder.loss_frac)
        return lying_kg

    def _take_lying(self, material: str, mass_kg: float, *, mixer: str) -> float:
        taken_kg = 0.0
        for place in self.shelves.bins(material, mixer):
            here_kg = min(mass_kg - taken_kg, self.left_kg.get((place, material), 0.0))
            if here_kg > 0:
                self.left_kg[(place, material)] -= here_kg
                taken_kg += here_kg
        return taken_kg

    def _short_text(self, material: str, mass_kg: float, need_kg: float, *, mixer: str) -> str:
        mill = self.problem.mill
        everywhere_kg = sum(
            left_kg for (_, what), left_kg in self.left_kg.items() if what == material
        )
        text = (
            f"needs {mass_text(mill, mass_kg)} of {mill.name_of(material)}; "
            f"{mass_text(mill, mass_kg - need_kg)} is left for it"
        )
        if everywhere_kg > TINY_KG:
            text += f", {mass_text(mill, everywhere_kg)} more lies where {mixer} cannot draw it"
        return text
