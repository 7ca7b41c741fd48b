"""A mark for a cell that could not be understood, so that the rest of the tables is still checked.

Whoever reads the mark in any way gets :class:`TouchesDamage`; a rule that does is left off for
that row, since the cell's own fault has been said. Rows with the mark never leave the reader.
"""

from typing import Any, NoReturn

__all__ = ["DAMAGED", "TouchesDamage"]


class TouchesDamage(Exception):
    """A rule came upon a cell that could not be understood."""


class _Damaged:
    __slots__ = ()

    def _touched(self, *_: object) -> NoReturn:
        raise TouchesDamage

    __eq__ = __ne__ = __lt__ = __le__ = __gt__ = __ge__ = _touched
    __hash__ = __bool__ = __float__ = __int__ = __str__ = __iter__ = __len__ = _touched
    __abs__ = __neg__ = __pos__ = __index__ = __round__ = __getitem__ = _touched
    __add__ = __radd__ = __sub__ = __rsub__ = __mul__ = __rmul__ = _touched
    __truediv__ = __rtruediv__ = __format__ = __contains__ = _touched

    def __getattr__(self, name: str) -> NoReturn:
        if name.startswith("__"):
            raise AttributeError(name)  # tools that look around a module ask for these
        raise TouchesDamage

    def __repr__(self) -> str:
        return "DAMAGED"


DAMAGED: Any = _Damaged()
