"""Why a flush, a clean-out or an order left out: sentences with number, limit and source."""

from bedstone.mill.model import Mill
from bedstone.planning.between import Breach, Treatment
from bedstone.planning.evaluate import Step
from bedstone.planning.floor import DoesNotFit, Floor
from bedstone.planning.jobs import Job
from bedstone.planning.words import amount_text, mass_text, place_text, short_number
from bedstone.quantities.times import shown_minutes

__all__ = ["fate_of_flush", "reason_of", "why_left_out"]

FIRST_SACKS = 3
MG_KG_PER_CENT = 10_000


def reason_of(mill: Mill, job: Job, treatment: Treatment) -> str:
    """Why a flush or a clean-out is there, and what it is."""
    because = "; ".join(_breach_text(mill, job, breach) for breach in treatment.breaches)
    if treatment.clean:
        places = ", ".join(treatment.clean)
        return f"{because}: clean out {places} by hand first"
    total = mass_text(mill, sum(treatment.flush_kg))
    material = mill.name_of(mill.settings.flush_material).lower()
    flush_bin = mill.settings.flush_bin
    where = place_text(mill, flush_bin) if flush_bin else "no bin: name one in mill.toml"
    return f"{because}: {total} {material} first, which goes to {where}"


def fate_of_flush(mill: Mill, treatment: Treatment) -> str:
    """What becomes of a flush."""
    names = dict.fromkeys(
        mill.substance_by_code[breach.limit.substance].name.lower() for breach in treatment.breaches
    )
    return (
        f"{place_text(mill, mill.settings.flush_bin)}: it has taken up {' and '.join(names)}; mark it, "
        "keep it apart, and use it only where that is allowed (21 CFR 225.65(b)(2))"
    )


def _breach_text(mill: Mill, job: Job, breach: Breach) -> str:
    limit, product = breach.limit, job.product.name
    substance = mill.substance_by_code[limit.substance].name.lower()
    left_by = mill.name_of(breach.left_by) if breach.left_by else "what ran before"
    if not breach.known:
        left_by = f"{left_by}, the worst the mill handles, as the record is silent"
    if limit.kind == "level":
        own = job.own.get(limit.substance, 0.0)
        sacks = "the first sacks" if breach.sack < FIRST_SACKS else f"sack {breach.sack + 1}"
        carried = amount_text(mill, limit.substance, breach.value - own)
        level = _bare(mill, limit.substance, limit.level_mg_kg or 0.0)
        return (
            f"{sacks} would carry {carried} of {substance} (from {left_by}) beyond the feed's own "
            f"{_bare(mill, limit.substance, own)}; the limit of {product} is {level} "
            f"({limit.source})"
        )
    if limit.kind == "procedure":
        passed = mass_text(mill, breach.value) if breach.value > 0 else "nothing"
        wanted = mass_text(mill, limit.flush_kg or 0.0)
        return (
            f"{breach.place} has run {substance} ({left_by}) and {passed} has passed since; "
            f"{wanted} must pass before {product} ({limit.source})"
        )
    return (
        f"{breach.place} has run {substance} ({left_by}) and has not been cleaned out since, as it "
        f"must be before {product} ({limit.source})"
    )


def _bare(mill: Mill, substance: str, content_mg_kg: float) -> str:
    """An amount without its unit, where the unit has just been said."""
    row = mill.substance_by_code.get(substance)
    if row is not None and row.unit_shown == "%":
        return f"{short_number(content_mg_kg / MG_KG_PER_CENT)} %"
    return short_number(content_mg_kg)


def why_left_out(floor: Floor, step: Step, job: Job, reason: DoesNotFit) -> tuple[str, str]:
    """(because, sentence with numbers) for an order that found no place in the day."""
    mill = floor.mill
    option = job.options[0]
    if reason.because == "hand":
        return "hand", "taken out of the day by hand"
    if reason.because == "time":
        return "time", _time_text(floor, step, job, reason.about)
    if reason.because == "bin":
        batch = mass_text(mill, option.masses_kg[0])
        bins = ", ".join(
            f"{code} ({mass_text(mill, mill.bin_by_code[code].capacity_kg)}{_lying(mill, step, code)})"
            for code in reason.about.split()
            if code in mill.bin_by_code
        )
        return "bin", f"no bin on its way takes batches of {batch}: {bins}"
    if reason.because == "stock":
        lying = step.state.supply.get(reason.about, ((0.0, 0),))[-1][0]
        left = max(0.0, lying - step.state.drawn_kg.get(reason.about, 0.0))
        material = floor.work.shelves.material(reason.about)
        text = (
            f"of {mill.name_of(material)} only {mass_text(mill, left)} is left after the other "
            f"runs; it needs {mass_text(mill, job.needs.get(material, 0.0))}"
        )
        return "stock", text
    sources = "; ".join(dict.fromkeys(limit.source for limit in job.limits))
    return (
        "never",
        (
            f"neither a flush nor a clean-out makes {reason.about} fit for {job.product.name} "
            f"({sources})"
        ),
    )


def _lying(mill: Mill, step: Step, code: str) -> str:
    product, mass_kg = step.state.lying.get(code, ("", 0.0))
    return f", holds {mass_text(mill, mass_kg)} {mill.name_of(product)}" if mass_kg > 0 else ""


def _time_text(floor: Floor, step: Step, job: Job, machine: str) -> str:
    mill = floor.mill
    windows = floor.windows(machine)
    if not windows.spans:
        return f"{machine} has no shift left today"
    free_s = step.state.free_s.get(machine, 0)
    left_s = sum(end - start for start, end in windows.parts(free_s, windows.spans[-1][1]))
    option = next((row for row in job.options if row.mixer == machine), None)
    if option is not None:
        needs_s: float = option.cut.batches * (option.proc_s + option.discharge_s)
    else:
        row = mill.machine_by_code[machine]
        rates = [
            item.rate_kg_s
            for item in mill.rates
            if item.product == job.product.product and item.machine == machine
        ]
        rate_kg_s = max(rates, default=row.rate_kg_s or 0.0)
        if rates and rate_kg_s <= 0:
            return (
                f"in no hour of this day's air does the cooler of {place_text(mill, machine)} get "
                f"{job.product.name} cool and dry enough: make it in cooler or drier air"
            )
        if rate_kg_s <= 0:
            return (
                f"{place_text(mill, machine)} has no rate, neither of its own nor for "
                f"{job.product.name}: give it one in the machines or the rates table"
            )
        needs_s = sum(job.options[0].masses_kg) / rate_kg_s
    return (
        f"needs {shown_minutes(needs_s)} on {place_text(mill, machine)} besides what comes "
        f"before and after it; {shown_minutes(left_s)} of its shifts today is left"
    )
