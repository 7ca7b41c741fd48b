"""Ways that a feed may take through the mill, and what the places on them have ever handled."""

import itertools
from dataclasses import dataclass, field

from bedstone.errors import NoAnswer, Unknown
from bedstone.mill.before_mixer import flush_meetings
from bedstone.mill.contents import contents_of, formula_contents
from bedstone.mill.model import Mill, Product
from bedstone.mill.residue_places import way_of

__all__ = ["Paths", "packing_kind"]

PACKING_KINDS = ("sacking line", "load-out")


def packing_kind(pack: str) -> str:
    """The kind of machine that packs an order: sacks or loose."""
    return "sacking line" if pack == "bags" else "load-out"


@dataclass(eq=False)
class Paths:
    """Paths of products, each place chosen, and the static reading of what may run over what."""

    mill: Mill
    _all: dict[str, tuple[tuple[str, ...], ...]] = field(default_factory=dict)
    _handled: dict[str, frozenset[str]] | None = None

    def kind(self, code: str) -> str:
        """Kind of a machine or bin, empty if there is none of that code."""
        machine = self.mill.machine_by_code.get(code)
        if machine is not None:
            return machine.kind
        row = self.mill.bin_by_code.get(code)
        return row.kind if row is not None else ""

    def all_of(self, product: Product) -> tuple[tuple[str, ...], ...]:
        """Every path of a product: alternatives multiplied out where a route joins them."""
        found = self._all.get(product.product)
        if found is None:
            ends = self.mill.route_by_ends
            found = tuple(
                path
                for path in itertools.product(*way_of(product.route))
                if path and all(pair in ends for pair in itertools.pairwise(path))
            )
            self._all[product.product] = found
        return found

    def for_pack(self, product: Product, pack: str) -> tuple[tuple[str, ...], ...]:
        """Paths that end in a machine that packs as wanted, or at the finished bin for stock."""
        chosen: dict[tuple[str, ...], None] = {}
        for path in self.all_of(product):
            last = self.kind(path[-1])
            if pack == "stock":
                cut = path[:-1] if last in PACKING_KINDS else path
                if cut and self.kind(cut[-1]) == "finished":
                    chosen[cut] = None
            elif last == packing_kind(pack):
                chosen[path] = None
            elif pack == "bulk" and last == "finished":
                chosen[path] = None  # taken out of the bin with no machine of its own
        if pack == "stock":  # where something can draw it, if there is such a bin
            fed = [path for path in chosen if self.mill.bin_by_code[path[-1]].feeds]
            return tuple(fed or chosen)
        return tuple(chosen)

    def handled(self) -> dict[str, frozenset[str]]:
        """Substances that any product which may run over a place contains or ever contained."""
        if self._handled is None:
            found: dict[str, set[str]] = {}
            for product in self.mill.products:
                substances = self._ever(product.product)
                for path in self.all_of(product):
                    for code in path:
                        found.setdefault(code, set()).update(substances)
            self._handled = {code: frozenset(substances) for code, substances in found.items()}
        return self._handled

    def never_flushed(self) -> dict[str, frozenset[str]]:
        """Places over which a flush must not go, because it contains (or gets on its grinder) what
        a feed of theirs must never meet, with those substances.
        """
        material = self.mill.settings.flush_material
        if not material:
            return {}
        contains = {code for code, value in contents_of(self.mill, material).items() if value > 0}
        nevers = tuple(row for row in self.mill.limits if row.kind == "never")
        contains |= {met.limit.substance for met in flush_meetings(self.mill, limits=nevers)}
        barred: dict[str, set[str]] = {}
        for limit in self.mill.limits:
            if limit.kind != "never" or limit.substance not in contains:
                continue
            for product in self.mill.products:
                if limit.product == product.product or (
                    limit.species and limit.species == product.species
                ):
                    for path in self.all_of(product):
                        for code in path:
                            barred.setdefault(code, set()).add(limit.substance)
        return {code: frozenset(substances) for code, substances in barred.items()}

    def _ever(self, product: str) -> set[str]:
        substances: set[str] = set()
        for row in self.mill.formulas:
            if row.product != product or row.status == "draft":
                continue
            try:
                contents = formula_contents(self.mill, product, row.version)
            except (NoAnswer, Unknown):
                continue  # a version without lines, or of things that are gone, cannot have run
            substances.update(code for code, value in contents.items() if value > 0)
        return substances
