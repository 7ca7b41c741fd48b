"""Functions compiled by numba and kept on disk, or only compiled where nothing can be written."""

import warnings
from collections.abc import Callable
from functools import cache
from typing import TypeVar

from numba import njit

__all__ = ["CompiledEachTime", "compiled_and_kept"]

Function = TypeVar("Function", bound=Callable[..., object])


class CompiledEachTime(UserWarning):
    """What is compiled can be kept nowhere on this machine."""


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

    Warns
    -----
    CompiledEachTime
        Once in a process, where it can be kept nowhere.
    """
    made: Function
    try:
        made = njit(cache=True, nogil=True, **options)(function)  # type: ignore[call-overload]
    except RuntimeError:  # no directory to keep it in
        _say_once()
        made = njit(nogil=True, **options)(function)  # type: ignore[call-overload]
    return made


@cache
def _say_once() -> None:
    warnings.warn(
        "what is compiled for speed can be kept nowhere here, so each command compiles it again, "
        "which may take half a minute; let NUMBA_CACHE_DIR name a folder that may be written, "
        "and it is compiled once",
        CompiledEachTime,
        stacklevel=1,
    )
