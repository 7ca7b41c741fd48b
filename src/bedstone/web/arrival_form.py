"""What is typed step by step about a load at the gate, as one arrival."""

from collections.abc import Mapping

from babel.numbers import NumberFormatError, parse_decimal

from bedstone.desk.arrival_row import LOOKS, Arrival, TestValue
from bedstone.errors import BadInput
from bedstone.mill.model import Mill, Specification
from bedstone.receiving.toxins import TOXINS
from bedstone.web.show import Show
from bedstone.web.typed import typed_mass

__all__ = ["FIELDS", "STEPS", "arrival_of", "tests_asked"]

STEPS = ("Load", "Carrier", "Sample", "Weight", "Answer")
FIELDS: Mapping[int, tuple[str, ...]] = {
    1: ("firm", "ingredient", "ticket", "lot", "carrier_kind", "carrier", "vehicle"),
    2: ("cargo1", "cargo2", "cargo3", "cleaned", "wash_ticket", "seals", "papers"),
    3: ("odour", "insects", "foreign"),  # and test:NAME
    4: ("weighbridge", "gross", "tare"),
}
"""What each step asks; every other field is carried along unseen."""
LONGEST = 12


def tests_asked(mill: Mill, ingredient: str) -> tuple[tuple[str, str, Specification | None], ...]:
    """Tests of an ingredient with their units: what its specification names, then toxins."""
    specs = [row for row in mill.specifications if row.ingredient == ingredient]
    named = {row.test.lower() for row in specs}
    found: list[tuple[str, str, Specification | None]] = [
        (row.test, row.unit, row) for row in sorted(specs, key=lambda row: not row.at_gate)
    ]
    found += [(toxin, unit, None) for toxin, unit in TOXINS.items() if toxin not in named]
    return tuple(found)


def _number(text: str, what: str) -> float:
    wrong = BadInput(f"The {what} is no number.", seen=repr(text[:40]), allowed="such as 14.5")
    if len(text) > LONGEST:
        raise wrong
    try:
        return float(parse_decimal(text.strip(), locale="en_US", strict=True))
    except NumberFormatError:
        raise wrong from None


def arrival_of(mill: Mill, typed: Mapping[str, str]) -> Arrival:
    """The arrival that was typed so far; what is not typed yet is empty.

    Raises
    ------
    BadInput
        If a number or a mass cannot be understood.
    """

    def text(name: str) -> str:
        return typed.get(name, "").strip()

    show = Show.of(mill)
    ingredient = text("ingredient")
    tests = tuple(
        TestValue(
            test=test,
            value=_number(text(f"test:{test}"), test),
            unit=unit,
            method=spec.method if spec else "",
        )
        for test, unit, spec in tests_asked(mill, ingredient)
        if text(f"test:{test}")
    )
    masses = {
        name: typed_mass(text(name), show).mass_mg if text(name) else 0
        for name in ("gross", "tare")
    }
    cargoes = tuple(text(f"cargo{back}") or "unknown" for back in (1, 2, 3))
    return Arrival(
        ticket=text("ticket"),
        firm=text("firm"),
        ingredient=ingredient,
        lot=text("lot"),
        carrier=text("carrier"),
        carrier_kind=text("carrier_kind"),
        vehicle=text("vehicle"),
        cargoes=cargoes,
        cleaned=text("cleaned") or "none",
        wash_ticket=text("wash_ticket"),
        tests=tests,
        weighbridge=text("weighbridge"),
        gross_mg=masses["gross"],
        tare_mg=masses["tare"],
        **{name: text(name) for name in LOOKS},
    )
