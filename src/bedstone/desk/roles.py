"""Which roles may do what: the one table for the pages and for the command line."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from bedstone.errors import Refused, Unknown
from bedstone.mill.model import Mill

__all__ = ["ACTS", "check", "may", "person_who", "who_may"]

ACTS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "release": ("manager",),
        "take back": ("manager",),
        "pins": ("manager",),
        "tables": ("manager", "nutritionist"),
        "people": ("manager",),
        "plan": ("manager", "shipping"),
        "order": ("manager", "shipping"),
        "batch": ("manager", "batch operator"),
        "drug check": (
            "manager",
            "batch operator",
            "laboratory",
            "pellet operator",
            "receiver",
        ),
        "clean-out": ("manager", "batch operator", "pellet operator"),
        "grinding": ("manager", "batch operator"),
        "pelleting": ("manager", "pellet operator"),
        "packing": ("manager", "sacker", "shipping"),
        "shipping": ("manager", "sacker", "shipping"),
        "bin": ("manager", "receiver"),
        "arrival": ("manager", "receiver"),
        "under hold": ("manager", "laboratory"),
        "settle": ("manager", "receiver"),
        "sample": ("manager", "laboratory", "receiver"),
        "hold": ("manager", "laboratory"),
        "assay": ("manager", "laboratory", "nutritionist", "receiver"),
        "readings": ("manager", "laboratory", "batch operator", "pellet operator", "sacker"),
        "proof": ("manager", "laboratory", "batch operator"),
        "power": ("manager", "batch operator", "pellet operator"),
        "level": ("manager", "receiver", "batch operator"),
        "complaint": ("manager", "laboratory", "shipping"),
        "mixer test": ("manager", "laboratory", "batch operator"),
        "formula draft": ("nutritionist", "manager"),
        "formula approve": ("nutritionist", "manager"),
        "formula use": ("nutritionist", "manager"),
    }
)
"""Roles that may do each act; a flush is a batch, a bin is seen empty or counted."""
WORDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "release": "release a plan",
        "pins": "set a PIN",
        "tables": "change the mill's tables",
        "people": "change who works here and in which role",
        "plan": "propose a plan",
        "formula draft": "keep a formula as a draft",
        "formula approve": "approve a formula",
        "formula use": "put a formula in use or withdraw one",
        "batch": "record batches",
        "arrival": "take loads in or turn them away",
        "under hold": "decide that a load is unloaded under hold, or sent back",
        "settle": "settle loads",
        "sample": "throw retained samples away",
        "drug check": "confirm a drug as the second person",
    }
)
"""Acts of the command line as the end of "may not ..."."""


def may(role: str, act: str) -> bool:
    """Whether a role may do an act of the table."""
    return role in ACTS[act]


def who_may(act: str) -> str:
    """The roles that may do an act, in words."""
    return " or ".join(ACTS[act])


def person_who(mill: Mill, person: str) -> str:
    """The code of a person of the mill.

    Raises
    ------
    Unknown
        If the mill has no such person.
    """
    if person not in mill.person_by_code:
        raise Unknown(
            f"There is no person {person!r}.",
            allowed=", ".join(sorted(mill.person_by_code)) or "nobody is in the people table",
            do="name one of them, or add the person to people.csv and run bedstone load",
        )
    return person


def check(mill: Mill, person: str, act: str) -> None:
    """Pass if a person of the mill may do an act.

    Raises
    ------
    Unknown
        If the mill has no such person.
    Refused
        If the person's role may not do it; it names the roles that may, and who has them here.
    """
    row = mill.person_by_code[person_who(mill, person)]
    if may(row.role, act):
        return
    others = sorted(one.person for one in mill.people if may(one.role, act))
    what = f"{row.name} may not {WORDS.get(act, 'do this')}; nothing was written."
    if row.role == "inspector":
        what = f"{row.name} is an inspector: an inspector reads everything and records nothing."
    raise Refused(
        what,
        seen=row.role,
        allowed=f"{who_may(act)} (here: {', '.join(others) or 'nobody'})",
        do="ask somebody with that role",
    )
