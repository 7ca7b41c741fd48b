"""Readings of simulated machines, noted as they come and written down once a day."""

import datetime as dt
from dataclasses import dataclass, field

from bedstone.demo.past.floor import Floor
from bedstone.ledger.model import Json
from bedstone.mill.readings import QUANTITIES

__all__ = ["Notebook"]

ROLES = {"bag": "sacker", "tank": "receiver", "mixer": "batch operator"}
"""First word of a quantity to who reads it; else the pellet operator."""
LOGGED = ("mixer load cells",)


@dataclass
class Notebook:
    """One page for each machine and quantity."""

    floor: Floor
    _pages: dict[tuple[str, str], list[tuple[dt.datetime, float, str]]] = field(
        default_factory=dict
    )

    def write(
        self, instrument: str, quantity: str, value: float, *, at: dt.datetime, run: str = ""
    ) -> None:
        """Note a reading."""
        page = self._pages.setdefault((instrument, quantity), [])
        page.append((at.replace(microsecond=0), value, run))

    def close(self, until: dt.datetime) -> None:
        """Write the readings before a moment into the record, one fact a page."""
        for (instrument, quantity), page in sorted(self._pages.items()):
            page.sort(key=lambda row: row[0])
            ready = [row for row in page if row[0] < until]
            self._pages[instrument, quantity] = page[len(ready) :]
            if ready:
                self._fact(instrument, quantity, ready)

    def _fact(
        self, instrument: str, quantity: str, page: list[tuple[dt.datetime, float, str]]
    ) -> None:
        at = page[-1][0]
        role = ROLES.get(quantity.split(maxsplit=1)[0], "pellet operator")
        rows: list[Json] = [
            [when.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ"), value, run or None]
            for when, value, run in page
        ]
        self.floor.note(
            "live.readings_taken/1",
            at=at,
            by=self.floor.who(role, at),
            content={
                "instrument": instrument,
                "quantity": quantity,
                "unit": QUANTITIES[quantity].unit,
                "how": "imported" if quantity in LOGGED else "typed",
                "rows": rows,
            },
        )
