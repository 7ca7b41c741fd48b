"""A small made-up mill, written by hand, for tests that need one and no folder."""

from bedstone.ledger.model import FlowPattern
from bedstone.mill.model import (
    Bin,
    Firm,
    Formula,
    FormulaLine,
    Ingredient,
    Limit,
    Machine,
    Meter,
    Mill,
    Person,
    Product,
    Route,
    Scale,
    Settings,
    Substance,
)

__all__ = ["LB_KG", "PLAIN_CAUTION", "a_mill"]

LB_KG = 0.45359237
PLAIN_CAUTION = "Copper builds up in the liver of sheep. No other feed in this bin."


def a_mill(units: str = "US", name: str = "Quillback Mill") -> Mill:
    """One mixer with two batch scales, a hand-add station, two meters, a pellet line, a sacker."""
    mass = LB_KG if units == "US" else 0.5
    return Mill(
        settings=Settings(
            format=1,
            name=name,
            place="Ferris County",
            time_zone="America/Chicago",
            units=units,
            flush_material="BARLEY-GR",
            flush_bin="FL1",
            drug_check="none",
        ),
        people=(Person(person="mara", name="Mara Oss", role="batch operator"),),
        firms=(
            Firm(firm="harrow", name="Harrow Lane Farm", role="customer"),
            Firm(firm="stile", name="Stile & Sons Stock Farm", role="customer"),
            Firm(firm="tollgate", name="Tollgate Poultry", role="customer"),
        ),
        bins=_bins(),
        machines=_machines(),
        scales=(
            Scale(scale="SC1", name="main scale", machine="MX1", capacity_kg=4000 * mass,
                  division_kg=1.0 * mass, smallest_draw_kg=50 * mass),
            Scale(scale="SC2", name="minor scale", machine="MX1", capacity_kg=200 * mass,
                  division_kg=0.1 * mass, smallest_draw_kg=5 * mass),
            Scale(scale="HS", name="hand-add scale", machine="HA1", capacity_kg=60 * mass,
                  division_kg=0.01 * mass, smallest_draw_kg=0.2 * mass),
        ),
        meters=(
            Meter(meter="LM1", name="molasses meter", machine="MX1", division_kg=0.1 * mass,
                  smallest_draw_kg=5 * mass, rate_kg_s=2.0, sd_frac=0.005),
            Meter(meter="LM2", name="oil meter", machine="MX1", division_kg=0.1 * mass,
                  smallest_draw_kg=5 * mass, rate_kg_s=1.0, sd_frac=0.005),
        ),
        routes=(Route(start="MX1", end="SB1", hold_up_kg=4.0), Route(start="HA1", end="MX1")),
        ingredients=_ingredients(),
        substances=(
            Substance(substance="copper", name="Copper",
                      caution="Copper builds up in the liver of sheep and can kill them."),
            Substance(substance="monensin", name="Monensin",
                      caution="Can kill horses and other equines."),
        ),
        products=_products(),
        formulas=tuple(
            Formula(product=code, version=version, status="running", approved_by="mara")
            for code, version in (("SHEEP-GR", 3), ("PIG-FIN", 7), ("BROIL-M", 2))
        ),
        formula_lines=_formula_lines(),
        limits=(
            Limit(species="sheep", substance="copper", kind="level", level_mg_kg=15.0,
                  source="mill policy"),
            Limit(species="sheep", substance="monensin", kind="procedure", flush_kg=180.0,
                  source="21 CFR 225.65"),
        ),
        revision=12,
    )  # fmt: skip


def _bins() -> tuple[Bin, ...]:
    mass_flow, apart = FlowPattern.MASS.value, FlowPattern.SEPARATE.value
    funnel, mixed = FlowPattern.FUNNEL.value, FlowPattern.MIXED.value

    def row(code: str, kind: str, flow: str, holds: str, feeds: str, name: str = "") -> Bin:
        return Bin(bin=code, name=name, kind=kind, capacity_kg=20_000.0, flow=flow, holds=holds,
                   feeds=feeds)  # fmt: skip

    return (
        row("G1", "ground", mass_flow, "CORN-GR", "SC1", "ground corn north"),
        row("G2", "ground", mass_flow, "CORN-GR", "SC1", "ground corn south"),
        row("G3", "ground", mass_flow, "BARLEY-GR", "SC1", "ground barley"),
        row("B4", "ingredient", funnel, "SBM", "SC1", "soybean meal"),
        row("B5", "ingredient", mass_flow, "MIDDS", "SC1"),
        row("B6", "ingredient", mass_flow, "LIME", "SC1 SC2", "limestone"),
        row("B7", "ingredient", mass_flow, "SALT", "SC2", "salt"),
        row("T1", "tank", mixed, "MOL", "LM1", "molasses tank"),
        row("T2", "tank", mixed, "OIL", "LM2", "oil tank"),
        row("F1", "floor", apart, "", "HS", "micro room"),
        row("SB1", "surge", mass_flow, "", "", "surge bin"),
        row("FB1", "finished", mass_flow, "", "", "finished 1"),
        row("FB2", "finished", mass_flow, "", "SC1", "finished 2"),
        row("FL1", "flush", mass_flow, "", "", "flush bin"),
    )


