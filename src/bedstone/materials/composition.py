"""What published tables say an ingredient holds: the values, each with where it is from."""

from dataclasses import dataclass, field
from enum import StrEnum

__all__ = [
    "BulkDensity",
    "Isotherm",
    "LibraryIngredient",
    "LibraryLevel",
    "LibraryNutrient",
    "LibraryRequirement",
    "PublishedValue",
    "Source",
    "What",
]


class What(StrEnum):
    """What a published number is. Only means are used for a level; the others stand beside it."""

    MEAN = "mean"
    LOW = "low"  # the least seen of a range
    HIGH = "high"  # the greatest seen of a range
    LEAST = "least"  # least content of a specification
    VARIATION = "cv"  # coefficient of variation
    BLANK = "blank"  # a nought that stands for not measured: kept, never used
    MISPRINT = "misprint"  # kept, never used


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A published source. Sources of one ``family`` share their data and count once."""

    code: str
    title: str
    year: int | None
    kind: str  # feed table, analysed, specification, guide, food table, pure compound ...
    licence: str
    note: str
    family: str

    @property
    def words(self) -> str:
        """Title and year."""
        return f"{self.title} ({self.year})" if self.year else self.title


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryIngredient:
    """An ingredient of the library under its one name."""

    code: str
    name: str
    kind: str
    other_names: tuple[str, ...]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryNutrient:
    """A nutrient of the library, with the unit that levels are given in."""

    name: str
    unit: str
    group: str
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedValue:
    """One number as a source prints it, and what it is as fed in the nutrient's own unit.

    ``as_fed`` is None where it is not known: a value in dry matter of an ingredient whose dry
    matter no source gives. ``derived`` says in words how a number that is not printed was reckoned
    from one that is, "" if it is printed.
    """

    ingredient: str
    nutrient: str
    what: What
    value: float
    unit: str
    basis: str  # "as fed" or "dry matter"
    sd: float | None  # between samples, in the same unit and basis
    source: Source
    reference: str
    printed_as: str
    note: str
    derived: str = ""
    as_fed: float | None = None
    as_fed_sd: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryLevel:
    """What the library holds an ingredient to contain of a nutrient, as fed.

    ``sd`` is None where no source gives a spread and only one kind of source gives the value;
    ``sd_is`` says what it is: between samples, or between sources. ``sources`` is how many
    sources with data of their own stand behind the mean.
    """

    ingredient: str
    nutrient: str
    mean: float
    unit: str
    sd: float | None
    sd_is: str
    sources: int
    rule: str
    used: tuple[PublishedValue, ...] = field(repr=False)
    all_values: tuple[PublishedValue, ...] = field(repr=False)

    @property
    def source(self) -> str:
        """Where the mean is from, for the mill's own table."""
        words = [
            f"{value.source.words}{', ' + value.reference if value.reference else ''}"
            + (f", {value.derived}" if value.derived else "")
            for value in self.used
        ]
        return "library: " + "; ".join(dict.fromkeys(words))


@dataclass(frozen=True, slots=True, kw_only=True)
class BulkDensity:
    """A physical property as printed: bulk density, angle of repose ..."""

    ingredient: str  # "" for a class of ingredients
    printed_as: str
    what: str
    low: float
    high: float | None
    unit: str
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Isotherm:
    """Coefficients of a sorption isotherm, in the forms of ``sorption.py``."""

    ingredient: str  # "" if it is no ingredient of the library
    printed_as: str
    form: str
    a: float
    b: float
    c: float
    moisture_in: str
    source: Source
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryRequirement:
    """What animals need of a nutrient, as a source prints it. A nutritionist decides."""

    species: str
    kind: str
    nutrient: str
    what: str  # "requirement", or "misprint": kept, never used
    low: float | None
    high: float | None
    most: float | None  # most tolerable, or most allowed
    unit: str
    source: Source
    note: str
