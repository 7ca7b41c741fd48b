"""What batches contain that others must not get, by what was drawn into them."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from weakref import WeakKeyDictionary

from bedstone.desk.lots_lying import read_now
from bedstone.desk.made import BatchOnRecord, MadeDraw, made_batches
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill, revision_mill, revisions_loaded
from bedstone.errors import NoAnswer, Unknown
from bedstone.mill.contents import contents_of, formula_contents
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch

__all__ = ["Contents", "any_version", "worse"]


_KEPT: WeakKeyDictionary[Record, dict[tuple[int, ...], Mapping[str, float]]] = WeakKeyDictionary()


def worse(*contents: Mapping[str, float]) -> dict[str, float]:
    """The highest content of each substance among several [mg/kg]."""
    found: dict[str, float] = {}
    for one in contents:
        for substance, content_mg_kg in one.items():
            found[substance] = max(content_mg_kg, found.get(substance, 0.0))
    return found


@dataclass
class Contents:
    """Contents of what was drawn: by the tables in force when it was, or by those that stand now,
    whichever say more. New tables never make clean what was mixed under the old ones.
    """

    record: Record
    mill: Mill = field(init=False)

    def __post_init__(self) -> None:
        """Read which tables stood when."""
        self.mill = current_mill(self.record)
        self._loaded = revisions_loaded(self.record)
        self._positions = [position for position, _ in self._loaded]
        self._known: dict[tuple[str, int], Mapping[str, float] | None] = {}

    @cached_property
    def _made(self) -> Mapping[str, BatchOnRecord]:
        return made_batches(self.record)

    def of(self, material: str, *, positions: Iterable[int] = ()) -> Mapping[str, float]:
        """Content of each substance in what was drawn at places of the journal [mg/kg]."""
        revisions = {self._in_force(position) for position in positions} | {self.mill.revision}
        found = [self._by(material, revision) for revision in sorted(revisions)]
        known = [one for one in found if one is not None]
        return worse(*known) if known else self._newest_that_knows(material)

    def of_made(self, row: BatchOnRecord, *, positions: Iterable[int] = ()) -> Mapping[str, float]:
        """Content of a batch by what was really weighed into it [mg/kg]: by the tables in force
        when it was recorded, or at other places of the journal, and by those that stand.
        """
        positions = (*positions, row.position)
        key = (*positions, self.mill.revision)
        kept = _KEPT.setdefault(self.record, {})
        if key in kept:
            return kept[key]
        draws = [draw for draw in row.made.draws if draw.actual_mg]
        total: dict[str, float] = {}
        for line, draw in enumerate(draws, start=1):
            contents = self.of(draw.ingredient, positions=positions)
            if draw.ingredient in self.mill.product_by_code:
                contents = worse(contents, *self._lots_drawn(row, draw, line))
            for substance, content_mg_kg in contents.items():
                brought = content_mg_kg * draw.actual_mg / row.mass_mg
                total[substance] = total.get(substance, 0.0) + brought
        if all(draw.ingredient not in self.mill.product_by_code for draw in draws):
            kept[key] = total  # nothing recorded later can change it
        return total

    def _lots_drawn(
        self, row: BatchOnRecord, draw: MadeDraw, line: int
    ) -> Iterator[Mapping[str, float]]:
        """Contents of the lots of a product that were drawn, or may have been."""
        shares = read_now(self.record, lambda layers, _: layers.shares(row.position, line))
        made = self._made
        for lot in {draw.lot} if draw.lot else {share.lot for share in shares}:
            batch = made.get(lot or "")
            if batch is not None and batch.position < row.position:
                if batch.made.material == draw.ingredient:
                    yield self.of_made(batch)
            else:
                yield any_version(self.mill, draw.ingredient)

    def of_planned(self, batch: Batch, *, positions: Iterable[int] = ()) -> Mapping[str, float]:
        """Content of a batch that is made as planned, by its version of the formula [mg/kg]."""
        revisions = {self._in_force(position) for position in positions} | {self.mill.revision}
        found = [_by_version(self._mill(revision), batch) for revision in sorted(revisions)]
        known = [one for one in found if one is not None]
        return worse(*known) if known else self._newest_that_knows(batch.material)

    def _in_force(self, position: int) -> int:
        before = bisect_left(self._positions, position)
        return self._loaded[before - 1][1] if before else self.mill.revision

    def _mill(self, revision: int) -> Mill:
        if revision == self.mill.revision:
            return self.mill
        return revision_mill(self.record, revision)

    def _by(self, material: str, revision: int) -> Mapping[str, float] | None:
        key = (material, revision)
        if key not in self._known:
            mill = self._mill(revision)
            try:
                self._known[key] = contents_of(mill, material)
            except (Unknown, NoAnswer):
                self._known[key] = None  # these tables do not know it; others do
        return self._known[key]

    def _newest_that_knows(self, material: str) -> Mapping[str, float]:
        for _, revision in reversed(self._loaded):
            found = self._by(material, revision)
            if found is not None:
                return found
        raise Unknown(
            f"No revision of the tables knows {material!r}, which was drawn into a batch.",
            do="put it back into the tables, then bedstone load",
        )


def any_version(mill: Mill, product: str) -> Mapping[str, float]:
    """The most of each substance in any version of a formula that was ever approved [mg/kg]."""
    found: dict[str, float] = {}
    for row in mill.formulas:
        if row.product != product or row.status == "draft":
            continue
        try:
            found = worse(found, formula_contents(mill, product, row.version))
        except (NoAnswer, Unknown):
            continue  # such a version cannot have run: it has no lines, or lines that lead nowhere
    return found


def _by_version(mill: Mill, batch: Batch) -> Mapping[str, float] | None:
    try:
        if batch.formula_version is None:
            return contents_of(mill, batch.material)
        return formula_contents(mill, batch.material, batch.formula_version)
    except (Unknown, NoAnswer):
        return None