def _machines() -> tuple[Machine, ...]:
    return (
        Machine(machine="GR1", name="hammer mill", kind="grinder", rate_kg_s=2.0),
        Machine(machine="MX1", name="two-ton mixer", kind="mixer", mass_max_kg=1900.0,
                mass_min_kg=400.0, volume_max_m3=4.0, dry_mix_s=180.0, wet_mix_s=120.0),
        Machine(machine="HA1", name="hand-add station", kind="hand-add station"),
        Machine(machine="PL1", name="pellet line", kind="pellet line", rate_kg_s=1.1),
        Machine(machine="SK1", name="sacking line", kind="sacking line", rate_kg_s=2.0),
        Machine(machine="LO1", name="load-out", kind="load-out", rate_kg_s=8.0),
    )  # fmt: skip


def _ingredients() -> tuple[Ingredient, ...]:
    def row(
        code: str, name: str, kind: str, *, hand: bool = False, caution: str = ""
    ) -> Ingredient:
        return Ingredient(ingredient=code, name=name, ingredient_class=kind, density_kg_m3=650.0,
                          moisture_wb=0.12, price_usd_t=250.0, hand_add=hand, caution=caution)  # fmt: skip

    return (
        row("CORN", "Corn, whole", "grain"),
        row("CORN-GR", "Corn, ground", "ground grain"),
        row("BARLEY-GR", "Barley, ground", "ground grain"),
        row("SBM", "Soybean meal 47.5", "protein meal"),
        row("MIDDS", "Wheat middlings", "by-product"),
        row("LIME", "Limestone, fine", "mineral"),
        row("SALT", "Salt", "mineral"),
        row("SHEEP-PX", "Sheep premix, no copper", "micro", hand=True),
        row("PIG-PX", "Pig premix with copper", "micro", hand=True, caution="Holds copper."),
        row("VITE", "Vitamin E 50 %", "micro", hand=True),
        row("MONEN", "Monensin 90.7 g/lb Type A", "drug", hand=True,
            caution="Can kill horses. Gloves and mask."),
        row("MOL", "Cane molasses", "liquid"),
        row("OIL", "Soybean oil", "liquid"),
    )  # fmt: skip


def _products() -> tuple[Product, ...]:
    return (
        Product(product="SHEEP-GR", name="Sheep Grower 16", species="sheep", life_stage="grower",
                form="pellet", route="MX1 > SB1 > PL1 > FB1 > SK1", die="4.0 mm", pack_kg=22.68,
                density_kg_m3=620.0, price_usd_t=420.0, caution=PLAIN_CAUTION),
        Product(product="PIG-FIN", name="Pig Finisher 14", species="pig", life_stage="finisher",
                form="mash", route="MX1 > FB2 > LO1", density_kg_m3=620.0, price_usd_t=380.0),
        Product(product="BROIL-M", name="Broiler Grower 20 medicated", species="chicken",
                life_stage="grower", form="mash", route="MX1 > FB2 > LO1", medicated=True,
                density_kg_m3=620.0, price_usd_t=460.0,
                caution="Do not feed to horses or other equines: it has killed them."),
    )  # fmt: skip


def _formula_lines() -> tuple[FormulaLine, ...]:
    parts = {
        ("SHEEP-GR", 3): {"CORN-GR": 0.40, "MIDDS": 0.30, "SBM": 0.20, "LIME": 0.015,
                          "SALT": 0.005, "SHEEP-PX": 0.004, "VITE": 0.001, "MOL": 0.05,
                          "OIL": 0.025},
        ("PIG-FIN", 7): {"CORN-GR": 0.75, "SBM": 0.22, "LIME": 0.02, "PIG-PX": 0.01},
        ("BROIL-M", 2): {"CORN-GR": 0.60, "SBM": 0.36, "LIME": 0.0295, "SALT": 0.01,
                         "MONEN": 0.0005},
    }  # fmt: skip
    return tuple(
        FormulaLine(product=product, version=version, ingredient=code, parts_frac=part)
        for (product, version), lines in parts.items()
        for code, part in lines.items()
    )
