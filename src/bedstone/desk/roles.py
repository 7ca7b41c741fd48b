"""Which roles may do what: one table for the pages and for the command line."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from bedstone.errors import Refused, Unknown
from bedstone.mill.equipment import ROLES
from bedstone.mill.model import Mill

__all__ = ["ACTS", "check", "check_role", "may", "person_who"]

_EVERYBODY: Final = frozenset(ROLES) - {"inspector"}

ACTS: Final[Mapping[str, frozenset[str]]] = MappingProxyType(
    {
        "record what is done on the floor": _EVERYBODY,
        "set orders": _EVERYBODY,
        "propose a plan": _EVERYBODY,
        "record batches": frozenset({"manager", "batch operator"}),
        "release a plan": frozenset({"manager"}),
        "load the mill's tables": frozenset({"manager", "nutritionist"}),
        "set a PIN": frozenset({"manager"}),
        "take back a fact": frozenset({"manager"}),
        "hold and release lots": frozenset({"manager", "laboratory"}),
    }
)
"""Act to the roles that may do it, as people say it in a sentence: "may not ..."."""


def may(role: str, act: str) -> bool:
    """Whether a role may do an act of the table."""
    return role in ACTS[act]


def check_role(name: str, role: str, act: str) -> None:
    """Pass if a role may do an act.

    Raises
    ------
    Refused
        If it may not; it names the roles that may.
    """
    if may(role, act):
        return
    roles = " or ".join(sorted(ACTS[act])) if len(ACTS[act]) < len(_EVERYBODY) else "any other role"
    records_nothing = role == "inspector"
    raise Refused(
        f"{name} is an inspector: an inspector reads everything and records nothing."
        if records_nothing
        else f"{name} may not {act}; nothing was written.",
        seen=role,
        allowed=roles,
        do="ask somebody with that role"
        if not records_nothing
        else "somebody of the mill must do this",
    )


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
        If the person's role may not do it; it names the roles that may.
    """
    row = mill.person_by_code[person_who(mill, person)]
    others = sorted(one.person for one in mill.people if may(one.role, act))
    try:
        check_role(row.name, row.role, act)
    except Refused as refused:
        raise Refused(
            refused.what,
            seen=refused.seen,
            allowed=f"{refused.allowed} (here: {', '.join(others) or 'nobody'})",
            do=refused.do,
        ) from None
