"""Warm pellets in a bin through the night: filled in from the record, every figure may be typed over."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.cooling.after_cooler import HOT_ADVICE, HOT_C, mould_words
from bedstone.desk.bin_findings import PelletBin, bins_with_pellets
from bedstone.desk.warm_bin import FilledIn, at_mass, filled_in
from bedstone.desk.warm_night import WarmBinNight, night_ahead
from bedstone.errors import BedstoneError
from bedstone.mill.bin_asked import AskedOfBin
from bedstone.mill.model import Mill
from bedstone.mill.typed_fields import read_fields
from bedstone.quantities import line_figures
from bedstone.quantities.bounds import between_words, bound_words
from bedstone.web.bin_night_picture import HOUR, night_picture
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MIST = {"no": "", "maybe": "maybe mist", "yes": "mist"}
AREAS = ("top_m2", "roof_m2", "wall_m2")
SAME = 1e-3
"""Part of a figure by which it may differ from the one that the form showed, rounded."""
NONE = "none"
"""What the list of bins sends where no bin is meant."""


@router.get("/pellet-line/bin")
def night(request: Request, bin: str = "") -> Response:  # noqa: A002 - the word in the address
    """What the coming night can do to pellets that lie warm in a bin."""
    site = site_of(request)
    every = bins_with_pellets(site.record, at=site.clock())
    code = bin or _first(every)
    found, problem = _filled(site, code)
    status = 200
    if problem is not None:
        status, code = problem.http_status, NONE
    mill = site.mill()
    typed = dict(request.query_params)
    if problem is None:
        found = _of_typed_mass(found, mill, typed)
    fields, values = read_fields(found.asked, mill.settings, typed)
    answer: WarmBinNight | None = None
    if problem is None and not any(one.fault for one in fields):
        asked = _asked(found, values, typed)
        try:
            answer = night_ahead(found, asked, mill=mill, units=mill.settings.units)
        except BedstoneError as fault:
            problem = fault
    return site.page(
        request,
        "line_bin.html",
        status=status,
        bins=every,
        code=code,
        fields=fields,
        filled=found,
        mass_was=values["mass_kg"],
        answer=answer,
        problem=problem,
        drawn=None if answer is None else _drawn(answer, Show.of(mill)),
        hot=(values["pellet_c"] or 0.0) >= HOT_C,
        hot_advice=HOT_ADVICE,
        mould_words=mould_words,
        figures=line_figures,
        between_words=between_words,
    )


def _first(every: Sequence[PelletBin]) -> str:
    """The bin that is shown unasked: one with findings, else the first that surely holds pellets."""
    worth = [one for one in every if one.findings or not one.is_remainder]
    return next((one.bin.bin for one in sorted(worth, key=lambda one: not one.findings)), NONE)


def _filled(site: Site, code: str) -> tuple[FilledIn, BedstoneError | None]:
    """What is known of a bin; without one, or where it holds no pellets, of the air alone."""
    try:
        return filled_in(site.record, "" if code == NONE else code, at=site.clock()), None
    except BedstoneError as fault:
        return filled_in(site.record, "", at=site.clock()), fault


def _of_typed_mass(found: FilledIn, mill: Mill, typed: dict[str, str]) -> FilledIn:
    """The figures for the mass of the form; surfaces that the form shows as they were filled in for the
    mass before are taken out of what was typed, so that they are reckoned anew.
    """
    _, values = read_fields(found.asked, mill.settings, typed)
    mass_kg, before = values["mass_kg"], found
    with suppress(BedstoneError, ValueError):
        before = at_mass(found, mill, float(typed.get("mass_was", "")))
    for name in AREAS:
        value, was = values[name], getattr(before.asked, name)
        if value is not None and abs(value - was) <= SAME * was:
            typed.pop(name, None)
    if mass_kg is not None and abs(mass_kg - found.asked.mass_kg) > SAME * found.asked.mass_kg:
        with suppress(BedstoneError):  # what cannot be is said where the night is reckoned
            return at_mass(found, mill, mass_kg)
    return found


def _drawn(answer: WarmBinNight, show: Show) -> dict[str, Any]:
    """The night as a picture, as rows, and its water in the mill's words."""
    return {
        "picture": night_picture(answer.night, answer.first_at, show),
        "rows": _rows(answer, show),
        "water": _water(answer, show),
    }


def _asked(found: FilledIn, values: Mapping[str, float], typed: Mapping[str, str]) -> AskedOfBin:
    """The figures of the form; one that stands as it was filled in keeps all of its places."""
    asked = asdict(found.asked)
    for name, value in values.items():
        if (
            typed.get(name, "").strip()
            and abs(value - asked[name]) > SAME * abs(asked[name]) + 1e-9
        ):
            asked[name] = value
    return AskedOfBin(**asked)


def _water(answer: WarmBinNight, show: Show) -> dict[str, str]:
    """Each water of the night, from its least to its most, in the mill's words."""
    night = answer.night
    return {
        name: bound_words(ends, show.units)
        for name, ends in (
            ("roof", night.roof_kg), ("wall", night.wall_kg), ("wandered", night.wandered_kg)
        )
    }  # fmt: skip


def _rows(answer: WarmBinNight, show: Show) -> list[dict[str, str]]:
    """The night hour by hour, in words."""
    units = show.units
    return [
        {
            "when": _when(answer, hour, show),
            "outside": line_figures.temperature_words(row.outside_c, units),
            "core": between_words(row.core_c, units),
            "top": between_words(row.top_c, units),
            "dew": between_words(row.dew_point_c, units),
            "roof": between_words(row.roof_c, units),
            "wall": between_words(row.wall_c, units),
            "roof_water": bound_words(row.roof_kg, units),
            "wall_water": bound_words(row.wall_kg, units),
            "mist": MIST[row.mist],
        }
        for hour, row in enumerate(answer.night.hours)
    ]


def _when(answer: WarmBinNight, hour: int, show: Show) -> str:
    if answer.first_at is None:
        return f"{hour} h"
    return f"{(answer.first_at + hour * HOUR).astimezone(show.zone):%a %H:%M}"
