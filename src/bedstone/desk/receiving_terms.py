"""The terms under which a supplier's loads of an ingredient are paid and sampled."""

from bedstone.mill.model import Mill, ReceivingTerms

__all__ = ["SAMPLE_DAYS", "terms_for"]

SAMPLE_DAYS = 180
"""How long a sample is kept where no terms say (common practice, no source)."""


def terms_for(mill: Mill, ingredient: str, firm: str) -> ReceivingTerms | None:
    """The terms of a supplier, else those for all, else none."""
    rows = [one for one in mill.receiving_terms if one.ingredient == ingredient]
    for supplier in (firm, ""):
        for row in rows:
            if row.supplier == supplier:
                return row
    return None
