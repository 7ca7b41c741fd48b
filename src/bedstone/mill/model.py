"""The mill itself as frozen values: its tables, row by row, and the whole with look-ups.

SI inside (see the suffixes); ``None`` means "not given", never nought. Codes are short text made
of letters, digits, "-" and "_". Row classes lie in ``equipment`` and ``goods``.
"""

from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cached_property

from bedstone.errors import Unknown
from bedstone.mill.equipment import (
    Bin,
    Firm,
    Machine,
    Meter,
    Person,
    Route,
    Scale,
    Settings,
    Shift,
)
from bedstone.mill.formula_tables import (
    FormulaRule,
    Inclusion,
    IngredientGroupLimit,
    Price,
    Requirement,
)
from bedstone.mill.goods import (
    Assay,
    Composition,
    Content,
    Formula,
    FormulaLine,
    Guarantee,
    Ingredient,
    Limit,
    OpeningStock,
    Order,
    Product,
    Rate,
    Substance,
    Weather,
)
from bedstone.mill.instrument_tables import Liquid, ProofInterval, TankMeasure
from bedstone.mill.pellet_tables import Cooler, DieRow, HeatSensitive, PelletLine, Pellets
from bedstone.mill.receiving_tables import (
    CargoRule,
    PriceStep,
    ReceivingTerms,
    Specification,
    Weighbridge,
)
from bedstone.mill.storage_tables import BinMeasure, BuyingTerm, KeepApart, VolumeAtDepth

__all__ = [
    "TABLES",
    "Assay",
    "Bin",
    "CargoRule",
    "Composition",
    "Content",
    "Cooler",
    "DieRow",
    "Firm",
    "Formula",
    "FormulaLine",
    "FormulaRule",
    "Guarantee",
    "HeatSensitive",
    "Inclusion",
    "Ingredient",
    "IngredientGroupLimit",
    "Limit",
    "Machine",
    "Meter",
    "Mill",
    "OpeningStock",
    "Order",
    "PelletLine",
    "Pellets",
    "Person",
    "Price",
    "PriceStep",
    "Product",
    "Rate",
    "ReceivingTerms",
    "Requirement",
    "Route",
    "Scale",
    "Settings",
    "Shift",
    "Specification",
    "Substance",
    "Weather",
    "Weighbridge",
]

TABLES: dict[str, type] = {
    "people": Person,
    "firms": Firm,
    "bins": Bin,
    "bin_shapes": BinMeasure,
    "strapping": VolumeAtDepth,
    "tanks": TankMeasure,
    "machines": Machine,
    "scales": Scale,
    "meters": Meter,
    "proof_intervals": ProofInterval,
    "routes": Route,
    "shifts": Shift,
    "ingredients": Ingredient,
    "liquids": Liquid,
    "substances": Substance,
    "contents": Content,
    "composition": Composition,
    "prices": Price,
    "buying_terms": BuyingTerm,
    "keep_apart": KeepApart,
    "products": Product,
    "rates": Rate,
    "pellet_lines": PelletLine,
    "coolers": Cooler,
    "dies": DieRow,
    "pellets": Pellets,
    "heat_sensitive": HeatSensitive,
    "guarantees": Guarantee,
    "requirements": Requirement,
    "inclusions": Inclusion,
    "ingredient_groups": IngredientGroupLimit,
    "formula_rules": FormulaRule,
    "formulas": Formula,
    "formula_lines": FormulaLine,
    "limits": Limit,
    "weighbridges": Weighbridge,
    "cargo_rules": CargoRule,
    "specifications": Specification,
    "receiving_terms": ReceivingTerms,
    "price_steps": PriceStep,
    "orders": Order,
    "opening_stock": OpeningStock,
    "weather": Weather,
    "assays": Assay,
}
"""File name (without ending) to row class, in the order in which a person would fill them."""


