"""Papers of a plan as PDF."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.desk.plans import find_plan
from bedstone.web.site import site_of

__all__ = ["pdf", "router"]

router = APIRouter(include_in_schema=False)


def pdf(content: bytes, name: str) -> Response:
    """A paper to look at or print."""
    shown = f'inline; filename="{name}.pdf"'
    return Response(content, media_type="application/pdf", headers={"Content-Disposition": shown})


@router.get("/papers/{plan}/day.pdf")
def day(request: Request, plan: str) -> Response:
    """The day sheet."""
    site = site_of(request)
    found = find_plan(site.record, plan).plan
    return pdf(site.papers.day_sheet(site.record, found), f"day-{found.plan}")


@router.get("/papers/{plan}/batches.pdf")
def batches(request: Request, plan: str) -> Response:
    """All batch sheets."""
    site = site_of(request)
    found = find_plan(site.record, plan).plan
    return pdf(site.papers.batch_sheets(site.record, found), f"batches-{found.plan}")


@router.get("/papers/{plan}/batches/{batch}.pdf")
def batch(request: Request, plan: str, batch: str) -> Response:
    """One batch sheet."""
    site = site_of(request)
    found = find_plan(site.record, plan).plan
    known = {one.batch for one in found.batches} | {one.clean_out for one in found.clean_outs}
    name = batch if batch in known else "batch"
    return pdf(site.papers.batch_sheet(site.record, found, batch), name)


@router.get("/papers/{plan}/runs/{run}/{line}.pdf")
def run_sheet(request: Request, plan: str, run: str, line: str) -> Response:
    """The settings of a run on a pellet line."""
    site = site_of(request)
    found = find_plan(site.record, plan).plan
    known = any(one.run == run for one in found.runs)
    content = site.papers.run_sheet(site.record, found, run, line, at=site.clock())
    return pdf(content, f"run-{run}" if known else "run")
