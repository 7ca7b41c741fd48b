"""The one attribute dictionary: each column of each table, with its unit, bounds and meaning.

Every field of a table's row class is declared with :func:`column`. Validation, the starter
folder, the docs, the export and the forms are all made from these declarations.
"""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any

__all__ = ["Attribute", "attributes_of", "column"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Attribute:
    """What one column means and allows.

    ``unit`` is the SI unit the value has inside; the file's column may use another unit of the
    same kind, named by the column's suffix. ``refers`` lists the tables whose key the value must
    be one of; ``choices`` maps each allowed word to its meaning; ``code`` says that a text names a
    thing of the mill and is a code.
    """

    meaning: str
    unit: str = ""
    low: float | None = None
    low_open: bool = False  # the bound itself is not allowed
    high: float | None = None
    choices: Mapping[str, str] | None = None
    refers: tuple[str, ...] = ()
    key: bool = False
    code: bool = False  # letters, digits, "-" and "_"
    longest: int = 500  # characters of a text
    example: str = ""
    source: str = ""


def column(
    meaning: str,
    *,
    unit: str = "",
    default: Any = MISSING,
    low: float | None = None,
    low_open: bool = False,
    high: float | None = None,
    choices: Mapping[str, str] | None = None,
    refers: tuple[str, ...] = (),
    key: bool = False,
    code: bool = False,
    longest: int = 500,
    example: str = "",
    source: str = "",
) -> Any:
    """Return a dataclass field that carries its entry of the attribute dictionary."""
    attribute = Attribute(
        meaning=meaning,
        unit=unit,
        low=low,
        low_open=low_open,
        high=high,
        choices=choices,
        refers=refers,
        key=key,
        code=code,
        longest=longest,
        example=example,
        source=source,
    )
    return field(default=default, metadata={"attribute": attribute})


def attributes_of(row_type: type) -> dict[str, Attribute]:
    """Return the attributes of a table's row class, in column order."""
    return {item.name: item.metadata["attribute"] for item in fields(row_type)}
