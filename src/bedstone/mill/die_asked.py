"""What the die is reckoned from when its numbers are typed, without a mill's tables."""

from dataclasses import dataclass

from bedstone.mill.attributes import column

__all__ = ["AskedOfDie"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOfDie:
    """A die, its load at a rate, the length wanted, and what was made on it."""

    hole_mm: float = column("diameter of a hole", unit="mm", low=1, high=25)
    effective_mm: float = column("length of a hole that presses", unit="mm", low=5, high=200)
    holes: int = column("number of holes", low=1, high=200_000)
    inner_diameter_mm: float = column("inner diameter of the die", unit="mm", low=50, high=2000)
    face_width_mm: float = column("width of the face with holes", unit="mm", low=10, high=600)
    rate_kg_s: float = column("mash through the die", unit="kg/s", low=0, low_open=True, high=30)
    motor_a: float = column("amperes of the main motor under load", low=0, high=2000)
    motor_v: float = column("volts between its phases", low=100, high=15_000, default=460.0)
    power_factor_frac: float = column("its power factor", default=0.85, low=0.3, high=1)
    motor_full_a: float | None = column(
        "its amperes at full load, by its plate", default=None, low=1, high=2000
    )
    idle_a: float = column(
        "its amperes with an empty die, which do not heat the feed", default=0.0, low=0, high=2000
    )
    thickness_mm: float | None = column(
        "thickness of the ring", unit="mm", default=None, low=5, high=250
    )
    knives: int = column("number of knives", default=2, low=1, high=12)
    turns_per_min: float = column("turns of the die a minute", default=230.0, low=20, high=1000)
    wanted_mm: float | None = column(
        "length of pellets that is wanted", unit="mm", default=None, low=1, high=80
    )
    conditioned_c: float | None = column(
        "mash as it enters the die", unit="C", default=None, low=-20, high=110
    )
    power_usd_kwh: float = column("price of a kWh of electricity", default=0.1, low=0, high=5)
    made_kg: float | None = column("feed made on the die", unit="kg", default=None, low=0)
    expected_kg: float | None = column(
        "feed that one like it lasts for", unit="kg", default=None, low=0, low_open=True
    )
    price_usd: float = column("price of a new one", default=0.0, low=0)
