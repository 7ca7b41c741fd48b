"""Who may record what on the pages, by the one table of roles and acts."""

from bedstone.desk.roles import ACTS, who_may
from bedstone.errors import Refused
from bedstone.mill.model import Person

__all__ = ["ACTS", "may", "needs", "who_may"]


def may(person: Person | None, act: str) -> bool:
    """Whether somebody may do an act; nobody signed in may do none."""
    return person is not None and person.role in ACTS[act]


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
