"""What lay in Quillback Mill when its record began."""

import datetime as dt

from bedstone.mill.model import OpeningStock

__all__ = ["opening_stock"]

POUND_KG = 0.45359237

# bin, material, pounds, supplier, received days before
OPENING: tuple[tuple[str, str, float, str, int], ...] = (
    ("B01", "CORN", 128_000, "harrow", 3),
    ("B02", "BARLEY", 58_000, "fairview", 6),
    ("B03", "OATS", 30_000, "fairview", 9),
    ("B04", "SBM48", 71_000, "coldwater", 2),
    ("B05", "DDGS", 33_000, "dunmore", 4),
    ("B06", "MIDDS", 41_000, "dunmore", 3),
    ("B07", "SOYHULL", 29_000, "coldwater", 5),
    ("B08", "BEETPULP", 20_000, "dunmore", 11),
    ("B09", "ALFALFA", 22_500, "fairview", 8),
    ("B10", "LIME", 21_000, "stonebank", 7),
    ("B11", "SALT", 11_000, "stonebank", 12),
    ("B12", "DICAL", 11_500, "stonebank", 10),
    ("G01", "CORN-G", 22_000, "", 1),
    ("G02", "BARLEY-G", 15_000, "", 1),
    ("G03", "CORN-R", 14_000, "", 1),
    ("G04", "OATS-R", 6_500, "", 1),
    ("T01", "MOLASSES", 34_000, "sweetgum", 5),
    ("T02", "SOYOIL", 21_000, "coldwater", 6),
    ("FB8", "HORSE-SUP", 4_200, "", 2),
    ("FLOOR", "UREA", 300, "stonebank", 15),
    ("FLOOR", "VTM-SW", 800, "merlin", 13),
    ("FLOOR", "VTM-P", 800, "merlin", 13),
    ("FLOOR", "VTM-R", 800, "merlin", 13),
    ("FLOOR", "VTM-S", 500, "merlin", 13),
    ("FLOOR", "VTM-H", 800, "merlin", 13),
    ("FLOOR", "LYS", 900, "merlin", 16),
    ("FLOOR", "MET", 500, "merlin", 16),
    ("FLOOR", "CUSO4", 250, "merlin", 20),
    ("FLOOR", "MON-A", 65, "wexford", 24),
    ("FLOOR", "SAL-A", 60, "wexford", 18),
)


def opening_stock(first: dt.date, *, zone: dt.tzinfo) -> tuple[OpeningStock, ...]:
    """Stock on the evening before ``first``, lot by lot; a ground grain's lot is its grind."""
    rows = []
    for place, material, pounds, supplier, before in OPENING:
        day = first - dt.timedelta(days=before)
        local = dt.datetime.combine(day, dt.time(9, 40), zone)
        rows.append(
            OpeningStock(
                place=place,
                material=material,
                lot=f"L-{day:%m%d}-{material}",
                mass_kg=pounds * POUND_KG,
                received_at=local.astimezone(dt.UTC),
                supplier=supplier,
            )
        )
    return tuple(rows)
