"""What the customers of Quillback Mill use to order, for its simulated past."""

from bedstone.demo.past.book import Demand

__all__ = ["DEMANDS", "LEAVE_KG"]

# customer, product, pack, short tons, chance on a full working day
_ROWS: tuple[tuple[str, str, str, tuple[float, ...], float], ...] = (
    ("osselfork", "SWINE-ST", "bulk", (6, 8, 12), 0.95),
    ("nettlegap", "SWINE-ST", "bags", (1, 2, 3), 0.49),
    ("osselfork", "SWINE-GR", "bulk", (8, 12, 14), 0.95),
    ("osselfork", "SOW-14", "bulk", (4, 6), 0.56),
    ("hollin", "LAYER-16", "bulk", (8, 12, 14), 0.95),
    ("quillgap", "LAYER-16", "bags", (1, 2, 3), 0.56),
    ("depot", "PULLET-18", "bags", (1, 2), 0.42),
    ("hollin", "PULLET-18", "bulk", (4, 6), 0.28),
    ("teasel", "BROIL-ST", "bulk", (8, 12), 0.7),
    ("teasel", "BROIL-FIN", "bulk", (8, 12), 0.7),
    ("depot", "BROIL-FIN", "bags", (1, 2), 0.35),
    ("brackenlot", "BEEF-FIN", "bulk", (8, 12, 16), 0.84),
    ("nettlegap", "BEEF-CR", "bags", (2, 4, 6), 0.7),
    ("brackenlot", "BEEF-CR", "bulk", (6, 8), 0.35),
    ("millrace", "DAIRY-18", "bulk", (8, 12), 0.95),
    ("depot", "DAIRY-18", "bags", (1, 2), 0.28),
    ("tanner", "SHEEP-GR", "bulk", (4, 6), 0.56),
    ("depot", "SHEEP-GR", "bags", (1, 2, 4), 0.56),
    ("tanner", "EWE-15", "bulk", (4, 6), 0.42),
    ("highnote", "GOAT-16", "bags", (2, 4), 0.56),
    ("quillgap", "GOAT-16", "bags", (1, 2), 0.42),
    ("ossstables", "HORSE-TX", "bags", (2, 3), 0.7),
    ("depot", "HORSE-TX", "bags", (1, 2), 0.7),
    ("ossstables", "HORSE-PEL", "bags", (2, 3), 0.56),
    ("quillgap", "HORSE-PEL", "bags", (1, 2), 0.56),
    ("nettlegap", "HORSE-SUP", "bags", (1, 2), 0.35),
    ("brindle", "RABBIT-16", "bags", (2, 3), 0.7),
    ("depot", "RABBIT-16", "bags", (1,), 0.42),
)
DEMANDS: tuple[Demand, ...] = tuple(
    Demand(customer=customer, product=product, pack=pack, tons=tons, chance=chance)
    for customer, product, pack, tons, chance in _ROWS
)
LEAVE_KG: dict[str, float] = {"UREA": 136.0}
"""What of a material the past leaves: enough for one of the two feedlot orders, not for both."""
