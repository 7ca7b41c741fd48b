"""The simulated laboratory: samples of loads and of feed, results with errors some days later."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from bedstone.demo.past.floor import Floor
from bedstone.demo.past.makeup import MOISTURE

__all__ = ["METHODS", "OUTSIDE", "Laboratory", "Method"]

OWN, OUTSIDE = "own laboratory", "Ferris Feed Laboratory"
HOUR = dt.timedelta(hours=1)
EVERY_FULL = 3
RUNS_A_DAY = 2
OPENS_H, SHUTS_H = 7, 16

WHOLE_PCT = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """How a nutrient is measured: error of one result as a part of it and at least, time it takes."""

    name: str
    laboratory: str
    sd_frac: float
    sd_least: float
    takes: dt.timedelta
    places: int


METHODS: Mapping[str, Method] = {
    MOISTURE: Method(
        name="moisture meter",
        laboratory=OWN,
        sd_frac=0.015,
        sd_least=0.15,
        takes=dt.timedelta(minutes=20),
        places=1,
    ),
    "crude protein": Method(
        name="combustion",
        laboratory=OUTSIDE,
        sd_frac=0.012,
        sd_least=0.08,
        takes=50 * HOUR,
        places=2,
    ),
    "crude fat": Method(
        name="ether extract",
        laboratory=OUTSIDE,
        sd_frac=0.03,
        sd_least=0.08,
        takes=50 * HOUR,
        places=2,
    ),
    "crude fibre": Method(
        name="filter bag",
        laboratory=OUTSIDE,
        sd_frac=0.05,
        sd_least=0.15,
        takes=74 * HOUR,
        places=2,
    ),
    "calcium": Method(
        name="titration",
        laboratory=OUTSIDE,
        sd_frac=0.04,
        sd_least=0.01,
        takes=74 * HOUR,
        places=3,
    ),
    "phosphorus": Method(
        name="photometer",
        laboratory=OUTSIDE,
        sd_frac=0.04,
        sd_least=0.01,
        takes=74 * HOUR,
        places=3,
    ),
    "copper": Method(
        name="atomic absorption",
        laboratory=OUTSIDE,
        sd_frac=0.06,
        sd_least=0.5,
        takes=98 * HOUR,
        places=1,
    ),
}
"""Errors and times of methods are invented for the demo."""


@dataclass
class Laboratory:
    """Takes samples and reports; what comes back after the past ends is not on record."""

    floor: Floor
    _reports: int = 0
    _loads: dict[str, int] = field(default_factory=dict)
    _runs: dict[dt.date, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Take dice of its own."""
        self._dice = self.floor.dice_for("laboratory")
        usual = {(row.ingredient, row.nutrient): row for row in self.floor.mill.composition}
        self._units = {key: row.unit for key, row in usual.items()}

    def load(
        self, lot: str, material: str, analysis: Mapping[str, float], *, at: dt.datetime
    ) -> None:
        """A sample of a bulk load: moisture at the door, protein and fat away, the rest at times."""
        number = self._loads[material] = self._loads.get(material, 0) + 1
        wanted = [MOISTURE, "crude protein", "crude fat"]
        if number % EVERY_FULL == 1:
            wanted += ["crude fibre", "calcium", "phosphorus", "copper"]
        self._report(lot, material, analysis, wanted, at=at)

    def run(
        self, run: str, product: str, analysis: Mapping[str, float], *, at: dt.datetime
    ) -> None:
        """A sample of a packed or loaded run, two runs a day, for what its tag guarantees."""
        self.floor.truth.runs[run] = analysis
        day = at.astimezone(self.floor.mill.settings.zone).date()
        if self._runs.get(day, 0) >= RUNS_A_DAY:
            return
        self._runs[day] = self._runs.get(day, 0) + 1
        tag = [row.nutrient for row in self.floor.mill.guarantees if row.product == product]
        self._report(run, product, analysis, [MOISTURE, *tag], at=at)

    def _report(
        self,
        lot: str,
        material: str,
        analysis: Mapping[str, float],
        wanted: Iterable[str],
        *,
        at: dt.datetime,
    ) -> None:
        self._reports += 1
        for nutrient in wanted:
            method = METHODS.get(nutrient)
            if method is None or analysis.get(nutrient, 0.0) <= 0:
                continue
            true = analysis[nutrient]
            sd = max(method.sd_least, method.sd_frac * true)
            value = max(0.0, round(self._dice.gauss(true, sd), method.places))
            back_at = (
                self.in_hours(at + method.takes)
                if method.laboratory == OUTSIDE
                else (at + method.takes)
            )
            self._note(lot, material, nutrient, value=value, sd=sd, at=at, back_at=back_at)

    def in_hours(self, at: dt.datetime) -> dt.datetime:
        """The moment at which a result that is ready is sent: in office hours of a weekday."""
        local = at.astimezone(self.floor.mill.settings.zone)
        if local.hour >= SHUTS_H:
            local = (local + dt.timedelta(days=1)).replace(hour=OPENS_H, minute=5)
        local = local.replace(hour=max(local.hour, OPENS_H))
        while local.weekday() > 4:  # noqa: PLR2004  Friday
            local += dt.timedelta(days=1)
        return local.astimezone(dt.UTC)

    def _note(
        self,
        lot: str,
        material: str,
        nutrient: str,
        *,
        value: float,
        sd: float,
        at: dt.datetime,
        back_at: dt.datetime,
    ) -> None:
        if self.floor.until is not None and back_at >= self.floor.until:
            return
        method = METHODS[nutrient]
        unit = self._units.get((material, nutrient), self._tag_unit(material, nutrient))
        if unit == "%":
            value = min(value, WHOLE_PCT)  # what a laboratory reports of pure oil or salt
        self.floor.note(
            "quality.assayed/1",
            at=back_at,
            by=self.floor.who("laboratory", back_at),
            content={
                "assay": f"A-{self._reports:05d}",
                "nutrient": nutrient,
                "of": material,
                "lot": lot,
                "place": "",
                "value": value,
                "unit": unit,
                "sd": round(sd, 4),
                "method": method.name,
                "laboratory": method.laboratory,
                "sampled_at": at.replace(microsecond=0).strftime("%Y-%m-%dT%H:%M:%SZ"),
                "retained_sample": f"shelf {1 + self._reports % 6}",
            },
        )

    def _tag_unit(self, material: str, nutrient: str) -> str:
        for row in self.floor.mill.guarantees:
            if (row.product, row.nutrient) == (material, nutrient):
                return row.unit
        return "%"
