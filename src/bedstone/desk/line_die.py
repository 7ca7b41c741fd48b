"""A die reckoned from plain numbers: holes, load, heat, knives, life."""

from dataclasses import dataclass

from bedstone.desk.die_runs import HOT_MASH_J_KG_K
from bedstone.errors import BadInput
from bedstone.mill.die_asked import AskedOfDie
from bedstone.mill.reading_limits import MOST_OF_PLATE
from bedstone.pelleting.die import (
    Die,
    DieLife,
    DieWork,
    die_life,
    die_work,
    face_speed_m_s,
    knife_gap_mm,
    motor_kw,
    pellet_length_mm,
)
from bedstone.quantities.line_figures import length_words

__all__ = ["DieAnswer", "reckon_die"]

KG_IN_T = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DieAnswer:
    """All that follows from the numbers of a die."""

    asked: AskedOfDie
    compression: float
    open_frac: float
    pitch_mm: float  # of an even pattern of triangles
    web_mm: float
    relief_mm: float | None
    face_m_s: float
    power_kw: float
    full_frac: float | None
    work: DieWork
    below_c: float | None  # pellets below the die, at most
    cut_mm: float
    gap_mm: float | None
    life: DieLife | None


def reckon_die(asked: AskedOfDie, units: str) -> DieAnswer:
    """What a die does at a rate and a motor load.

    Raises
    ------
    BadInput
        If the numbers cannot be of one die, one motor, or one life; in ``units``, "US" or "SI".
    """
    _must_be_one_die(asked, units)
    die = Die(
        hole_mm=asked.hole_mm,
        effective_mm=asked.effective_mm,
        holes=asked.holes,
        inner_diameter_mm=asked.inner_diameter_mm,
        face_width_mm=asked.face_width_mm,
        thickness_mm=asked.thickness_mm,
    )
    power_kw = motor_kw(asked.motor_v, asked.motor_a, asked.power_factor_frac)
    work = die_work(
        die,
        asked.rate_kg_s,
        power_kw,
        idle_kw=motor_kw(asked.motor_v, asked.idle_a, asked.power_factor_frac),
        mash_j_kg_k=HOT_MASH_J_KG_K,
        usd_per_kwh=asked.power_usd_kwh,
    )
    cut_mm = pellet_length_mm(work, asked.knives, asked.turns_per_min)
    return DieAnswer(
        asked=asked,
        compression=die.compression,
        open_frac=die.open_frac,
        pitch_mm=die.pitch_mm,
        web_mm=die.web_mm,
        relief_mm=die.relief_mm,
        face_m_s=face_speed_m_s(die, asked.turns_per_min),
        power_kw=power_kw,
        full_frac=None if asked.motor_full_a is None else asked.motor_a / asked.motor_full_a,
        work=work,
        below_c=None if asked.conditioned_c is None else asked.conditioned_c + work.rise_dk,
        cut_mm=cut_mm,
        gap_mm=None if asked.wanted_mm is None else knife_gap_mm(asked.wanted_mm, cut_mm),
        life=_life(asked),
    )


def _must_be_one_die(asked: AskedOfDie, units: str) -> None:
    if asked.idle_a > asked.motor_a:
        raise BadInput(
            "A motor draws no less under load than with an empty die.",
            seen=f"{asked.motor_a:g} A under load, {asked.idle_a:g} A empty",
            allowed="amperes under load of at least those with an empty die",
        )
    most_a = None if asked.motor_full_a is None else MOST_OF_PLATE * asked.motor_full_a
    if most_a is not None and asked.motor_a > most_a:
        raise BadInput(
            "No motor runs so far over its plate.",
            seen=f"{asked.motor_a:g} A, the plate's full load {asked.motor_full_a:g} A",
            allowed=f"up to {most_a:.0f} A, {MOST_OF_PLATE:g} times the plate's",
            do="look at the ammeter (its current transformer, one phase of three) and at the plate",
        )
    if asked.thickness_mm is not None and asked.thickness_mm < asked.effective_mm:
        press = length_words(asked.effective_mm, units)
        raise BadInput(
            "A hole cannot press over more than the thickness of the die.",
            seen=f"{press} that press in a ring of {length_words(asked.thickness_mm, units)}",
            allowed=f"a thickness of at least {press}",
        )


def _life(asked: AskedOfDie) -> DieLife | None:
    if asked.made_kg is None or asked.expected_kg is None:
        return None
    return die_life(asked.made_kg / KG_IN_T, asked.expected_kg / KG_IN_T, asked.price_usd)
