"""The report of a mixer test: samples, spread with its interval, verdict, what to do."""

from bedstone.batching.mixer_test import Uniformity
from bedstone.desk.mixer_view import VERDICT_WORDS, JudgedTest
from bedstone.desk.record import Head
from bedstone.mill.model import Mill
from bedstone.papers.render import Printed, pdf
from bedstone.papers.words import day_words

__all__ = ["mixer_report"]

DEFERRAL = (
    "This report reckons from the samples as they were typed. The law that the feed is made under, the "
    "label of each drug and the nutritionist come first."
)


def mixer_report(row: JudgedTest, mill: Mill, *, head: Head) -> bytes:
    """The report of one mixer test as PDF/A.

    Parameters
    ----------
    row : JudgedTest
        The test and what its samples say.
    mill : Mill
        The mill.
    head : Head
        End of the record that it was read from.

    Returns
    -------
    pdf : bytes
        The paper; equal bytes for equal input.
    """
    test, found = row.test, row.found
    local = test.tested_at.astimezone(mill.settings.zone)
    product = mill.product_by_code.get(test.product)
    person = mill.person_by_code.get(test.by)
    facts = [
        ["Mixer", f"{mill.name_of(test.mixer)} ({test.mixer})"],
        ["Feed", product.name if product else test.product],
        ["Batch", test.batch or "not named"],
        ["Tracer", test.tracer],
        ["Method", test.method],
        ["Mixed for", f"{test.mixing_s:.0f} s"],
        ["By", person.name if person else test.by],
        ["Samples", str(found.samples)],
        ["Mean", f"{found.mean:.4g} {test.unit}"],
        ["Standard deviation", f"{found.sd:.4g} {test.unit}"],
    ]
    return pdf(
        "mixer_report",
        {
            "mill": mill.settings.name,
            "place": mill.settings.place,
            "id": f"Mixer test {test.position}",
            "day": day_words(local.date()),
            "made_at": [local.year, local.month, local.day, local.hour, local.minute, local.second],
            "spread": f"{100 * found.cv_frac:.1f} %",
            "verdict": found.verdict,
            "facts": facts,
            "says": _says(found),
            "unit": test.unit,
            "values": [f"{value:g}" for value in test.values],
            "deferral": DEFERRAL,
            "foot": f"Read from the record at fact {head.position}, {head.head[:12]}",
        },
    )


def _says(found: Uniformity) -> list[Printed]:
    """What the samples say, sentence by sentence."""
    chance = found.poisson_probability
    says: list[Printed] = [
        f"90 % interval {100 * found.cv_lo_frac:.1f} to {100 * found.cv_hi_frac:.1f} %. {VERDICT_WORDS[found.verdict]}",
        f"By its bands the mixer {found.band}. {found.do}",
    ]
    if chance is not None:
        says.append(
            f"Counts at random would be spread by {100 * (found.poisson_cv_frac or 0):.1f} %; so wide a "
            f"spread comes by chance with probability {chance:.2g}."
        )
    says.append(
        f"A rise or fall along the discharge as clear as this: probability {found.trend_probability:.2g}."
    )
    return [*says, *([found.note] if found.note else [])]
