"""Orders that Quillback Mill has on its board for one day."""

import datetime as dt

from bedstone.mill.model import Mill, Order

__all__ = ["orders_for"]

SHORT_TON_KG = 907.18474

# number, customer, product, short tons, pack, due (mill's time), entered days before, note
TODAY: tuple[tuple[str, str, str, float, str, str, int, str], ...] = (
    ("4101", "osselfork", "SWINE-ST", 12, "bulk", "12:00", 2, "truck waits from eleven"),
    ("4102", "depot", "SHEEP-GR", 4, "bags", "13:00", 4, ""),
    ("4103", "millrace", "DAIRY-18", 12, "bulk", "10:00", 2, "silo will be empty by noon"),
    ("4104", "hollin", "LAYER-16", 12, "bulk", "09:00", 3, ""),
    ("4105", "teasel", "BROIL-ST", 12, "bulk", "20:30", 3, "chicks come tomorrow"),
    ("4106", "tanner", "EWE-15", 6, "bulk", "17:00", 1, ""),
    ("4107", "tanner", "SHEEP-GR", 6, "bulk", "16:00", 1, ""),
    ("4108", "brackenlot", "BEEF-FIN", 16, "bulk", "15:00", 2, ""),
    ("4109", "quillgap", "LAYER-16", 2, "bags", "12:00", 4, ""),
    ("4110", "quillgap", "GOAT-16", 2, "bags", "18:00", 4, ""),
    ("4111", "highnote", "GOAT-16", 4, "bags", "16:00", 3, ""),
    ("4112", "osselfork", "SWINE-GR", 8, "bulk", "19:00", 2, ""),
    ("4113", "nettlegap", "BEEF-CR", 6, "bags", "20:00", 5, ""),
    ("4114", "depot", "PULLET-18", 2, "bags", "16:30", 4, ""),
    ("4115", "teasel", "BROIL-FIN", 8, "bulk", "18:30", 3, ""),
    ("4116", "nettlegap", "SWINE-ST", 2, "bags", "15:00", 5, ""),
    ("4117", "osselfork", "SOW-14", 4, "bulk", "21:00", 2, ""),
    ("4118", "ossstables", "HORSE-TX", 3, "bags", "10:30", 2, ""),
    ("4119", "ossstables", "HORSE-PEL", 3, "bags", "14:00", 2, "horse that must not have corn"),
    ("4120", "depot", "HORSE-TX", 2, "bags", "16:00", 4, ""),
    ("4121", "quillgap", "HORSE-PEL", 2, "bags", "12:30", 4, ""),
    ("4122", "brindle", "RABBIT-16", 3, "bags", "18:00", 3, ""),
    ("4123", "depot", "RABBIT-16", 1, "bags", "11:00", 4, ""),
    ("4124", "nettlegap", "HORSE-SUP", 2, "bags", "19:00", 5, ""),
    ("4125", "quillgap", "HORSE-TX", 0.9, "bags", "20:00", 1, ""),
    ("4126", "nettlegap", "HORSE-PEL", 4, "bulk", "17:00", 1, "asks for it loose this time"),
    ("4127", "brackenlot", "BEEF-FIN", 12, "bulk", "21:30", 1, "if the urea has come"),
)


def orders_for(day: dt.date, *, mill: Mill) -> tuple[Order, ...]:
    """The orders to be ready on ``day``, as they came in over the days before it."""
    zone = mill.settings.zone
    return tuple(
        Order(
            order=number,
            customer=customer,
            product=product,
            mass_kg=tons * SHORT_TON_KG,
            pack=pack,
            entered_at=_local(day - dt.timedelta(days=before), f"{8 + place % 9:02d}:20", zone),
            due_at=_local(day, due, zone),
            note=note,
        )
        for place, (number, customer, product, tons, pack, due, before, note) in enumerate(TODAY)
    )


def _local(day: dt.date, clock: str, zone: dt.tzinfo) -> dt.datetime:
    local = dt.datetime.combine(day, dt.time.fromisoformat(clock), zone)
    return local.astimezone(dt.UTC)
