"""The die: its holes, its work, what it heats, what it cuts, how long it lasts."""

import math
from dataclasses import dataclass
from typing import Final

from bedstone.errors import BadInput

__all__ = [
    "Die",
    "DieLife",
    "DieWork",
    "die_life",
    "die_work",
    "face_speed_m_s",
    "knife_gap_mm",
    "motor_kw",
    "pellet_length_mm",
]

_MOST_OPEN: Final = 0.7
_DUE: Final = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Die:
    """A ring die. ``effective_mm`` is the length of a hole in which it presses.

    ``thickness_mm`` is the ring's, inside to outside; where it is more than the length that presses,
    the holes are bored wider on the outside (relief).
    """

    hole_mm: float
    effective_mm: float
    holes: int
    inner_diameter_mm: float
    face_width_mm: float
    thickness_mm: float | None = None

    def __post_init__(self) -> None:
        """Refuse a die that cannot be."""
        if (
            min(self.hole_mm, self.effective_mm, self.inner_diameter_mm, self.face_width_mm) <= 0
            or self.holes < 1
        ):
            raise BadInput(
                "A die has holes, a length that presses, a diameter and a face.",
                seen=f"{self.hole_mm:g} x {self.effective_mm:g} mm, {self.holes} holes",
                allowed="all above 0",
            )
        if self.thickness_mm is not None and self.thickness_mm < self.effective_mm:
            raise BadInput(
                "A hole cannot press over more than the thickness of the die.",
                seen=f"{self.effective_mm:g} mm that press in a ring of {self.thickness_mm:g} mm",
                allowed="a thickness of at least the length that presses",
            )
        if self.open_frac >= _MOST_OPEN:
            raise BadInput(
                "The holes of the die would cut into one another.",
                seen=f"{100 * self.open_frac:.0f} % open",
                allowed=f"below {100 * _MOST_OPEN:g} % of the face",
                do="Count holes and measure the face again.",
            )

    @property
    def compression(self) -> float:
        """Effective length over diameter of a hole, as the trade gives it."""
        return self.effective_mm / self.hole_mm

    @property
    def hole_area_m2(self) -> float:
        """Area of all holes."""
        return self.holes * math.pi / 4 * (self.hole_mm / 1000) ** 2

    @property
    def open_frac(self) -> float:
        """Holes in the pressing face, 0 to 1."""
        face = math.pi * self.inner_diameter_mm * self.face_width_mm / 1e6
        return self.hole_area_m2 / face

    @property
    def relief_mm(self) -> float | None:
        """Length of a hole that is bored wider, None where the thickness is not known."""
        return None if self.thickness_mm is None else self.thickness_mm - self.effective_mm

    @property
    def pitch_mm(self) -> float:
        """Between centres of holes if they stand evenly in triangles: each has (sqrt(3) / 2) p^2."""
        each_mm2 = math.pi * self.inner_diameter_mm * self.face_width_mm / self.holes
        return math.sqrt(2 * each_mm2 / math.sqrt(3))

    @property
    def web_mm(self) -> float:
        """Metal left between holes in that pattern."""
        return self.pitch_mm - self.hole_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class DieWork:
    """Work of a die at a rate."""

    kwh_t: float
    rise_dk: float
    in_hole_s: float
    speed_m_s: float
    kg_s_m2: float  # of open area
    usd_t: float


def motor_kw(volts: float, amps: float, power_factor: float = 0.85) -> float:
    """Power of a three-phase motor.

    Parameters
    ----------
    volts, amps : float
        Between phases, and of one phase. [V], [A]
    power_factor : float
        Cosine of the phase. [0 to 1]

    Returns
    -------
    power_kw : float
        Drawn from the mains. [kW]

    Raises
    ------
    BadInput
        If a number cannot be.

    Sources
    -------
    [1] Three-phase power, sqrt(3) V I cos(phi).
    """
    if volts <= 0 or amps < 0 or not 0 < power_factor <= 1:
        raise BadInput(
            "A motor's numbers cannot be right.",
            seen=f"{volts:g} V, {amps:g} A, power factor {power_factor:g}",
            allowed="volts above 0, amps 0 or more, power factor above 0 up to 1",
        )
    return math.sqrt(3) * volts * amps * power_factor / 1000


