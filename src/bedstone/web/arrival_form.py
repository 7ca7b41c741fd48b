"""What is typed step by step about a load at the gate, as one arrival."""

import math
from collections.abc import Mapping

from bedstone.desk.arrival_row import LOOKS, Arrival, TestValue
from bedstone.desk.arrival_tests import tests_of
from bedstone.errors import BadInput
from bedstone.mill.model import Mill
from bedstone.web.show import Show
from bedstone.web.typed import typed_count, typed_mass
from bedstone.web.typed_measure import typed_number

__all__ = ["FIELDS", "STEPS", "arrival_of"]

STEPS = ("Load", "Carrier", "Sample", "Weight", "Answer")
FIELDS: Mapping[int, tuple[str, ...]] = {
    1: ("firm", "ingredient", "ticket", "lot", "carrier_kind", "units", "carrier", "vehicle"),
    2: ("cargo1", "cargo2", "cargo3", "cleaned", "wash_ticket", "seals", "papers"),
    3: ("odour", "insects", "foreign"),  # and test:NAME
    4: ("weighbridge", "gross", "tare", "seller_net"),
}
"""What each step asks; every other field is carried along unseen."""
MOST_READINGS = 20


def _readings(text: str, what: str) -> tuple[float, int]:
    """Mean and number of the readings of one test, typed with spaces between."""
    parts = text.split()[: MOST_READINGS + 1]
    if len(parts) > MOST_READINGS:
        raise BadInput(f"Too many readings of {what}.", allowed=f"up to {MOST_READINGS}")
    values = [typed_number(part, what=what) for part in parts]
    return math.fsum(values) / len(values), len(values)


def _tests(mill: Mill, ingredient: str, typed: Mapping[str, str]) -> tuple[TestValue, ...]:
    """The results that were typed, with the method that is in use."""
    found = []
    for wanted in tests_of(mill, ingredient):
        said = typed.get(f"test:{wanted.test}", "").strip()
        if said:
            value, readings = _readings(said, wanted.test)
            found.append(
                TestValue(
                    test=wanted.test,
                    value=value,
                    unit=wanted.unit,
                    readings=readings,
                    method=wanted.method,
                )
            )
    return tuple(found)


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
    masses = {
        name: typed_mass(text(name), show).mass_mg if text(name) else 0
        for name in ("gross", "tare", "seller_net")
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
        tests=_tests(mill, ingredient, typed),
        weighbridge=text("weighbridge"),
        gross_mg=masses["gross"],
        tare_mg=masses["tare"],
        seller_net_mg=masses["seller_net"],
        units=typed_count(text("units"), what="number of totes or bags") if text("units") else 0,
        **{name: text(name) for name in LOOKS},
    )
