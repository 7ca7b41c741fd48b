"""Where and how often a carrier is probed for a sample."""

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources

__all__ = ["CARRIERS", "ProbePlan", "probe_plan"]

CARRIERS = ("truck", "hopper rail car", "tote", "tanker")


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbePlan:
    """Number and places of probes: parts of length and width from 0 to 1 (depth for a tanker)."""

    carrier: str
    points: tuple[tuple[float, float], ...]
    least_kg: float
    of: str
    source: str


@cache
def _rows() -> dict[str, dict[str, str]]:
    text = resources.files("bedstone.receiving").joinpath("data/probe_plans.csv").read_text()
    lines = (line for line in text.splitlines() if not line.startswith("#"))
    return {row["carrier"]: row for row in csv.DictReader(lines)}


def probe_plan(carrier: str, *, units: int | None = None) -> ProbePlan:
    """The plan for a carrier.

    Parameters
    ----------
    carrier : str
        One of ``CARRIERS``.
    units : int, optional
        Number of totes or bags; all of them are sampled when there are ten or fewer.

    Returns
    -------
    plan : ProbePlan
        Evenly spaced places, in a zigzag from side to side.

    Raises
    ------
    ValueError
        If there is no plan for such a carrier.

    Sources
    -------
    [1] The rows of ``data/probe_plans.csv``, each with its own.
    """
    row = _rows().get(carrier)
    if row is None:
        msg = f"no plan for a carrier {carrier!r}"
        raise ValueError(msg)
    count = int(row["probes"])
    if carrier == "tote" and units is not None:
        count = max(1, min(count, units))
    if carrier == "tanker":
        points = tuple((0.5, (at + 0.5) / count) for at in range(count))
    else:
        sides = (0.25, 0.75) if carrier == "hopper rail car" else (0.2, 0.5, 0.8, 0.5)
        points = tuple(((at + 0.5) / count, sides[at % len(sides)]) for at in range(count))
    return ProbePlan(
        carrier=carrier, points=points, least_kg=float(row["least_kg"]), of=row["unit"],
        source=row["source"],
    )  # fmt: skip
