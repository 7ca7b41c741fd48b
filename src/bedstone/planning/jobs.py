"""Runs to be made: an order (or feed for stock) with each mixer and path that could make it."""

import math
from dataclasses import dataclass, field

from bedstone.errors import NoAnswer, Unknown
from bedstone.mill.before_mixer import meetings_of
from bedstone.mill.contents import formula_contents, limits_of
from bedstone.mill.mixing import mix_times
from bedstone.mill.model import Limit, Mill, Order, Product
from bedstone.planning.batches import MG_KG, Cut, bags_of, cut_into_batches
from bedstone.planning.model import DayProblem, OrderToMake
from bedstone.planning.paths import Paths
from bedstone.planning.shifts import NEVER, seconds
from bedstone.planning.words import amount_text, mass_text, place_text

__all__ = ["CannotBeMade", "Job", "Option", "job_of_order", "job_of_stock"]


@dataclass(slots=True, eq=False, kw_only=True)
class Option:
    """A mixer that can make a run: its batches, and the paths from it."""

    mixer: str
    cut: Cut
    paths: tuple[tuple[str, ...], ...]
    proc_s: int  # weighing and mixing of one batch
    discharge_s: int
    masses_kg: tuple[float, ...]  # of each batch


@dataclass(slots=True, eq=False, kw_only=True)
class Job:
    """A run to be placed in the day."""

    run: str
    stem: str  # batches are "<stem>-01", "<stem>-02" ...
    order: Order | None  # None for stock
    product: Product
    version: int
    wanted_mg: int
    pack: str  # "bags", "bulk" or "stock"
    bags: int
    parts: dict[str, float]
    own: dict[str, float]
    limits: tuple[Limit, ...]
    sack_kg: float
    options: tuple[Option, ...]
    due_s: int
    release_s: int
    first_number: int
    rank: int = 0  # in order of due time; decides who gets what is scarce
    needs: dict[str, float] = field(default_factory=dict)  # of all batches [kg]

    @property
    def tonnes(self) -> float:
        """What is wanted [t]."""
        return self.wanted_mg / MG_KG / 1000


class CannotBeMade(Exception):
    """A feed that cannot be made whatever the order of running, and why."""

    def __init__(self, because: str, text: str) -> None:
        super().__init__(text)
        self.because = because
        self.text = text


def job_of_order(problem: DayProblem, paths: Paths, *, wanted: OrderToMake) -> Job:
    """The run that an order asks for.

    Raises
    ------
    CannotBeMade
        With the reason, if it cannot be made whatever the order of running.
    """
    order, mill = wanted.order, problem.mill
    product = mill.product_by_code.get(order.product)
    if product is None:
        raise CannotBeMade("formula", f"there is no product {order.product}")
    bags = bags_of(product, wanted.remaining_mg) if order.pack == "bags" else 0
    mass_mg = wanted.remaining_mg
    if bags and product.pack_kg is not None:
        mass_mg = math.ceil(bags * product.pack_kg * MG_KG)
    if order.pack == "bags" and not bags:
        text = f"{product.name} has no bag in the products table; it can only be ordered in bulk"
        raise CannotBeMade("route", text)
    made = _job(
        problem,
        paths,
        product=product,
        pack=order.pack,
        wanted_mg=mass_mg,
        run=f"R-{order.order}",
        stem=order.order,
    )
    made.options = _not_too_small(mill, order, made)
    made.order, made.bags = order, bags
    made.due_s = seconds(mill, problem.day, order.due_at)
    made.release_s = seconds(mill, problem.day, order.entered_at)
    made.first_number = max(wanted.batches_used, made.first_number - 1) + 1
    return made


