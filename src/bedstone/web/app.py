"""The pages joined to an application: routes, errors, static files. No store is known here."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import resources
from pathlib import Path

from fastapi import Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.exceptions import HTTPException
from starlette.staticfiles import StaticFiles

import bedstone
from bedstone.desk.record import Clock, Record
from bedstone.errors import BadInput, BedstoneError, Fault, Refused, Unknown
from bedstone.web import (
    answers,
    api,
    arrival_pages,
    batch_pages,
    before_batch,
    bin_night,
    bin_pages,
    buying_pages,
    curve_pages,
    formula_pages,
    hand_pages,
    instrument_pages,
    journal_page,
    known_pages,
    line_calculator,
    line_cooler_page,
    line_heat_pages,
    line_pages,
    line_run_pages,
    line_test_pages,
    load_pages,
    mixer_pages,
    order_pages,
    paper_pages,
    proof_pages,
    revision_pages,
    run_pages,
    sign_in,
    stock_pages,
    table_pages,
    tank_pages,
    today,
    trace_page,
    version_pages,
    week_pages,
    weighing_pages,
)
from bedstone.web.answers import Answers, PutAside
from bedstone.web.guard import HEADERS, Guard, note_position
from bedstone.web.printing import PapersOfTheHouse
from bedstone.web.roles import may, who_may
from bedstone.web.site import LOOPBACK, Door, Papers, Site, site_of
from bedstone.web.work import Work

__all__ = ["LOOPBACK", "create_app"]

ROOMS = (
    sign_in,
    answers,
    today,
    hand_pages,
    instrument_pages,
    proof_pages,
    tank_pages,
    batch_pages,
    before_batch,
    weighing_pages,
    mixer_pages,
    bin_night,
    bin_pages,
    buying_pages,
    arrival_pages,
    order_pages,
    run_pages,
    stock_pages,
    trace_page,
    formula_pages,
    version_pages,
    curve_pages,
    week_pages,
    known_pages,
    line_heat_pages,
    line_pages,
    line_run_pages,
    line_test_pages,
    load_pages,
    line_calculator,
    line_cooler_page,
    table_pages,
    revision_pages,
    journal_page,
    paper_pages,
    api,
)
HEADINGS = {
    400: "This could not be understood",
    404: "There is no such thing here",
    409: "Not done",
    422: "There is no answer",
}


def create_app(
    record: Record,
    door: Door,
    *,
    clock: Clock,
    papers: Papers | None = None,
    papers_folder: Path | None = None,
    hosts: tuple[str, ...] = LOOPBACK,
    in_the_open: bool = False,
) -> FastAPI:
    """The application that serves the pages of one mill.

    Parameters
    ----------
    record : Record
        The mill's record; it is asked from several threads.
    door : Door
        PINs and sessions.
    clock : Clock
        Gives the time.
    papers : Papers, optional
        Makes the PDFs; the house's own if not given.
    papers_folder : Path, optional
        Where the papers of plans lie as files; a release prints those of its plan again.
    hosts : tuple of str
        Names under which the server answers; any other is refused.
    in_the_open : bool
        Other machines than this are answered; then nothing but the sign-in is shown to whoever
        has not signed in, whatever name the request bears.

    Returns
    -------
    app : FastAPI
        To be served by uvicorn, or called in tests.
    """
    work = Work()

    @asynccontextmanager
    async def life(_app: FastAPI) -> AsyncIterator[None]:
        yield
        work.close()

    app = FastAPI(
        title="Bedstone",
        version=bedstone.__version__,
        description="Readings of a feed mill's record as JSON. Pages are not part of it.",
        lifespan=life,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.state.site = Site(
        record=record,
        door=door,
        clock=clock,
        papers=papers or PapersOfTheHouse(),
        templates=templates(),
        work=work,
        papers_folder=papers_folder,
        hosts=hosts,
        in_the_open=in_the_open,
    )
    app.state.answers = Answers()
    app.add_middleware(PutAside)
    app.add_middleware(Guard)
    app.mount("/static", StaticFiles(directory=str(resources.files("bedstone.web") / "static")))
    for room in ROOMS:
        app.include_router(room.router, dependencies=[Depends(note_position)])
    app.add_exception_handler(BedstoneError, told)
    app.add_exception_handler(HTTPException, told_http)
    app.add_exception_handler(RequestValidationError, told_invalid)
    app.add_exception_handler(Exception, told_own_fault)
    return app


def templates() -> Environment:
    """The templates, with every value escaped and every unknown name an error."""
    environment = Environment(
        loader=PackageLoader("bedstone.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["said"] = ""
    environment.globals["may"] = may
    environment.globals["who_may"] = who_may
    return environment


def told(request: Request, error: Exception) -> Response:
    """The answer that an error of the house gives: JSON, a piece of a page, or a page."""
    if not isinstance(error, BedstoneError):
        raise error
    status = error.http_status
    if request.url.path.startswith("/api/"):
        return JSONResponse(error.as_dict(), status_code=status)
    site = site_of(request)
    if request.headers.get("hx-request") == "true":
        text = site.templates.get_template("fault.html").render(fault=error)
        return Response(text, status_code=status, media_type="text/html")
    heading = HEADINGS.get(status, "The server cannot go on")
    return site.page(request, "error.html", status=status, heading=heading, problem=error)


def told_http(request: Request, error: Exception) -> Response:
    """The answer for an address that does not exist, or is used the wrong way."""
    if not isinstance(error, HTTPException):
        raise error
    if error.status_code == 404:  # noqa: PLR2004 - the number is its own name
        return told(
            request, Unknown(f"There is no page {request.url.path}.", do="start from Today")
        )
    answer = told(request, Refused(f"{error.detail}."))
    answer.status_code = error.status_code
    return answer


def told_invalid(request: Request, error: Exception) -> Response:
    """The answer for a request whose parameters are wrong, all faults at once."""
    if not isinstance(error, RequestValidationError):
        raise error
    faults = tuple(
        Fault(
            column=".".join(str(part) for part in one["loc"]),
            found=repr(one.get("input"))[:80],
            allowed=str(one["msg"]),
        )
        for one in error.errors()
    )
    return told(request, BadInput("The request could not be understood.", faults=faults))


def told_own_fault(request: Request, _error: Exception) -> Response:
    """The answer when the fault is the program's own: words, never a traceback."""
    error = BedstoneError(
        "Something is wrong in Bedstone itself.",
        do="go back and try once more; if it stays, tell whoever looks after it what you did. "
        "The record is whole: a fact is written wholly or not at all",
    )
    if request.url.path.startswith("/api/"):
        return JSONResponse(error.as_dict(), status_code=500, headers=HEADERS)
    text = site_of(request).templates.get_template("own_fault.html").render(fault=error)
    return HTMLResponse(text, status_code=500, headers=HEADERS)
