"""Random mills: one to three pellet lines, two mixers, several species, drugs, limits of all kinds.

The same seed gives the same mill on any machine. A mill has lanes: mash, one lane for each pellet
line, and in half of the mills a lane on the second mixer that has never seen monensin, for horses.
Every number is made up; limits say "mill policy".
"""

import datetime as dt
import itertools
import random

from bedstone.ledger.model import FlowPattern
from bedstone.mill.model import (
    Bin,
    Content,
    Formula,
    FormulaLine,
    Ingredient,
    Limit,
    Machine,
    Mill,
    Product,
    Rate,
    Route,
    Scale,
    Settings,
    Shift,
    Substance,
)

__all__ = ["DRUGS", "random_mill"]

POLICY = "mill policy"
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
SPECIES = ("sheep", "pig", "cattle", "layer", "broiler", "goat", "rabbit")
GRAINS = {"CORN": 180.0, "BARLEY": 200.0, "WHEAT": 210.0}
MEALS = {"SBM": 420.0, "MIDDS": 150.0, "ALFALFA": 190.0}
DRUGS = ("monensin", "lasalocid", "chlortetracycline")
DRUGS_OF = {
    "cattle": ("monensin", "chlortetracycline"),
    "broiler": ("monensin", "lasalocid"),
    "sheep": ("lasalocid",),
    "goat": ("monensin",),
    "pig": ("chlortetracycline",),
}
MEDICATED_FRAC = 0.4
DIES = ("3 mm", "4 mm", "6 mm")
SCALES = "SC1 SC2"


def random_mill(seed: int, *, pellet_lines: int | None = None, products: int = 24) -> Mill:
    """The mill of a seed."""
    chance = random.Random(f"mill {seed}")
    lines = 1 + seed % 3 if pellet_lines is None else pellet_lines
    has_horses = chance.random() < 0.5
    feeds = _products(chance, lines=lines, number=products, has_horses=has_horses)
    parts = {row.product: _parts(chance, row) for row in feeds}
    bins = _bins(chance, lines=lines, has_horses=has_horses)
    flush_material = chance.choice(("BARLEY-G", "CORN-G", "WHEAT-G"))
    limits = _limits(chance, feeds, parts, has_horses=has_horses)
    pelleted = [row for row in feeds if row.form == "pellet"]
    slow = chance.sample(pelleted, k=min(3, len(pelleted)))
    return Mill(
        settings=Settings(
            format=1,
            name="Quillback Mill",
            time_zone="America/Chicago",
            flush_material=flush_material,
            flush_bin="FL1",
            labour_usd_h=chance.choice((45.0, 60.0, 90.0)),
            late_usd_t_h=chance.choice((2.0, 5.0, 10.0)),
        ),
        bins=bins,
        machines=_machines(chance, lines=lines, has_horses=has_horses),
        scales=(
            Scale(
                scale="SC1", machine="MX1", capacity_kg=3000, division_kg=1.0, smallest_draw_kg=5
            ),
            Scale(
                scale="SC2", machine="MX2", capacity_kg=1500, division_kg=0.5, smallest_draw_kg=2
            ),
        ),
        routes=_routes(chance, feeds),
        shifts=tuple(
            Shift(machine="", weekday=day, start_time=dt.time(3), end_time=dt.time(23, 59))
            for day in WEEKDAYS
        ),
        ingredients=_ingredients(),
        substances=tuple(
            Substance(substance=code, name=code.title()) for code in ("copper", "corn", *DRUGS)
        ),
        contents=_contents(chance),
        products=feeds,
        rates=tuple(
            Rate(product=row.product, machine=row.route.split(" > ")[2], rate_kg_s=1.8)
            for row in slow
        ),
        formulas=tuple(
            Formula(product=row.product, version=1, status="running", approved_by="mara")
            for row in feeds
        ),
        formula_lines=tuple(
            FormulaLine(product=code, version=1, ingredient=ingredient, parts_frac=part)
            for code, its in parts.items()
            for ingredient, part in its.items()
        ),
        limits=limits,
        revision=3,
    )


