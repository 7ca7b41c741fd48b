"""What heat truly left of live additives in the feed of runs, as a laboratory finds it in some.

The true loss is invented for the demo: somewhat less than the table of heat-sensitive additives
would have it, so that the mill's own assays have something to say.
"""

import datetime as dt
import math
from collections.abc import Mapping, Sequence

from bedstone.demo.past.floor import Floor
from bedstone.demo.past.laboratory import OUTSIDE, Laboratory
from bedstone.mill.model import HeatSensitive

__all__ = ["LiveAdditives"]

TRUE_D_FRAC = 1.25
"""True D as a part of the table's."""
SAME_LOSS_S = 150.0
"""Seconds at the conditioner's temperature that cost as much as the whole way."""
ASSAY_CV = 0.12
EVERY = 2
TAKES = dt.timedelta(hours=96)


class LiveAdditives:
    """The additives that heat harms, with dice and reports of their own."""

    def __init__(self, floor: Floor, laboratory: Laboratory) -> None:
        """Know which nutrients they are, and which tags guarantee them."""
        self._floor, self._laboratory = floor, laboratory
        self._dice = floor.dice_for("live additives")
        self._rows: dict[str, HeatSensitive] = {}
        for row in floor.mill.heat_sensitive:
            if row.nutrient:
                self._rows.setdefault(row.nutrient, row)
        self._tags = {(row.product, row.nutrient): row.unit for row in floor.mill.guarantees}
        self._reports = 0
        self._runs: dict[str, int] = {}

    def after_heat(self, analysis: Mapping[str, float], hot_c: Sequence[float]) -> dict[str, float]:
        """A run's analysis with what heat took of them."""
        mean_c = sum(hot_c) / len(hot_c)
        left = dict(analysis)
        for nutrient, row in self._rows.items():
            d_s = TRUE_D_FRAC * row.d_s * 10 ** ((row.at_c - mean_c) / row.z_dk)
            left[nutrient] = analysis.get(nutrient, 0.0) * 10 ** -(SAME_LOSS_S / d_s)
        return left

    def sampled(
        self, run: str, product: str, analysis: Mapping[str, float], *, at: dt.datetime
    ) -> None:
        """A sample of every other run whose tag guarantees one, to a laboratory away."""
        for nutrient in self._rows:
            unit = self._tags.get((product, nutrient))
            if unit is None or analysis[nutrient] <= 0:
                continue
            number = self._runs[product] = self._runs.get(product, 0) + 1
            value = analysis[nutrient] * math.exp(self._dice.gauss(0, ASSAY_CV))
            if number % EVERY == 1:
                self._report(run, product, nutrient, float(f"{value:.3g}"), unit, at=at)

    def _report(
        self, run: str, product: str, nutrient: str, value: float, unit: str, *, at: dt.datetime
    ) -> None:
        back_at = self._laboratory.in_hours(at + TAKES)
        if self._floor.until is not None and back_at >= self._floor.until:
            return
        self._reports += 1
        self._floor.note(
            "quality.assayed/1",
            at=back_at,
            by=self._floor.who("laboratory", back_at),
            content={
                "assay": f"LV-{self._reports:04d}",
                "nutrient": nutrient,
                "of": product,
                "lot": run,
                "place": "",
                "value": value,
                "unit": unit,
                "sd": float(f"{ASSAY_CV * value:.2g}"),
                "method": "plate count" if "CFU" in unit else "chromatography",
                "laboratory": OUTSIDE,
                "sampled_at": at.replace(microsecond=0).strftime("%Y-%m-%dT%H:%M:%SZ"),
                "retained_sample": "",
            },
        )
