"""Numbers, times and money as the mill reads them: its own units and its own time."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

from bedstone.mill.model import Mill
from bedstone.mill.plan import BECAUSE, Batch
from bedstone.quantities.masses import shown_mass
from bedstone.quantities.times import shown_minutes, shown_span
from bedstone.quantities.units import DIMENSIONS, LB_KG, from_si

__all__ = ["Show"]

MG_IN_KG = 1_000_000
FINEST = 10_000
"""A division is a whole number of ten-thousandths of its unit; milligrams cannot say it finer."""
CENTS100_IN_USD = 10_000


@dataclass(frozen=True, kw_only=True)
class Show:
    """How a mill wants things shown."""

    us: bool
    zone: dt.tzinfo
    mill: Mill | None

    @classmethod
    def of(cls, mill: Mill | None) -> "Show":
        """What a mill's settings ask for; SI and UTC while there is none."""
        if mill is None:
            return cls(us=False, zone=dt.UTC, mill=None)
        return cls(
            us=mill.settings.units == "US", zone=ZoneInfo(mill.settings.time_zone), mill=mill
        )

    @property
    def units(self) -> str:
        """The mill's system of units, "SI" or "US"."""
        return "US" if self.us else "SI"

    @property
    def mass_unit(self) -> str:
        """The unit that masses are shown and typed in."""
        return "lb" if self.us else "kg"

    def mass(self, mass_mg: int | None) -> str:
        """A mass with no more figures than help."""
        return "not known" if mass_mg is None else shown_mass(mass_mg, units=self.units)

    def batch_mass(self, batch: Batch) -> str:
        """The mass of a batch as its sheet has it: the sum of its draws."""
        return self.mass(sum(draw.target_mg for draw in batch.draws) or batch.mass_mg)

    def way(self, batch: Batch) -> str:
        """The way of a batch, and the bin that it ends in where the way does not say so."""
        into = "" if batch.destination in batch.route else f", into {batch.destination}"
        return " → ".join(batch.route) + into

    def _step(self, division_mg: int) -> Fraction:
        """A scale's division in the mill's unit; nought if it has none."""
        exact = Fraction(division_mg, MG_IN_KG) / self._unit_kg
        return exact.limit_denominator(FINEST)

    @property
    def _unit_kg(self) -> Fraction:
        return LB_KG if self.us else Fraction(1)

    def _in_steps(self, mass_mg: int, step: Fraction) -> str:
        if not step:
            return shown_mass(mass_mg, units=self.units)
        return shown_mass(mass_mg, units=self.units, division_kg=float(step * self._unit_kg))

    def mass_fine(self, mass_mg: int, division_mg: int = 0) -> str:
        """A mass to the places that a scale's division has."""
        return self._in_steps(mass_mg, self._step(division_mg))

    def mass_near(self, mass_mg: int, division_mg: int) -> str:
        """A mass to the places that a tenth of a scale's division has."""
        return self._in_steps(mass_mg, self._step(division_mg) / 10)

    def mass_read(self, mass_mg: int, division_mg: int) -> str:
        """A mass as it was read: to the scale's division, finer where it was read finer."""
        step = self._step(division_mg)
        for finer in (1, 10, 100):
            part_mg = step / finer * self._unit_kg * MG_IN_KG
            if not step or abs(mass_mg - round(mass_mg / part_mg) * part_mg) < 1:
                return self._in_steps(mass_mg, step / finer)
        return self._in_steps(mass_mg, step / 100)

    def clock(self, moment_at: dt.datetime | None) -> str:
        """The hour and minute at the mill."""
        return "" if moment_at is None else f"{moment_at.astimezone(self.zone):%H:%M}"

    def moment(self, moment_at: dt.datetime | None) -> str:
        """Day and time at the mill."""
        if moment_at is None:
            return ""
        local = moment_at.astimezone(self.zone)
        return f"{local:%a} {local.day} {local:%b %Y, %H:%M}"

    def date(self, moment_at: dt.datetime) -> str:
        """The day of a moment at the mill."""
        local = moment_at.astimezone(self.zone)
        return f"{local.day} {local:%b %Y}"

    def when(self, moment_at: dt.datetime | None, day: dt.date) -> str:
        """The time of a moment on that day; with its weekday and date when it is another day."""
        if moment_at is None:
            return ""
        local = moment_at.astimezone(self.zone)
        clock = f"{local:%H:%M}"
        return clock if local.date() == day else f"{local:%a} {local.day} {local:%b}, {clock}"

    def due(self, moment_at: dt.datetime, today: dt.date) -> str:
        """A moment as people say when something is wanted."""
        words = self.when(moment_at, today)
        return f"today, {words}" if words == self.clock(moment_at) else words

    def day(self, day: dt.date) -> str:
        """A day with its name."""
        return f"{day:%A} {day.day} {day:%B %Y}"

    def short_day(self, day: dt.date) -> str:
        """A day in a list of them."""
        return f"{day:%a} {day.day} {day:%b}"

    def form_moment(self, moment_at: dt.datetime | None) -> str:
        """A moment as a form's field takes it, in the mill's time."""
        return "" if moment_at is None else f"{moment_at.astimezone(self.zone):%Y-%m-%dT%H:%M}"

    def money(self, cents100: int) -> str:
        """Hundredths of a cent as dollars and cents."""
        sign = "-" if cents100 < 0 else ""
        return f"{sign}${Decimal(abs(cents100)) / CENTS100_IN_USD:,.2f}"

    @property
    def ton(self) -> str:
        """The ton that prices are of."""
        return "ton" if self.us else "t"

    def price(self, usd_t: float | None, *, signed: bool = False) -> str:
        """A price of a ton in dollars and cents; a dash where there is none."""
        if usd_t is None:
            return "–"
        value = float(from_si(usd_t, DIMENSIONS["usd_t"].written(self.units)))
        sign = "-" if value < 0 else "+" if signed else ""
        return f"{sign}${abs(value):,.2f}"

    def span(self, seconds: float) -> str:
        """A length of time in words."""
        return shown_span(seconds)

    def minutes(self, seconds: float) -> str:
        """A length of time of which seconds say nothing."""
        return shown_minutes(seconds)

    def _one(self, value: float, suffix: str, us: str, si: str) -> str:
        unit = DIMENSIONS[suffix].units[us if self.us else si]
        number = float(from_si(value, unit))
        places = 0 if abs(number) >= 100 else 1 if abs(number) >= 10 else 2  # noqa: PLR2004 - three figures are enough
        return f"{number:,.{places}f} {unit.label}"

    def liquid(self, volume_m3: float) -> str:
        """A volume of a liquid."""
        return self._one(volume_m3, "m3", "gal", "m3")

    def space(self, volume_m3: float) -> str:
        """A volume of something dry."""
        return self._one(volume_m3, "m3", "ft3", "m3")

    def length(self, length_m: float) -> str:
        """A length of some feet or metres."""
        return self._one(length_m, "m", "ft", "m")

    def density(self, density_kg_m3: float) -> str:
        """A density."""
        return self._one(density_kg_m3, "kg_m3", "lb_ft3", "kg_m3")

    def warmth(self, temperature_c: float) -> str:
        """A temperature to a whole degree."""
        return f"{1.8 * temperature_c + 32:.0f} °F" if self.us else f"{temperature_c:.0f} °C"

    def share(self, part_frac: float) -> str:
        """A part of the whole in per cent."""
        return f"{part_frac * 100:.0f} %"

    def name(self, code: str) -> str:
        """What people call a code."""
        if self.mill is None:
            return code
        head, _, rest = code.partition("/")
        if rest and head in ("supplier", "customer"):
            return f"{self.mill.name_of(rest)} ({head})"
        if ">" in code:
            start, _, end = code.partition(">")
            return f"way from {self.name(start)} to {self.name(end)}"
        return self.mill.name_of(code)

    def because(self, code: str) -> str:
        """Why an order is left out of a plan."""
        return BECAUSE[code]

    def unit(self, unit: str) -> str:
        """A unit as people write it: degrees with their sign."""
        return {"F": "°F", "C": "°C"}.get(unit, unit)

    def substance(self, code: str) -> str:
        """What a substance is called."""
        row = self.mill.substance_by_code.get(code) if self.mill else None
        return row.name if row else code

    def content(self, concentration_mg_kg: float, substance: str = "") -> str:
        """A concentration in the unit its substance is shown in."""
        row = self.mill.substance_by_code.get(substance) if self.mill else None
        if row is not None and row.unit_shown == "%":
            return f"{concentration_mg_kg / 10_000:.3g} %"
        if concentration_mg_kg >= 100:  # noqa: PLR2004 - three figures are enough
            return f"{concentration_mg_kg:,.0f} mg/kg"
        return f"{concentration_mg_kg:.3g} mg/kg"

    def person(self, code: str) -> str:
        """Who a code is."""
        row = self.mill.person_by_code.get(code) if self.mill else None
        if row is None:
            return code
        return row.name