def _not_too_small(mill: Mill, order: Order, job: Job) -> tuple[Option, ...]:
    """The options that do not make more beside an order than the order itself asks for.

    Raises
    ------
    CannotBeMade
        If the smallest fill of every mixer does.
    """
    ordered_mg = order.mass_kg * MG_KG
    kept = tuple(
        row
        for row in job.options
        if not row.cut.is_smallest_fill or row.cut.surplus_mg <= ordered_mg
    )
    if kept:
        return kept
    least = min(job.options, key=lambda row: row.cut.surplus_mg)
    row = mill.machine_by_code[least.mixer]
    raise CannotBeMade(
        "size",
        f"the smallest fill of {place_text(mill, least.mixer)} is "
        f"{mass_text(mill, row.mass_min_kg or 0.0)}: {mass_text(mill, order.mass_kg)} of "
        f"{job.product.name} would make {mass_text(mill, least.cut.surplus_mg / MG_KG)} more than "
        f"is ordered; order at least half a fill, or take it from another run of it",
    )


def job_of_stock(problem: DayProblem, paths: Paths, *, product: Product, wanted_mg: int) -> Job:
    """A run of feed that goes into others.

    Raises
    ------
    CannotBeMade
        With the reason.
    """
    stem = f"{product.product}-{problem.day:%m%d}"
    return _job(
        problem,
        paths,
        product=product,
        pack="stock",
        wanted_mg=wanted_mg,
        run=f"R-{stem}",
        stem=stem,
    )


def _job(
    problem: DayProblem,
    paths: Paths,
    *,
    product: Product,
    pack: str,
    wanted_mg: int,
    run: str,
    stem: str,
) -> Job:
    mill = problem.mill
    limits = limits_of(mill, product.product)
    version, own = _formula(problem, product, limits)
    parts = {row.ingredient: row.parts_frac for row in mill.lines_of(product.product, version)}
    ways = _ways(mill, paths, product=product, pack=pack, limits=limits)
    if barred := _barred_before_mixer(mill, product, version, limits):
        raise CannotBeMade("never", barred)
    options = _options(mill, product, ways, wanted_mg=wanted_mg, parts=parts)
    if not options:
        raise CannotBeMade("route", _no_mixer_text(mill, product, ways))
    return Job(
        run=run,
        stem=stem,
        order=None,
        product=product,
        version=version,
        wanted_mg=wanted_mg,
        pack=pack,
        bags=0,
        parts=parts,
        own=own,
        limits=limits,
        sack_kg=product.pack_kg or mill.settings.sack_kg,
        options=options,
        due_s=NEVER,
        release_s=0,
        first_number=problem.batches_used.get(stem, 0) + 1,
    )


def _formula(
    problem: DayProblem, product: Product, limits: tuple[Limit, ...]
) -> tuple[int, dict[str, float]]:
    """The running version of a product and what it contains of each substance [mg/kg]."""
    mill = problem.mill
    formula = mill.running_formula(product.product)
    if formula is None:
        raise CannotBeMade("formula", f"{product.name} has no running formula")
    try:
        own = formula_contents(mill, product.product, formula.version, lying=problem.lying_contents)
    except (NoAnswer, Unknown) as error:
        raise CannotBeMade("formula", str(error)) from error
    if breach := _own_breach(mill, product, own, limits):
        raise CannotBeMade("formula", breach)
    return formula.version, own


def _ways(
    mill: Mill, paths: Paths, *, product: Product, pack: str, limits: tuple[Limit, ...]
) -> tuple[tuple[str, ...], ...]:
    """Paths of a product for a pack that meet nothing it must never meet."""
    ways = paths.for_pack(product, pack)
    if not ways:
        where = {"bags": "a sacking line", "bulk": "load-out"}.get(pack, "a finished bin")
        text = f"no way in the routes table takes {product.name} to {where}"
        raise CannotBeMade("route", text)
    clear = tuple(way for way in ways if not _barred(paths, way, limits))
    if not clear:
        text = _never_text(mill, paths, product=product, ways=ways, limits=limits)
        raise CannotBeMade("never", text)
    return clear


def _own_breach(
    mill: Mill, product: Product, own: dict[str, float], limits: tuple[Limit, ...]
) -> str:
    """Why a feed breaks a limit by its own formula; empty if it does not."""
    for limit in limits:
        content = own.get(limit.substance, 0.0)
        substance = mill.substance_by_code[limit.substance].name.lower()
        amount = amount_text(mill, limit.substance, content)
        if limit.kind == "level":
            level = limit.level_mg_kg or 0.0
            if content > level * (1 + 1e-9):
                return (
                    f"{product.name} contains {amount} of {substance} by its own formula; its "
                    f"limit is {amount_text(mill, limit.substance, level)} ({limit.source})"
                )
        elif content > 0:
            return (
                f"{product.name} contains {amount} of {substance} by its own formula, and must "
                f"have none ({limit.source})"
            )
    return ""


