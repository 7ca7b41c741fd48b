"""Readings as JSON for other programs; described at /api/openapi.json."""

import datetime as dt
from typing import Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field

from bedstone.desk.orders import all_orders
from bedstone.desk.plain_values import plain, row_plain
from bedstone.desk.plan_json import plan_to_json
from bedstone.desk.stock import stock_table
from bedstone.desk.trace import trace
from bedstone.errors import Unknown
from bedstone.web.show import Show
from bedstone.web.site import site_of
from bedstone.web.today import standing_plan, working_day
from bedstone.web.typed import sane_day, sane_moment

__all__ = ["ErrorShape", "router"]


class FaultShape(BaseModel):
    """One thing wrong in what was given."""

    model_config = ConfigDict(extra="forbid")
    file: str
    row: int | None
    column: str
    found: str
    allowed: str
    do: str


class ErrorShape(BaseModel):
    """The one shape of every error."""

    model_config = ConfigDict(extra="forbid")
    error: str = Field(description="name of the error")
    what: str = Field(description="what is wrong, in a sentence")
    seen: str
    allowed: str
    source: str = Field(description="rule or law behind it")
    do: str
    faults: list[FaultShape]


router = APIRouter(
    prefix="/api",
    tags=["readings"],
    responses={
        400: {"model": ErrorShape},
        401: {"model": ErrorShape},
        404: {"model": ErrorShape},
        409: {"model": ErrorShape},
        422: {"model": ErrorShape},
    },
)


@router.get("/plan", summary="The plan that stands for a day, as plan/1")
def plan(request: Request, day: dt.date | None = None) -> dict[str, Any]:
    """The released plan of a day, else the newest proposed one; today (or the next
    day that is planned) if no day is named.
    """
    site = site_of(request)
    wanted = sane_day(day, what="day") if day else working_day(site)
    found = standing_plan(site, wanted)
    if found is None:
        raise Unknown(f"There is no plan for {wanted.isoformat()}.", do="plan the day first")
    return {
        "status": found.status,
        "released_by": found.released_by,
        "released_at": plain(found.released_at),
        "plan": plan_to_json(found.plan),
    }


@router.get("/stock", summary="Stock of every place now or at a past moment")
def stock(request: Request, at: dt.datetime | None = None) -> list[dict[str, Any]]:
    """Rows of place, material and whole milligrams; a time without offset is the mill's."""
    site = site_of(request)
    moment_at = sane_moment(at, Show.of(site.mill()), what="moment") if at else None
    rows = stock_table(site.record, moment_at)
    return [row_plain(row) for row in rows]


@router.get("/trace/{lot}", summary="Where a lot came from and where it went")
def one_trace(request: Request, lot: str) -> dict[str, Any]:
    """Links back and forward, each certain, possible or carry-over."""
    return row_plain(trace(site_of(request).record, lot))


@router.get("/orders", summary="Orders with what was made of each")
def orders(request: Request) -> list[dict[str, Any]]:
    """Every order, the earliest due first."""
    return [row_plain(row) for row in all_orders(site_of(request).record)]
