"""What lay in Quillback Mill when its record began."""

import datetime as dt

from bedstone.mill.model import OpeningStock

__all__ = ["opening_stock"]

POUND_KG = 0.45359237

# bin, material, pounds, supplier, received days before
OPENING: tuple[tuple[str, str, float, str, int], ...] = (
    ("B01", "CORN", 128_000, "harrow", 3),
    ("B02", "BARLEY", 58_000, "upperferris", 6),
    ("B03", "OATS", 30_000, "upperferris", 9),
    ("B04", "SBM48", 71_000, "ferriscrush", 2),
    ("B05", "DDGS", 33_000, "elevatorrow", 4),
    ("B06", "MIDDS", 41_000, "elevatorrow", 3),
    ("B07", "SOYHULL", 29_000, "ferriscrush", 5),
    ("B08", "BEETPULP", 20_000, "elevatorrow", 11),
    ("B09", "ALFALFA", 22_500, "upperferris", 8),
    ("B10", "LIME", 21_000, "quarryroad", 7),
    ("B11", "SALT", 11_000, "quarryroad", 12),
    ("B12", "DICAL", 11_500, "quarryroad", 10),
    ("G01", "CORN-G", 22_000, "", 1),
    ("G02", "BARLEY-G", 15_000, "", 1),
    ("G03", "CORN-R", 14_000, "", 1),
    ("G04", "OATS-R", 6_500, "", 1),
    ("T01", "MOLASSES", 34_000, "sweetlanding", 5),
    ("T02", "SOYOIL", 21_000, "ferriscrush", 6),
    ("FB8", "HORSE-SUP", 4_200, "", 2),
    ("FLOOR", "UREA", 300, "quarryroad", 15),
    ("FLOOR", "VTM-SW", 800, "tannow", 13),
    ("FLOOR", "VTM-P", 800, "tannow", 13),
    ("FLOOR", "VTM-R", 800, "tannow", 13),
    ("FLOOR", "VTM-S", 500, "tannow", 13),
    ("FLOOR", "VTM-H", 800, "tannow", 13),
    ("FLOOR", "LYS", 900, "tannow", 16),
    ("FLOOR", "MET", 500, "tannow", 16),
    ("FLOOR", "CUSO4", 250, "tannow", 20),
    ("FLOOR", "MON-A", 65, "quillbarn", 24),
    ("FLOOR", "SAL-A", 60, "quillbarn", 18),
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