def _barred(paths: Paths, way: tuple[str, ...], limits: tuple[Limit, ...]) -> bool:
    handled = paths.handled()
    never = {limit.substance for limit in limits if limit.kind == "never"}
    return any(never & handled.get(code, frozenset()) for code in way)


def _never_text(
    mill: Mill,
    paths: Paths,
    *,
    product: Product,
    ways: tuple[tuple[str, ...], ...],
    limits: tuple[Limit, ...],
) -> str:
    handled = paths.handled()
    for limit in limits:
        for way in ways:
            for code in way:
                if limit.kind == "never" and limit.substance in handled.get(code, frozenset()):
                    substance = mill.substance_by_code[limit.substance].name.lower()
                    return (
                        f"{place_text(mill, code)} also runs feed with {substance}, and "
                        f"{product.name} must never meet it ({limit.source})"
                    )
    return f"no way is free of what {product.name} must never meet"


def _barred_before_mixer(
    mill: Mill, product: Product, version: int, limits: tuple[Limit, ...]
) -> str:
    """Which grinder or hand-add station a feed shares with what it must never meet, if any."""
    nevers = tuple(limit for limit in limits if limit.kind == "never")
    for met in meetings_of(mill, product.product, version=version, limits=nevers):
        substance = mill.substance_by_code[met.limit.substance].name.lower()
        others = ", ".join(mill.name_of(code) for code in met.others)
        return (
            f"{mill.name_of(met.ingredient)} goes over {place_text(mill, met.machine)}, as {others} "
            f"does with {substance}, and {product.name} must never meet it ({met.limit.source})"
        )
    return ""


def _options(
    mill: Mill,
    product: Product,
    ways: tuple[tuple[str, ...], ...],
    *,
    wanted_mg: int,
    parts: dict[str, float],
) -> tuple[Option, ...]:
    options: list[Option] = []
    for mixer in dict.fromkeys(way[0] for way in ways):
        machine = mill.machine_by_code.get(mixer)
        if machine is None or machine.kind != "mixer":
            continue
        mine = tuple(way for way in ways if way[0] == mixer)
        loss_frac = max(_loss_frac(mill, way) for way in mine)
        cut = cut_into_batches(
            mill, product, machine, wanted_mg=wanted_mg, loss_frac=loss_frac, parts=parts
        )
        if cut is None:
            continue
        mixed = mix_times(mill, mixer, material=product.product, ingredients=tuple(parts))
        options.append(
            Option(
                mixer=mixer,
                cut=cut,
                paths=mine,
                proc_s=math.ceil(machine.fill_s + mixed.dry_mix_s + mixed.wet_mix_s),
                discharge_s=math.ceil(machine.discharge_s),
                masses_kg=(cut.batch_mg / MG_KG,) * cut.batches,
            )
        )
    return tuple(options)


def _loss_frac(mill: Mill, way: tuple[str, ...]) -> float:
    kept = 1.0
    for code in way:
        machine = mill.machine_by_code.get(code)
        kept *= 1.0 - (machine.loss_frac if machine is not None else 0.0)
    return 1.0 - kept


def _no_mixer_text(mill: Mill, product: Product, ways: tuple[tuple[str, ...], ...]) -> str:
    mixers = ", ".join(dict.fromkeys(way[0] for way in ways))
    sizes = "; ".join(
        f"{code} takes {mass_text(mill, row.mass_min_kg or 0)} to "
        f"{mass_text(mill, row.mass_max_kg or 0)}"
        for code in dict.fromkeys(way[0] for way in ways)
        if (row := mill.machine_by_code.get(code)) is not None
    )
    return f"no batch of {product.name} fits {mixers} by mass and volume ({sizes})"