def die_work(
    die: Die,
    rate_kg_s: float,
    power_kw: float,
    *,
    idle_kw: float = 0.0,
    mash_j_kg_k: float = 2000.0,
    into_feed_frac: float = 0.8,
    pellet_kg_m3: float = 1200.0,
    usd_per_kwh: float = 0.12,
) -> DieWork:
    """Energy for a tonne, temperature rise and time in the die.

    Parameters
    ----------
    die : Die
        In the mill.
    rate_kg_s : float
        Mash through it. [kg/s]
    power_kw : float
        Of the main motor under load. [kW]
    idle_kw : float
        Of the motor with an empty die; not counted as heat of the feed. [kW]
    mash_j_kg_k : float
        Specific heat of the hot mash: joule for each kilogram and kelvin.
    into_feed_frac : float
        Part of the work that leaves with the pellets as heat; the rest warms die and room
        (common practice, no source). [0 to 1]
    pellet_kg_m3 : float
        Density of a pellet. [kg/m3]
    usd_per_kwh : float
        Price of electricity, USD for each kWh.

    Returns
    -------
    work : DieWork
        Published mills took 8.9 to 10.9 kWh/t at 74 C and L/D 9.3 (PMC8408446, table 6).

    Raises
    ------
    BadInput
        If a number cannot be.

    Sources
    -------
    [1] Heat balance of the die; continuity through its holes.
    """
    if rate_kg_s <= 0 or power_kw < idle_kw or idle_kw < 0 or not 0 <= into_feed_frac <= 1:
        raise BadInput(
            "Load and rate of the pellet mill cannot be right.",
            seen=f"{rate_kg_s:g} kg/s, {power_kw:g} kW, idle {idle_kw:g} kW",
            allowed="rate above 0, idle from 0 to the load, heat share 0 to 1",
            do="Read the ammeter while it runs steadily.",
        )
    speed = rate_kg_s / (pellet_kg_m3 * die.hole_area_m2)
    kwh_t = power_kw / (rate_kg_s * 3.6)
    return DieWork(
        kwh_t=kwh_t,
        rise_dk=into_feed_frac * (power_kw - idle_kw) * 1000 / (rate_kg_s * mash_j_kg_k),
        in_hole_s=die.effective_mm / 1000 / speed,
        speed_m_s=speed,
        kg_s_m2=rate_kg_s / die.hole_area_m2,
        usd_t=kwh_t * usd_per_kwh,
    )


def pellet_length_mm(work: DieWork, knives: int, turns_per_min: float) -> float:
    """Length to which knives cut at a die speed.

    Parameters
    ----------
    work : DieWork
        At the rate.
    knives : int
        Around the die.
    turns_per_min : float
        Of the die, turns a minute.

    Returns
    -------
    length_mm : float
        Between two cuts; broken pellets are shorter. [mm]

    Raises
    ------
    BadInput
        If there is no knife or no turning.

    Sources
    -------
    [1] Speed out of the hole over cuts a second (from memory, and by the definition of both).
    """
    if knives < 1 or turns_per_min <= 0:
        raise BadInput(
            "Nothing cuts.",
            seen=f"{knives} knives, {turns_per_min:g} turns a minute",
            allowed="a knife or more, turning",
        )
    return 1000 * work.speed_m_s / (knives * turns_per_min / 60)


def knife_gap_mm(wanted_mm: float, cut_mm: float) -> float | None:
    """How far off the die's face the knives stand for pellets of a length.

    A pellet that has grown past the gap breaks off at the face when the next knife comes, so that it
    is a whole number of cuts long, the first that is past the gap. Holes differ in flow: over a die
    lengths spread from the gap to the gap and one cut more, and their mean is half a cut past it.

    Parameters
    ----------
    wanted_mm : float
        Mean length that is wanted. [mm]
    cut_mm : float
        That a pellet grows between two knives. [mm]

    Returns
    -------
    gap_mm : float or None
        None where pellets grow longer than that between two knives, so that even knives close to
        the face leave them longer: more knives are needed, or less rate. [mm]

    Raises
    ------
    BadInput
        If a length is not above nothing.

    Sources
    -------
    [1] Geometry; that pellets break off at the face is common practice, no source. Pellets that
        shear at the knife are one cut long whatever the gap.
    """
    if wanted_mm <= 0 or cut_mm <= 0:
        raise BadInput(
            "Pellets have a length.", seen=f"{wanted_mm:g} and {cut_mm:g} mm", allowed="above 0 mm"
        )
    return wanted_mm - cut_mm / 2 if wanted_mm >= cut_mm else None


def face_speed_m_s(die: Die, turns_per_min: float) -> float:
    """Speed of the inner face of a die.

    Parameters
    ----------
    die : Die
        In the mill.
    turns_per_min : float
        Of the die, turns a minute.

    Returns
    -------
    speed_m_s : float
        About 610 m/min (2,000 ft/min) has been called best for small pellets (Leaver 1988, as a
        trade journal cites it).

    Sources
    -------
    [1] Circumference times turns.
    """
    return math.pi * die.inner_diameter_mm / 1000 * turns_per_min / 60


@dataclass(frozen=True, slots=True, kw_only=True)
class DieLife:
    """Wear of a die or a set of rolls, by tonnes."""

    used_frac: float
    left_t: float
    usd_t: float
    due: bool


def die_life(made_t: float, expected_t: float, price_usd: float) -> DieLife:
    """How much of a die or roll shell is used up.

    Parameters
    ----------
    made_t : float
        Made on it so far. [t]
    expected_t : float
        Usual life, from the mill's own dies. [t]
    price_usd : float
        Of a new one, in USD.

    Returns
    -------
    life : DieLife
        Due from nine tenths on, so that the next one can be ordered.

    Raises
    ------
    BadInput
        If a number is below nothing, or no life is expected.

    Sources
    -------
    [1] Wear taken as even over tonnes (common practice, no source).
    """
    if made_t < 0 or expected_t <= 0 or price_usd < 0:
        raise BadInput(
            "Tonnes and price of a die cannot be right.",
            seen=f"{made_t:g} t of {expected_t:g} t, {price_usd:g} USD",
            allowed="0 or more, of an expected life above 0",
        )
    used = made_t / expected_t
    return DieLife(
        used_frac=used,
        left_t=max(expected_t - made_t, 0.0),
        usd_t=price_usd / expected_t,
        due=used >= _DUE,
    )
