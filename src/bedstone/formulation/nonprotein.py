"""Nitrogen that is no protein (urea): what the finished feed must say, and what must not be."""

from bedstone.mill.plan import Finding, Verdict

__all__ = ["nonprotein_findings"]

SOURCE = (
    "state feed rules after the model law: Oregon 603-058-0180, Missouri 2 CSR 70-30.070, "
    "Oklahoma 35:30-27-7, West Virginia 61-5-12"
)
CAUTION_PERCENT = 8.75
CAUTION_PART = 1 / 3
OTHERS_PERCENT = 1.25
ROUNDED = 1e-9


def nonprotein_findings(
    product: str, *, crude_protein_percent: float, nonprotein_percent: float, ruminant: bool
) -> tuple[Finding, ...]:
    """What the rules on non-protein nitrogen say of a feed.

    Parameters
    ----------
    product : str
        The product's code.
    crude_protein_percent : float
        Total crude protein of the feed, with what is no protein in it, as fed. [%]
    nonprotein_percent : float
        Crude protein equivalent of the non-protein nitrogen, as fed. [%]
    ruminant : bool
        True for cattle, sheep, goats.

    Returns
    -------
    findings : tuple of Finding
        Empty where nothing is to be done.

    Sources
    -------
    [1] State rules after the model feed law: caution and directions where the equivalent protein
        is above 8.75 % of the feed or above a third of the total; for ruminants only as a source
        of protein; other animals at most 1.25 % of the total daily ration.
    """
    if not ruminant:
        if nonprotein_percent <= OTHERS_PERCENT + ROUNDED:
            return ()
        return (
            Finding(
                code="formulation.nonprotein_nitrogen",
                verdict=Verdict.STOP,
                about=product,
                text=f"{product} is not for ruminants and holds non-protein nitrogen worth "
                f"{nonprotein_percent:g} % protein.",
                value=nonprotein_percent,
                limit=OTHERS_PERCENT,
                unit="%",
                source=SOURCE,
                do="take the urea out; it can kill",
            ),
        )
    part = crude_protein_percent * CAUTION_PART
    limit = min(CAUTION_PERCENT, part)
    if nonprotein_percent <= limit + ROUNDED:
        return ()
    return (
        Finding(
            code="formulation.nonprotein_nitrogen",
            verdict=Verdict.ACT,
            about=product,
            text=f"{product} holds non-protein nitrogen worth {nonprotein_percent:g} % protein, more "
            f"than {'a third of its protein' if part < CAUTION_PERCENT else '8.75 % of the feed'}.",
            value=nonprotein_percent,
            limit=limit,
            unit="%",
            source=SOURCE,
            do="print the caution and the directions for use on the tag",
        ),
    )
