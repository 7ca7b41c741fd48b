"""Signing in by PIN, and out."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from bedstone.errors import BadInput, BedstoneError, Refused
from bedstone.web.guard import fields_of
from bedstone.web.site import SESSION_COOKIE, site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)


def onward(address: str) -> str:
    """Where to go after signing in: a page of this server, or Today."""
    fine = address.startswith("/") and not address.startswith(("//", "/\\", "/sign-in"))
    return address if fine and address.isprintable() else "/"


@router.get("/sign-in")
def page(request: Request, then: str = "/", person: str = "") -> Response:
    """Choose who you are and give your PIN."""
    return site_of(request).page(request, "sign_in.html", then=onward(then), chosen=person)


@router.post("/sign-in")
def enter(request: Request, form: Annotated[FormData, Depends(fields_of)]) -> Response:
    """Check the PIN and begin a session."""
    site = site_of(request)
    code, pin = str(form.get("person", "")), str(form.get("pin", ""))
    then = onward(str(form.get("then", "/")))
    try:
        if code not in site.mill().person_by_code:
            raise BadInput("Choose who you are.", allowed="one of the list")
        if not site.door.check_pin(code, pin):
            raise Refused("The PIN is not right.", do="try again, or ask the manager for a new PIN")
    except BedstoneError as error:
        return site.page(
            request,
            "sign_in.html",
            status=error.http_status,
            then=then,
            chosen=code,
            fault=error,
        )
    answer = RedirectResponse(then, status_code=303)
    answer.set_cookie(
        SESSION_COOKIE,
        site.door.new_session(code, site.clock()),
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
        path="/",
    )
    return answer


@router.post("/sign-out")
def leave(request: Request, form: Annotated[FormData, Depends(fields_of)]) -> Response:
    """End the session of this browser."""
    del form  # it was checked
    token = request.cookies.get(SESSION_COOKIE)
    if token:
        site_of(request).door.end_session(token)
    answer = RedirectResponse("/", status_code=303)
    answer.delete_cookie(SESSION_COOKIE, path="/")
    return answer
