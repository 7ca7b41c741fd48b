"""Functions compiled by numba and kept on disk, or only compiled where nothing can be written."""

from collections.abc import Callable
from typing import TypeVar

from numba import njit

__all__ = ["compiled_and_kept"]

Function = TypeVar("Function", bound=Callable[..., object])


def compiled_and_kept(function: Function, **options: object) -> Function:
    """The function compiled at its first call, and kept for the next process if that can be.

    Numba keeps what it compiled beside the source or in the person's own cache. Where a mill's
    machine lets it write to neither, it is compiled anew in each process: slower at first, and
    otherwise the same.

    Parameters
    ----------
    function : callable
        Of numbers and arrays alone. It runs without Python's lock.
    **options : object
        Of numba's ``njit``.

    Returns
    -------
    compiled : callable
        It gives what the function gives.
    """
    made: Function
    try:
        made = njit(cache=True, nogil=True, **options)(function)  # type: ignore[call-overload]
    except RuntimeError:  # no directory to keep it in
        made = njit(nogil=True, **options)(function)  # type: ignore[call-overload]
    return made
