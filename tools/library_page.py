"""The page of the composition library, from the library itself."""

from bedstone.materials.composition import LibraryIngredient
from bedstone.materials.library import KINDS, Library, library

__all__ = ["library_page"]

COLUMNS = (
    "levels as fed",
    "more with your own dry matter",
    "proximate",
    "fibre",
    "minerals",
    "amino acids",
)

HEAD = """\
# The composition library

Made from the library itself by `make docs`; do not edit by hand.

What published tables say of common ingredients: `bedstone library` lists them, `bedstone library
NAME` shows the levels of one, and `--nutrient` every published value behind a level. A mill's own
assays and tables come first. **What no source gives is unknown and stays so**: it is never filled
in and never nought.

## How a level comes about

Of the sources that print a mean for an ingredient's nutrient, those of the best kind are used:

{kinds}

Their means count alike; sources that share their data (the Canadian file takes much over from the
USDA) count once. A spread between samples is used where a source states one, else the spread
between sources, else there is none. Every value is kept, with its source, year, basis, and the name
it was printed under, in `src/bedstone/materials/data/composition.csv`.

Three things are reckoned, and say so: dry matter from moisture, crude protein from the protein of
food tables, and what a pure compound holds from its formula. Values printed in dry matter are brought
to as fed with the dry matter of the same source, else of the others, or with your own lot's
(`--dry-matter`).

## Traps that were found, and what was done

- **The protein of food tables is not crude protein.** It is nitrogen times a factor of the food
  (5.71 for soy, 5.83 for wheat), not 6.25: the same soybean meal is printed 44.95 and 49.20. It stands
  under "food protein"; crude protein is rescaled where the factor is known (the factors are from
  memory, that of soy is seen in the two records).
- **The fibre of food tables is not crude fibre.** It stands under "total dietary fibre"; crude
  fibre, NDF and ADF are known only where a feed table gives them.
- **Food oats are groats, food barley is hulled.** They stand under names of their own.
- **Nought that is not measured.** The copy of the Canadian file prints wheat with no starch: its
  noughts are kept as blanks and never used.
- **A misprint.** A guide prints 36.4 % zinc for zinc oxide: that is zinc sulfate monohydrate. Kept,
  never used.
- **"Dicalcium phosphate"** is sold as a mix with monocalcium phosphate, 22 to 26.5 % calcium in print:
  enter each delivery by its own certificate.
- **One figure.** Minerals printed to one decimal of a per cent serve only where nothing else does.

Not in the library: the national feed composition database (its terms forbid republication), and
what lies behind licences that were not seen. Digestible amino acids and energy for poultry and pigs
are in none of the sources used, so they are unknown.

Where numbers come from animals' needs (`requirements.csv`) they are the source's, for a
nutritionist to judge; none is applied by itself.
"""


def library_page() -> str:
    """The page with coverage and sources."""
    books = library()
    kinds = "\n".join(f"{place}. {words}" for place, words in enumerate(KINDS, start=1))
    lines = [
        HEAD.format(kinds=kinds),
        "## What is covered",
        "",
        _counts(books),
        "",
        f"| ingredient | code | {' | '.join(COLUMNS)} |",
        "|---|---|---:|---:|---:|---:|---:|---:|",
        *(_line(books, row) for row in books.ingredients.values()),
        "",
        "## Sources",
        "",
        "| source | year | kind | licence | note | values |",
        "|---|---|---|---|---|---:|",
    ]
    for source in books.sources.values():
        count = sum(value.source == source for value in books.values)
        lines.append(
            f"| {source.title} | {source.year or ''} | {source.kind} | {source.licence} "
            f"| {source.note} | {count or ''} |"
        )
    return "\n".join(lines) + "\n"


def _counts(books: Library) -> str:
    levels = sum(len(books.levels_of(code)) for code in books.ingredients)
    return (
        f"{len(books.ingredients)} ingredients, {len(books.nutrients)} nutrients, "
        f"{len(books.values)} values (printed and reckoned), {levels} levels known as fed; "
        f"{len(books.densities)} physical properties, {len(books.isotherms)} sorption isotherms, "
        f"{len(books.requirements)} requirements."
    )


def _line(books: Library, row: LibraryIngredient) -> str:
    groups = [books.nutrients[level.nutrient].group for level in books.levels_of(row.code)]
    more = len(books.levels_of(row.code, dry_matter_frac=0.9)) - len(groups)
    counts = [
        sum(group in wanted for group in groups)
        for wanted in (("proximate",), ("fibre",), ("mineral", "trace mineral"), ("amino acid",))
    ]
    return (
        f"| {row.name} | `{row.code}` | {len(groups)} | {more or ''} | "
        + " | ".join(str(count or "") for count in counts)
        + " |"
    )
