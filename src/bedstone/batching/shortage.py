"""Findings of a plan's draws: too little on the book, nowhere to draw from, too small to trust."""

from bedstone.batching.instruments import Instrument
from bedstone.batching.model import BatchToDraw
from bedstone.mill.model import Mill
from bedstone.mill.plan import Finding, GrindJob, Verdict
from bedstone.quantities.masses import shown_mass

__all__ = ["nowhere", "short", "too_little", "vanishes"]

MG_KG = 1_000_000


def _about(work: BatchToDraw | GrindJob) -> str:
    return work.batch if isinstance(work, BatchToDraw) else work.job


def short(mill: Mill, work: BatchToDraw | GrindJob, ingredient: str, missing_mg: int) -> Finding:
    """The book holds too little of an ingredient for a batch or a grinding job."""
    shown = shown_mass(missing_mg, units=mill.settings.units)
    name = mill.name_of(ingredient)
    return Finding(
        code="batching.short",
        verdict=Verdict.ACT,
        about=_about(work),
        text=f"{_about(work)} needs {shown} more {name} than the book says is there.",
        value=missing_mg / MG_KG,
        limit=0.0,
        unit="kg",
        source="book stock",
        do=f"look into the bins of {name} and count them, or leave the batch out",
    )


def nowhere(mill: Mill, batch: BatchToDraw, ingredient: str, mass_mg: int) -> Finding:
    """No bin that holds an ingredient can be drawn on a scale or meter of the mixer."""
    shown = shown_mass(mass_mg, units=mill.settings.units)
    name = mill.name_of(ingredient)
    return Finding(
        code="batching.nowhere",
        verdict=Verdict.STOP,
        about=batch.batch,
        text=f"{batch.batch} needs {shown} {name}, but no bin of it feeds a scale, meter or "
        f"hand-add station of {mill.name_of(batch.mixer)}.",
        value=mass_mg / MG_KG,
        unit="kg",
        source="bins, scales and meters of the mill",
        do="put it into a bin that feeds the mixer, or correct the column feeds of the bins",
    )


def too_little(
    mill: Mill, batch: BatchToDraw, ingredient: str, mass_mg: int, tool: Instrument
) -> Finding:
    """A draw lies below the smallest that any instrument can be trusted with."""
    units = mill.settings.units
    return Finding(
        code="batching.too_little",
        verdict=Verdict.ACT,
        about=batch.batch,
        text=f"{batch.batch} needs {shown_mass(mass_mg, units=units)} {mill.name_of(ingredient)}; "
        f"{tool.code} can be trusted from {shown_mass(tool.smallest_mg, units=units)} on.",
        value=mass_mg / MG_KG,
        limit=tool.smallest_mg / MG_KG,
        unit="kg",
        source=f"smallest draw of {tool.code}",
        do="weigh it on a finer scale, or make a premix of it",
    )


def vanishes(mill: Mill, batch: BatchToDraw, ingredient: str, mass_mg: int) -> Finding:
    """A draw lies below half a division of its scale, so that nothing would be weighed."""
    return Finding(
        code="batching.vanishes",
        verdict=Verdict.STOP,
        about=batch.batch,
        text=f"{batch.batch} needs {mass_mg / 1000:g} g {mill.name_of(ingredient)}, less than "
        "half a division of the finest scale it can go over.",
        value=mass_mg / MG_KG,
        unit="kg",
        source="scale division",
        do="make a premix of it, or weigh it on a finer scale",
    )
