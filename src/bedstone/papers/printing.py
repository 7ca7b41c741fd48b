"""What every paper of a plan shares: the plan, the mill, the journal, and how they are written."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bedstone.batching.divisions import mass_on_scale
from bedstone.desk.plans import PlanStanding
from bedstone.mill.model import Mill
from bedstone.mill.plan import Plan
from bedstone.papers.render import Printed
from bedstone.papers.words import clock_words, day_words

__all__ = ["Printing"]

HEAD_LETTERS = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Printing:
    """What every sheet of a plan shares, and the end of the journal when it is printed.

    ``standing`` is where the plan stands; None prints it as proposed, which is the safe side.
    ``gates`` says by batch and number of its draw how the gate lands, where that is known.
    """

    plan: Plan
    mill: Mill
    head: str
    position: int | None = None
    standing: PlanStanding | None = None
    gates: Mapping[tuple[str, int], str] = field(default_factory=dict)

    def document(self, title: str) -> dict[str, Printed]:
        """What the PDF says of itself, and the paper that the mill's printers hold."""
        name = self.mill.settings.name
        made_at = self.plan.made_at.astimezone(dt.UTC)
        return {
            "paper": "us-letter" if self.units == "US" else "a4",
            "title": f"{name}: {title}",
            "author": name,
            "made_at": list(made_at.timetuple()[:6]),
        }

    @property
    def units(self) -> str:
        """Units of the mill."""
        return self.mill.settings.units

    def mass(self, mass_mg: int, division_mg: int | None = None) -> str:
        """A mass with its unit; to a whole pound or kilogram when no division is given."""
        whole = 453_592 if self.units == "US" else 1_000_000
        return mass_on_scale(mass_mg, division_mg or whole, units=self.units)

    def named(self, code: str) -> str:
        """Name and code of a thing, the code alone when it has no name."""
        name = self.mill.name_of(code)
        return f"{name} ({code})" if name != code else code

    def way(self, codes: Sequence[str]) -> str:
        """A way through the mill."""
        return " → ".join(codes)

    def span(self, start_at: dt.datetime, end_at: dt.datetime) -> str:
        """From one time to another, in the mill's own time."""
        day = self.plan.day
        start, end = (clock_words(at, self.mill, day=day) for at in (start_at, end_at))
        return f"{start} to {end}"

    def released(self) -> str:
        """By whom and when the plan was released; "" while it is only proposed."""
        standing = self.standing
        if standing is None or standing.status != "released" or standing.released_at is None:
            return ""
        at = standing.released_at
        day = day_words(at.astimezone(self.mill.settings.zone).date())
        person = self.mill.person_by_code.get(standing.released_by)
        who = person.name if person is not None else standing.released_by
        return f"Released by {who}, {day}, {clock_words(at, self.mill)}"

    def foot(self) -> str:
        """The foot of each page: what it was printed from."""
        plan = self.plan
        return f"Plan {plan.plan}, tables revision {plan.revision} · Journal {self.journal}"

    @property
    def journal(self) -> str:
        """The end of the journal, as ``bedstone verify --head`` takes it."""
        at = "" if self.position is None else f"{self.position}:"
        return f"{at}{self.head[:HEAD_LETTERS]}"
