"""Book stock: what every place holds of every material, by adding up movements."""

from collections.abc import Iterable, Mapping

from bedstone.ledger.model import Movement

__all__ = ["add_stock", "fold_stock", "total_mg"]


def fold_stock(
    movements: Iterable[Movement], start: Mapping[tuple[str, str], int] | None = None
) -> dict[tuple[str, str], int]:
    """Return whole milligrams by place and material after the movements, outside places too.

    Parameters
    ----------
    movements : iterable of Movement
        In any order: a sum does not mind.
    start : mapping, optional
        Stock before them, such as a snapshot; nothing if left out.

    Returns
    -------
    stock_mg : dict of (place, material) to int
        Lines of nothing are left out; a line may be below nothing. [mg]
    """
    stock_mg = dict(start or {})
    add_stock(stock_mg, movements)
    return {key: mass_mg for key, mass_mg in stock_mg.items() if mass_mg}


def add_stock(stock_mg: dict[tuple[str, str], int], movements: Iterable[Movement]) -> None:
    """Add movements to stock by place and material, in place; lines of nothing may stay behind."""
    for movement in movements:
        mass_mg = movement.mass_mg
        source = (movement.from_place, movement.material)
        target = (movement.to_place, movement.material)
        stock_mg[source] = stock_mg.get(source, 0) - mass_mg
        stock_mg[target] = stock_mg.get(target, 0) + mass_mg


def total_mg(stock_mg: Mapping[tuple[str, str], int]) -> int:
    """Return the mass of all places together: nothing, in a sound ledger. [mg]"""
    return sum(stock_mg.values())