def _products(
    chance: random.Random, *, lines: int, number: int, has_horses: bool
) -> tuple[Product, ...]:
    horses = max(2, number // 6) if has_horses else 0
    rows = [
        _product(chance, count, lines=lines, has_horses=has_horses)
        for count in range(number - horses)
    ]
    mash = "MX2 > FH1|FH2|FH3 > SKH"
    for count in range(horses):
        code = f"HORSE-{count}"
        rows.append(_feed(code, species="horse", form="mash", route=mash, density_kg_m3=580.0))
    return tuple(rows)


def _product(chance: random.Random, count: int, *, lines: int, has_horses: bool) -> Product:
    species = chance.choice(SPECIES)
    drugs = DRUGS_OF.get(species, ())
    drug = chance.choice(drugs) if drugs and chance.random() < MEDICATED_FRAC else ""
    mixers = chance.choice(("MX1", "MX1", "MX2", "MX1|MX2", "MX1|MX2"))
    if has_horses and drug == "monensin":
        mixers = "MX1"
    form, die, route = "mash", "", f"{mixers} > FM1|FM2|FM3|FM4 > SK1|LO1"
    if chance.random() < 0.5:
        form, line, die = "pellet", chance.randint(1, lines), chance.choice(DIES)
        bins = "|".join(f"F{line}{at}" for at in (1, 2, 3))
        route = f"{mixers} > SB{line} > PL{line} > {bins} > SK{1 + line % 2}|LO1"
    code = f"{species.upper()}-{count}" + (f"-{drug[:3].upper()}" if drug else "")
    return _feed(
        code,
        species=species,
        form=form,
        route=route,
        die=die,
        is_medicated=bool(drug),
        density_kg_m3=chance.choice((520.0, 580.0, 640.0)),
    )


def _feed(
    code: str,
    *,
    species: str,
    form: str,
    route: str,
    density_kg_m3: float,
    die: str = "",
    is_medicated: bool = False,
) -> Product:
    return Product(
        product=code,
        name=code.title(),
        species=species,
        life_stage="all",
        form=form,
        route=route,
        die=die,
        pack_kg=25.0,
        medicated=is_medicated,
        density_kg_m3=density_kg_m3,
        price_usd_t=400.0,
    )


def _parts(chance: random.Random, row: Product) -> dict[str, float]:
    """A formula: two ground grains (horses get no corn), meals, limestone, premix and drug."""
    grains = ["BARLEY-G", "WHEAT-G"] if row.species == "horse" else ["CORN-G", "BARLEY-G"]
    parts = {"LIME": 0.02, f"PX-{row.species.upper()}": 0.02}
    for drug in DRUGS:
        if row.medicated and row.product.endswith(drug[:3].upper()):
            parts[f"D-{drug[:3].upper()}"] = 0.01
    for meal in chance.sample(sorted(MEALS), k=2):
        parts[meal] = chance.choice((0.05, 0.1, 0.15))
    left = 1.0 - sum(parts.values())
    first = round(left * chance.choice((0.4, 0.6, 0.8)), 3)
    parts[grains[0]], parts[grains[1]] = first, left - first
    return parts


def _contents(chance: random.Random) -> tuple[Content, ...]:
    copper = {"PX-PIG": 8_000.0, "PX-BROILER": 500.0, "PX-LAYER": 400.0, "PX-CATTLE": 700.0}
    rows = [("BARLEY", "copper", 5.0), ("CORN", "copper", 3.0), ("WHEAT", "copper", 4.0)]
    rows += [(code, "copper", content_mg_kg) for code, content_mg_kg in copper.items()]
    rows += [("CORN", "corn", 1_000_000.0)]
    for drug in DRUGS:
        rows.append((f"D-{drug[:3].upper()}", drug, chance.choice((3_000.0, 6_000.0, 20_000.0))))
    return tuple(
        Content(ingredient=code, substance=substance, content_mg_kg=amount, source=POLICY)
        for code, substance, amount in rows
    )


def _limits(
    chance: random.Random,
    feeds: tuple[Product, ...],
    parts: dict[str, dict[str, float]],
    *,
    has_horses: bool,
) -> tuple[Limit, ...]:
    """Limits that feeds keep by themselves, of all four kinds; "never" only for the horses' lane."""
    rows: list[Limit] = []
    if any(row.species == "sheep" for row in feeds):
        rows.append(_level("copper", chance.choice((13.0, 15.0, 18.0)), species="sheep"))
    for species in sorted({row.species for row in feeds}):
        for drug in DRUGS:
            code = f"D-{drug[:3].upper()}"
            its = [row for row in feeds if row.species == species]
            without = [row.product for row in its if code not in parts[row.product]]
            if species == "horse" and drug == "monensin" and has_horses:
                rows.append(Limit(species=species, substance=drug, kind="never", source=POLICY))
            elif len(without) == len(its):
                rows += _of_any_kind(chance, drug, species=species)
            else:
                for product in without:
                    rows += _of_any_kind(chance, drug, product=product)
    return tuple(rows)


def _of_any_kind(chance: random.Random, substance: str, **whose: str) -> tuple[Limit, ...]:
    """A level, a procedure, a clean-out or nothing, of a product or a species."""
    kind = chance.choices(("level", "procedure", "clean-out", ""), (45, 30, 5, 20))[0]
    if kind == "level":
        return (_level(substance, chance.choice((0.1, 0.3, 0.6, 1.2)), **whose),)
    if not kind:
        return ()
    flush_kg = float(chance.randrange(100, 900, 50)) if kind == "procedure" else None
    return (Limit(substance=substance, kind=kind, flush_kg=flush_kg, source=POLICY, **whose),)


def _level(substance: str, level_mg_kg: float, **whose: str) -> Limit:
    return Limit(substance=substance, kind="level", level_mg_kg=level_mg_kg, source=POLICY, **whose)


def _bins(chance: random.Random, *, lines: int, has_horses: bool) -> tuple[Bin, ...]:
    def row(code: str, kind: str, capacity_kg: float, **more: str) -> Bin:
        flow = FlowPattern.MASS.value
        return Bin(bin=code, kind=kind, capacity_kg=capacity_kg, flow=flow, **more)

    rows = [row(f"B-{code}", "ingredient", 400_000, holds=code) for code in GRAINS]
    rows += [
        row(f"G-{code}", "ground", chance.choice((10_000, 16_000)), holds=f"{code}-G", feeds=SCALES)
        for code in GRAINS
    ]
    plain = (*MEALS, "LIME", *(f"PX-{code.upper()}" for code in (*SPECIES, "horse")))
    rows += [row(f"B-{code}", "ingredient", 100_000, holds=code, feeds=SCALES) for code in plain]
    drugs = [f"D-{drug[:3].upper()}" for drug in DRUGS]
    # no drug of the horses' lane is within reach of its mixer
    rows += [
        row(
            f"B-{code}",
            "ingredient",
            20_000,
            holds=code,
            feeds="SC1" if has_horses and code == "D-MON" else SCALES,
        )
        for code in drugs
    ]
    for line in range(1, lines + 1):
        rows.append(row(f"SB{line}", "surge", chance.choice((4_000, 6_000))))
        rows += [row(f"F{line}{at}", "finished", 14_000) for at in (1, 2, 3)]
    rows += [row(f"FM{at}", "finished", chance.choice((10_000, 14_000))) for at in (1, 2, 3, 4)]
    if has_horses:
        rows += [row(f"FH{at}", "finished", 8_000) for at in (1, 2, 3)]
    rows.append(row("FL1", "flush", 60_000))
    return tuple(rows)


def _machines(chance: random.Random, *, lines: int, has_horses: bool) -> tuple[Machine, ...]:
    def mixer(code: str, mass_max_kg: float) -> Machine:
        return Machine(
            machine=code, kind="mixer", mass_max_kg=mass_max_kg, mass_min_kg=mass_max_kg / 4,
            volume_max_m3=mass_max_kg / 500, fill_s=120, dry_mix_s=chance.choice((150, 180, 210)),
            discharge_s=45, hold_up_kg=chance.choice((3.0, 6.0, 12.0)), changeover_s=60,
            clean_out_s=2700,
        )  # fmt: skip

    def packer(code: str, kind: str, rate_kg_s: float) -> Machine:
        return Machine(machine=code, kind=kind, rate_kg_s=rate_kg_s, changeover_s=120,
                       hold_up_kg=chance.choice((5.0, 15.0)), clean_out_s=1800)  # fmt: skip

    rows = [
        Machine(machine=f"HM-{code}", kind="grinder", rate_kg_s=4.0, loss_frac=0.01)
        for code in GRAINS
    ]
    rows += [mixer("MX1", 2_000.0), mixer("MX2", 1_200.0)]
    rows += [
        Machine(machine=f"PL{line}", kind="pellet line", rate_kg_s=chance.choice((2.5, 3.5)),
                hold_up_kg=chance.choice((20.0, 40.0, 60.0)), exchange_frac=0.8, changeover_s=300,
                die_change_s=900, clean_out_s=3600)
        for line in range(1, lines + 1)
    ]  # fmt: skip
    rows += [packer("SK1", "sacking line", 4.0), packer("SK2", "sacking line", 4.0)]
    rows.append(packer("LO1", "load-out", 12.0))
    if has_horses:
        rows.append(packer("SKH", "sacking line", 3.0))
    return tuple(rows)


def _routes(chance: random.Random, feeds: tuple[Product, ...]) -> tuple[Route, ...]:
    """The ways that the products name, and those of grinders and flushes."""
    ends: dict[tuple[str, str], None] = {}
    for row in feeds:
        steps = [step.split("|") for step in row.route.split(" > ")]
        for here, there in itertools.pairwise(steps):
            ends.update({(start, end): None for start in here for end in there})
    rows = [
        Route(start=start, end=end, hold_up_kg=chance.choice((0.0, 4.0, 10.0)), clean_out_s=900)
        for start, end in sorted(ends)
    ]
    for code in GRAINS:
        rows += [
            Route(start=f"B-{code}", end=f"HM-{code}"),
            Route(start=f"HM-{code}", end=f"G-{code}"),
        ]
    leads = sorted({start for start, _ in ends if start.startswith(("MX", "PL"))})
    rows += [Route(start=start, end="FL1") for start in leads]
    return tuple(rows)


def _ingredients() -> tuple[Ingredient, ...]:
    def row(code: str, kind: str, price_usd_t: float, ground_from: str = "") -> Ingredient:
        return Ingredient(
            ingredient=code, name=code.title(), ingredient_class=kind, density_kg_m3=600.0,
            moisture_wb=0.12, price_usd_t=price_usd_t, ground_from=ground_from,
        )  # fmt: skip

    rows = [row(code, "grain", price) for code, price in GRAINS.items()]
    rows += [row(f"{code}-G", "ground grain", price + 5, code) for code, price in GRAINS.items()]
    rows += [row(code, "protein meal", price) for code, price in MEALS.items()]
    rows.append(row("LIME", "mineral", 60.0))
    rows += [row(f"PX-{code.upper()}", "micro", 2000.0) for code in (*SPECIES, "horse")]
    rows += [row(f"D-{drug[:3].upper()}", "drug", 9000.0) for drug in DRUGS]
    return tuple(rows)
