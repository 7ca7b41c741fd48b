"""Two windows at once without loss: an act goes through unless somebody touched the same thing."""

from collections.abc import Callable
from typing import TypeVar

from bedstone.errors import Conflict
from bedstone.ledger.model import Recorded
from bedstone.web.fact_words import fact_words
from bedstone.web.guard import Posted
from bedstone.web.site import Site

__all__ = ["carefully", "is_about"]

Outcome = TypeVar("Outcome")


def carefully(
    site: Site,
    posted: Posted,
    *,
    same: Callable[[Recorded], bool],
    act: Callable[[], Outcome],
) -> Outcome:
    """What an act gives, if nobody touched the same thing since the form was read.

    Facts that others recorded since count only if they are about the same thing: then nothing is
    written and the person, who sees both, decides anew.

    Raises
    ------
    Conflict
        If somebody recorded something about the same thing since the form was read.
    """
    if posted.after is not None:
        news = [one for one in site.record.facts(after=posted.after) if same(one)]
        if news:
            words = "; ".join(fact_words(one, site) for one in news[-3:])
            raise Conflict(
                "Somebody recorded this while your page was open; nothing of yours was written.",
                seen=words,
                do="compare it with what you typed, which is still below, and send it again if "
                "yours is right",
            )
    return act()


def is_about(**wanted: str) -> Callable[[Recorded], bool]:
    """A test for facts whose content has one of these values under its name."""

    def test(one: Recorded) -> bool:
        return any(one.fact.content.get(name) == value for name, value in wanted.items())

    return test
