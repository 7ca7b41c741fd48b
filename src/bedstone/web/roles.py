"""Who may record what on the pages: the one table of roles and acts."""

from collections.abc import Mapping
from typing import Final

from bedstone.errors import Refused
from bedstone.mill.model import Person

__all__ = ["ACTS", "may", "needs", "who_may"]

ACTS: Final[Mapping[str, tuple[str, ...]]] = {
    "release": ("manager",),
    "take back": ("manager",),
    "plan": ("manager", "shipping"),
    "order": ("manager", "shipping"),
    "batch": ("manager", "batch operator"),
    "clean-out": ("manager", "batch operator", "pellet operator"),
    "grinding": ("manager", "batch operator"),
    "pelleting": ("manager", "pellet operator"),
    "packing": ("manager", "sacker", "shipping"),
    "shipping": ("manager", "sacker", "shipping"),
    "bin": ("manager", "receiver"),
    "hold": ("manager", "laboratory"),
}
"""Roles that may do each act; a flush is a batch, a bin is seen empty or counted."""


def may(person: Person | None, act: str) -> bool:
    """Whether somebody may do an act; nobody signed in may do none."""
    return person is not None and person.role in ACTS[act]


def who_may(act: str) -> str:
    """The roles that may do an act, in words."""
    return " or ".join(ACTS[act])


def needs(person: Person, act: str) -> None:
    """Let go on only who may do an act.

    Raises
    ------
    Refused
        If the person has another role.
    """
    if not may(person, act):
        raise Refused(
            f"{person.name} may not do this.",
            seen=person.role,
            allowed=who_may(act),
            do="ask somebody with that role; nothing was written",
        )
