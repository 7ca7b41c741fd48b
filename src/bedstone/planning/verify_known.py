"""What the caller of the verifier knows beside the plan: the record, the orders, the clock."""

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from bedstone.mill.contents import Lying
from bedstone.mill.plan import Finding, Run, Verdict
from bedstone.planning.model import OrderToMake

__all__ = ["NOTHING_KNOWN", "Known", "stop"]

AGAIN = "plan the day again, or correct the plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known beside the plan. What is None is not judged.

    ``batches`` names the run of every batch that has begun or was made: they may be missing from
    a plan. ``orders`` are those that runs may be for, each with what of it is left to make,
    ``lots`` those that draws may name, ``last`` what each machine ran last (before any batch of
    the plan), ``now`` the time of asking, ``lying_contents`` what lots of products that go into
    others contain where they lie.
    """

    batches: Mapping[str, str] = field(default_factory=dict)
    orders: Mapping[str, OrderToMake] | None = None
    lots: Collection[str] | None = None
    last: Mapping[str, str] = field(default_factory=dict)
    now: dt.datetime | None = None
    lying_contents: Lying = field(default_factory=dict)

    def has_begun(self, run: Run) -> bool:
        """True when a batch that the run names is on record as one of it."""
        return any(self.batches.get(batch) == run.run for batch in run.batches)


NOTHING_KNOWN = Known()


def stop(
    code: str,
    about: str,
    text: str,
    *,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
    source: str = "the plan itself",
    do: str = AGAIN,
) -> Finding:
    """A finding that says STOP."""
    return Finding(
        code=code,
        verdict=Verdict.STOP,
        about=about,
        text=text,
        value=value,
        limit=limit,
        unit=unit if value is not None else "",
        source=source,
        do=do,
    )