@dataclass(frozen=True, kw_only=True)
class Mill:
    """The whole mill of one revision: settings and tables. Orders, opening stock, weather and
    assays are not part of it: they are merged by key into the record.
    """

    settings: Settings
    people: tuple[Person, ...] = ()
    firms: tuple[Firm, ...] = ()
    bins: tuple[Bin, ...] = ()
    bin_shapes: tuple[BinMeasure, ...] = ()
    strapping: tuple[VolumeAtDepth, ...] = ()
    tanks: tuple[TankMeasure, ...] = ()
    machines: tuple[Machine, ...] = ()
    scales: tuple[Scale, ...] = ()
    meters: tuple[Meter, ...] = ()
    proof_intervals: tuple[ProofInterval, ...] = ()
    routes: tuple[Route, ...] = ()
    shifts: tuple[Shift, ...] = ()
    ingredients: tuple[Ingredient, ...] = ()
    liquids: tuple[Liquid, ...] = ()
    substances: tuple[Substance, ...] = ()
    contents: tuple[Content, ...] = ()
    composition: tuple[Composition, ...] = ()
    prices: tuple[Price, ...] = ()
    buying_terms: tuple[BuyingTerm, ...] = ()
    keep_apart: tuple[KeepApart, ...] = ()
    products: tuple[Product, ...] = ()
    rates: tuple[Rate, ...] = ()
    pellet_lines: tuple[PelletLine, ...] = ()
    coolers: tuple[Cooler, ...] = ()
    dies: tuple[DieRow, ...] = ()
    pellets: tuple[Pellets, ...] = ()
    heat_sensitive: tuple[HeatSensitive, ...] = ()
    guarantees: tuple[Guarantee, ...] = ()
    requirements: tuple[Requirement, ...] = ()
    inclusions: tuple[Inclusion, ...] = ()
    ingredient_groups: tuple[IngredientGroupLimit, ...] = ()
    formula_rules: tuple[FormulaRule, ...] = ()
    formulas: tuple[Formula, ...] = ()
    formula_lines: tuple[FormulaLine, ...] = ()
    limits: tuple[Limit, ...] = ()
    weighbridges: tuple[Weighbridge, ...] = ()
    cargo_rules: tuple[CargoRule, ...] = ()
    specifications: tuple[Specification, ...] = ()
    receiving_terms: tuple[ReceivingTerms, ...] = ()
    price_steps: tuple[PriceStep, ...] = ()
    revision: int = field(default=0)

    @cached_property
    def bin_by_code(self) -> dict[str, Bin]:
        """Bins by code."""
        return {row.bin: row for row in self.bins}

    @cached_property
    def machine_by_code(self) -> dict[str, Machine]:
        """Machines by code."""
        return {row.machine: row for row in self.machines}

    @cached_property
    def ingredient_by_code(self) -> dict[str, Ingredient]:
        """Ingredients by code."""
        return {row.ingredient: row for row in self.ingredients}

    @cached_property
    def product_by_code(self) -> dict[str, Product]:
        """Products by code."""
        return {row.product: row for row in self.products}

    @cached_property
    def substance_by_code(self) -> dict[str, Substance]:
        """Substances by code."""
        return {row.substance: row for row in self.substances}

    @cached_property
    def firm_by_code(self) -> dict[str, Firm]:
        """Firms by code."""
        return {row.firm: row for row in self.firms}

    @cached_property
    def person_by_code(self) -> dict[str, Person]:
        """People by code."""
        return {row.person: row for row in self.people}

    @cached_property
    def scale_by_code(self) -> dict[str, Scale]:
        """Scales by code."""
        return {row.scale: row for row in self.scales}

    @cached_property
    def meter_by_code(self) -> dict[str, Meter]:
        """Meters by code."""
        return {row.meter: row for row in self.meters}

    @cached_property
    def route_by_ends(self) -> dict[tuple[str, str], Route]:
        """Routes by their two ends."""
        return {(row.start, row.end): row for row in self.routes}

    @cached_property
    def _lines(self) -> dict[tuple[str, int], tuple[FormulaLine, ...]]:
        lines: dict[tuple[str, int], list[FormulaLine]] = {}
        for row in self.formula_lines:
            lines.setdefault((row.product, row.version), []).append(row)
        return {key: tuple(rows) for key, rows in lines.items()}

    def running_formula(self, product: str) -> Formula | None:
        """The version of a product's formula that runs, or None."""
        for row in self.formulas:
            if row.product == product and row.status == "running":
                return row
        return None

    def lines_of(self, product: str, version: int) -> tuple[FormulaLine, ...]:
        """Lines of one version of a formula; empty if there is none."""
        return self._lines.get((product, version), ())

    def product(self, code: str) -> Product:
        """The product of a code.

        Raises
        ------
        Unknown
            If the mill has no such product; near names are offered.
        """
        found = self.product_by_code.get(code)
        if found is None:
            near = get_close_matches(code, self.product_by_code, n=3)
            raise Unknown(
                f"There is no product {code!r}.",
                do=f"did you mean {', '.join(near)}?" if near else "see the products table",
            )
        return found

    def name_of(self, code: str) -> str:
        """What people call a material, place, machine or firm; the code itself if it has no name."""
        for table in (
            self.product_by_code,
            self.ingredient_by_code,
            self.bin_by_code,
            self.machine_by_code,
            self.firm_by_code,
        ):
            row = table.get(code)
            if row is not None:
                return row.name or code
        return code
