"""People, firms, bins, machines, instruments, ways and shifts: rows of the mill's tables."""

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from bedstone.ledger.model import FlowPattern
from bedstone.mill.attributes import column

__all__ = [
    "ANY_MATERIAL",
    "ANY_PLACE",
    "Bin",
    "Firm",
    "Machine",
    "Meter",
    "Person",
    "Route",
    "Scale",
    "Settings",
    "Shift",
]

ROLES = {
    "manager": "plans the day and releases plans",
    "receiver": "takes loads in",
    "nutritionist": "makes and approves formulas",
    "batch operator": "weighs and mixes",
    "pellet operator": "runs the pellet lines",
    "sacker": "fills, tags and stacks bags",
    "laboratory": "assays, holds and releases",
    "shipping": "ships orders",
    "inspector": "reads everything, records nothing",
}
BIN_KINDS = {
    "ingredient": "whole or meal ingredients",
    "ground": "ground grain on its way to the mixer",
    "tank": "a liquid",
    "surge": "between the mixer and the next machine",
    "finished": "finished feed before sacking or load-out",
    "flush": "flush material waiting for its fate",
    "floor": "sacks and totes, each lot apart",
    "warehouse": "bagged feed ready to ship",
}
MACHINE_KINDS = {
    "grinder": "hammer mill or roller mill",
    "mixer": "batch mixer",
    "hand-add station": "where micros are weighed by hand into the mixer",
    "pellet line": "conditioner, die and cooler as one line",
    "sacking line": "fills and sews bags",
    "load-out": "loads bulk trucks",
}
FLOWS = {
    FlowPattern.MASS.value: "first in, first out",
    FlowPattern.FUNNEL.value: "a core draws from the top",
    FlowPattern.MIXED.value: "stirred",
    FlowPattern.SEPARATE.value: "each lot can be taken alone",
}
WEEKDAYS = {day: day for day in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")}
ANY_MATERIAL = ("ingredients", "products")
ANY_PLACE = ("bins", "machines")


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody who signs facts."""

    person: str = column("short name that signs facts", key=True, code=True, example="mara")
    name: str = column("full name", example="Mara Oss")
    role: str = column("what the person does", choices=ROLES, example="batch operator")


@dataclass(frozen=True, slots=True, kw_only=True)
class Firm:
    """A supplier, customer or carrier, with what a trace must be able to name."""

    firm: str = column("short code", key=True, code=True, example="harrow")
    name: str = column("name as on papers", example="Harrow Lane Farm")
    role: str = column(
        "what the firm is to the mill",
        choices={
            "supplier": "sells to us",
            "customer": "buys from us",
            "carrier": "hauls for us",
        },
    )
    address: str = column("postal address", default="", source="21 CFR 1.337(a), 1.345(a)")
    phone: str = column("telephone", default="", source="21 CFR 1.337(a), 1.345(a)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """Anything that holds material and is not a machine."""

    bin: str = column("code", key=True, code=True, example="B01")
    name: str = column("what people call it", default="", example="north corn bin")
    kind: str = column("what it is for", choices=BIN_KINDS)
    capacity_kg: float = column("most it can hold", unit="kg", low=0, low_open=True)
    volume_m3: float | None = column(
        "most it can hold by volume", unit="m3", default=None, low=0, low_open=True
    )
    flow: str = column("how material leaves it", choices=FLOWS)
    holds: str = column("material it is kept for; empty for any", default="", refers=ANY_MATERIAL)
    feeds: str = column(
        "scales or meters it can be drawn on, with spaces between",
        default="",
        refers=("scales", "meters"),
        example="SC1 SC2",
    )
    hold_up_kg: float = column(
        "what stays behind when it is run empty", unit="kg", default=0.0, low=0
    )
    intake: str = column(
        "pit, leg or pipe that fills it; bins of one name share it", default="", example="PIT1"
    )
    intake_hold_up_kg: float = column(
        "what stays in the intake when it is run empty", unit="kg", default=0.0, low=0
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine that material passes through. Fields that do not apply stay empty."""

    machine: str = column("code", key=True, code=True, example="MX1")
    name: str = column("what people call it", default="", example="two-ton ribbon mixer")
    kind: str = column("what it is", choices=MACHINE_KINDS)
    rate_kg_s: float | None = column(
        "usual throughput; needed for all but mixers and hand-add stations",
        unit="kg/s",
        default=None,
        low=0,
        low_open=True,
    )
    mass_max_kg: float | None = column(
        "largest batch by mass; needed for a mixer", unit="kg", default=None, low=0, low_open=True
    )
    mass_min_kg: float | None = column(
        "smallest fill that still mixes; needed for a mixer",
        unit="kg",
        default=None,
        low=0,
        low_open=True,
    )
    volume_max_m3: float | None = column(
        "largest batch by volume; needed for a mixer", unit="m3", default=None, low=0, low_open=True
    )
    fill_s: float = column("time to weigh up and drop a batch", unit="s", default=0.0, low=0)
    dry_mix_s: float = column("mixing time of the dry ingredients", unit="s", default=0.0, low=0)
    wet_mix_s: float = column(
        "further mixing time once liquids are in", unit="s", default=0.0, low=0
    )
    discharge_s: float = column("time to empty", unit="s", default=0.0, low=0)
    loss_frac: float = column("part of the mass lost as dust", default=0.0, low=0, high=0.2)
    hold_up_kg: float = column(
        "what stays inside when it is run empty", unit="kg", default=0.0, low=0
    )
    exchange_frac: float = column(
        "how readily what stays inside mixes with what passes (1: at once, as if stirred)",
        default=1.0,
        low=0,
        low_open=True,
        high=1,
    )
    changeover_s: float = column("time lost at a change of feed", unit="s", default=0.0, low=0)
    die_change_s: float = column("time to change the die", unit="s", default=0.0, low=0)
    clean_out_s: float = column("time to clean it out by hand", unit="s", default=0.0, low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A batch scale or the hand-add scale."""

    scale: str = column("code", key=True, code=True, example="SC1")
    name: str = column("what people call it", default="")
    machine: str = column("mixer or hand-add station it weighs for", refers=("machines",))
    capacity_kg: float = column("largest load", unit="kg", low=0, low_open=True)
    division_kg: float = column("scale division", unit="kg", low=0, low_open=True)
    smallest_draw_kg: float = column(
        "smallest draw worth trusting", unit="kg", low=0, low_open=True
    )
    sd_kg: float | None = column(
        "standard deviation of one weighing; half a division if not given",
        unit="kg",
        default=None,
        low=0,
        low_open=True,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """A liquid meter between a tank and a mixer."""

    meter: str = column("code", key=True, code=True, example="LM1")
    name: str = column("what people call it", default="")
    machine: str = column("mixer it doses into", refers=("machines",))
    division_kg: float = column("smallest step it shows", unit="kg", low=0, low_open=True)
    smallest_draw_kg: float = column(
        "smallest dose worth trusting", unit="kg", low=0, low_open=True
    )
    rate_kg_s: float = column("dosing rate", unit="kg/s", low=0, low_open=True)
    sd_frac: float = column(
        "standard deviation of a dose as part of it", default=0.005, low=0, low_open=True, high=0.2
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A way from one machine or bin to the next (conveyor, spout, elevator) and what stays in it."""

    start: str = column("machine or bin it leaves", refers=ANY_PLACE, key=True)
    end: str = column("machine or bin it reaches", refers=ANY_PLACE, key=True)
    hold_up_kg: float = column(
        "what stays in it when it is run empty", unit="kg", default=0.0, low=0
    )
    exchange_frac: float = column(
        "how readily what stays inside mixes with what passes (1: at once, as if stirred)",
        default=1.0,
        low=0,
        low_open=True,
        high=1,
    )
    clean_out_s: float = column("time to clean it out by hand", unit="s", default=0.0, low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """When machines may run, in the mill's own time."""

    machine: str = column(
        "machine; empty for all without own shifts", default="", refers=("machines",), key=True
    )
    weekday: str = column("day", choices=WEEKDAYS, key=True)
    start_time: dt.time = column("start, HH:MM", key=True, example="06:00")
    end_time: dt.time = column("end, HH:MM, later than the start; 23:59 runs to midnight")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What stands in ``mill.toml``."""

    format: int = column("format of this folder", low=1, high=1)
    name: str = column("name of the mill, as on papers", example="Quillback Mill")
    place: str = column("address, as on papers", default="")
    time_zone: str = column("time zone by its usual name", example="America/Chicago")
    units: str = column(
        "units shown and printed",
        default="SI",
        choices={"SI": "kg, t, C", "US": "lb, short ton, F"},
    )
    locale: str = column(
        "how people here type and read numbers, as language_COUNTRY",
        default="en_US",
        example="en_US",
    )
    flush_material: str = column("ingredient that flushes", default="", refers=("ingredients",))
    flush_bin: str = column("bin that flushes go to", default="", refers=("bins",))
    labour_usd_h: float = column(
        "cost of an hour of the line's crew, for changeovers, flushes and cleaning",
        default=0.0,
        low=0,
    )
    late_usd_t_h: float = column(
        "what an hour's lateness of a tonne counts, to weigh lateness against cost",
        default=1.0,
        low=0,
    )
    sack_kg: float = column(
        "sack-sized portion in which a level is judged where a product has no bag of its own",
        unit="kg",
        default=25.0,
        low=1,
        high=100,
    )
    altitude_m: float = column(
        "height above the sea, for the pressure of the air",
        unit="m",
        default=0.0,
        low=-400,
        high=5000,
    )
    tag_rule: str = column(
        "rule by which an inspector's single sample may miss a guarantee",
        default="",
        choices={
            "": "none named",
            "florida": "Florida Administrative Code 5E-3.016",
            "nevada": "Nevada Administrative Code 587.620",
        },
    )
    sampling_cv_frac: float | None = column(
        "how far single samples of one lot of feed lie apart, as a part of the level (standard "
        "deviation, error of the assay taken off); without it the published spread of six samples "
        "of one batch is assumed for protein, fat, calcium and salt, and nothing for the rest",
        unit="frac",
        default=None,
        low=0,
        high=1,
    )
    drug_check: str = column(
        "who looks at a drug before it goes into a batch",
        default="second person",
        choices={
            "second person": "somebody else than who weighed it confirms mass and lot; without that "
            "the batch cannot be recorded",
            "none": "nobody else (where one person works alone)",
        },
    )
    controls_batch: str = column(
        "column of the batching controls' CSV that names the batch", default="batch"
    )
    controls_sequence: str = column(
        "its column with the number of the draw; without it draws go by ingredient",
        default="sequence",
    )
    controls_ingredient: str = column("its column with the ingredient", default="ingredient")
    controls_actual: str = column("its column with what was weighed", default="actual")
    controls_unit: str = column(
        "unit of what was weighed",
        default="kg",
        choices={"kg": "kilogram", "g": "gram", "lb": "pound"},
    )
    controls_lot: str = column("its column with the lot; may be missing", default="lot")

    @property
    def zone(self) -> ZoneInfo:
        """The mill's time zone."""
        return ZoneInfo(self.time_zone)
