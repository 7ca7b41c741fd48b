"""What the customers of Quillback Mill use to order, for its simulated past."""

from bedstone.demo.past.book import Demand

__all__ = ["DEMANDS", "LEAVE_KG"]

# customer, product, pack, short tons, chance on a full working day
_ROWS: tuple[tuple[str, str, str, tuple[float, ...], float], ...] = (
    ("oakfork", "SWINE-ST", "bulk", (6, 8, 12), 0.95),
    ("crossroads", "SWINE-ST", "bags", (1, 2, 3), 0.49),
    ("oakfork", "SWINE-GR", "bulk", (8, 12, 14), 0.95),
    ("oakfork", "SOW-14", "bulk", (4, 6), 0.56),
    ("sunrise", "LAYER-16", "bulk", (8, 12, 14), 0.95),
    ("cedar", "LAYER-16", "bags", (1, 2, 3), 0.56),
    ("redbarn", "PULLET-18", "bags", (1, 2), 0.42),
    ("sunrise", "PULLET-18", "bulk", (4, 6), 0.28),
    ("bluestem", "BROIL-ST", "bulk", (8, 12), 0.7),
    ("bluestem", "BROIL-FIN", "bulk", (8, 12), 0.7),
    ("redbarn", "BROIL-FIN", "bags", (1, 2), 0.35),
    ("lazyk", "BEEF-FIN", "bulk", (8, 12, 16), 0.84),
    ("crossroads", "BEEF-CR", "bags", (2, 4, 6), 0.7),
    ("lazyk", "BEEF-CR", "bulk", (6, 8), 0.35),
    ("millcreek", "DAIRY-18", "bulk", (8, 12), 0.95),
    ("redbarn", "DAIRY-18", "bags", (1, 2), 0.28),
    ("tanner", "SHEEP-GR", "bulk", (4, 6), 0.56),
    ("redbarn", "SHEEP-GR", "bags", (1, 2, 4), 0.56),
    ("tanner", "EWE-15", "bulk", (4, 6), 0.42),
    ("highnote", "GOAT-16", "bags", (2, 4), 0.56),
    ("cedar", "GOAT-16", "bags", (1, 2), 0.42),
    ("willow", "HORSE-TX", "bags", (2, 3), 0.7),
    ("redbarn", "HORSE-TX", "bags", (1, 2), 0.7),
    ("willow", "HORSE-PEL", "bags", (2, 3), 0.56),
    ("cedar", "HORSE-PEL", "bags", (1, 2), 0.56),
    ("crossroads", "HORSE-SUP", "bags", (1, 2), 0.35),
    ("brindle", "RABBIT-16", "bags", (2, 3), 0.7),
    ("redbarn", "RABBIT-16", "bags", (1,), 0.42),
)
DEMANDS: tuple[Demand, ...] = tuple(
    Demand(customer=customer, product=product, pack=pack, tons=tons, chance=chance)
    for customer, product, pack, tons, chance in _ROWS
)
LEAVE_KG: dict[str, float] = {"UREA": 136.0}
"""What of a material the past leaves: enough for one of the two feedlot orders, not for both."""
