"""How much of an element a pure compound holds, reckoned from its formula.

Sources
-------
[1] IUPAC, abridged standard atomic weights (from memory); the shares they give are held against
    printed ones in the tests.
"""

import re
from collections import Counter
from typing import Final

from bedstone.errors import BadInput

__all__ = ["ATOMIC_WEIGHTS", "element_share_frac", "molar_mass"]

ATOMIC_WEIGHTS: Final = {
    "H": 1.008, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.990, "Mg": 24.305, "P": 30.974,
    "S": 32.06, "Cl": 35.45, "K": 39.098, "Ca": 40.078, "Mn": 54.938, "Fe": 55.845, "Co": 58.933,
    "Cu": 63.546, "Zn": 65.38, "Se": 78.971, "I": 126.90,
}  # fmt: skip
"""Grams a mole [1]."""

PIECE = re.compile(r"([A-Z][a-z]?)(\d*)|\(([^()]*)\)(\d*)")
PART = re.compile(r"^(\d*)(.+)$")


def molar_mass(formula: str) -> float:
    """Mass of a mole of a compound.

    Parameters
    ----------
    formula : str
        As ``CuSO4.5H2O``: elements with counts, one pair of brackets deep, parts parted by points.

    Returns
    -------
    mass_g_mol : float
        Grams a mole.

    Raises
    ------
    BadInput
        If the formula cannot be read.

    Examples
    --------
    >>> round(molar_mass("CaCO3"), 2)
    100.09

    Sources
    -------
    [1] of this module.
    """
    return sum(ATOMIC_WEIGHTS[element] * count for element, count in _atoms(formula).items())


def element_share_frac(formula: str, element: str) -> float:
    """Share of an element in a pure compound, by mass.

    Parameters
    ----------
    formula : str
        As in ``molar_mass``.
    element : str
        As ``Ca``.

    Returns
    -------
    share_frac : float
        Part of the compound's mass. [0 to 1]

    Raises
    ------
    BadInput
        If the formula cannot be read.

    Examples
    --------
    Zinc sulfate monohydrate (printed: 36.4 %):

    >>> round(element_share_frac("ZnSO4.H2O", "Zn"), 4)
    0.3643

    Sources
    -------
    [1] of this module.
    """
    return ATOMIC_WEIGHTS[element] * _atoms(formula)[element] / molar_mass(formula)


def _atoms(formula: str) -> Counter[str]:
    """How many atoms of each element."""
    atoms: Counter[str] = Counter()
    for part in formula.split("."):
        times, body = PART.match(part).groups() if PART.match(part) else ("", "")  # type: ignore[union-attr]
        if "".join(match.group(0) for match in PIECE.finditer(body)) != body or not body:
            raise _unreadable(formula)
        for element, count, group, many in (match.groups() for match in PIECE.finditer(body)):
            if element:
                _add(atoms, element, int(times or 1) * int(count or 1), formula)
                continue
            for inner, inner_count in re.findall(r"([A-Z][a-z]?)(\d*)", group):
                number = int(times or 1) * int(many or 1) * int(inner_count or 1)
                _add(atoms, inner, number, formula)
    return atoms


def _add(atoms: Counter[str], element: str, count: int, formula: str) -> None:
    if element not in ATOMIC_WEIGHTS:
        raise _unreadable(formula)
    atoms[element] += count


def _unreadable(formula: str) -> BadInput:
    return BadInput(
        "The formula of a compound cannot be read.",
        seen=formula,
        allowed=f"elements {', '.join(ATOMIC_WEIGHTS)} with counts, as CuSO4.5H2O",
    )
