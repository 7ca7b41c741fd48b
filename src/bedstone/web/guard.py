"""Who may do what: hosts, headers, where a form came from, who is signed in, which role."""

import datetime as dt
import hashlib
import hmac
import secrets
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlencode, urlsplit

from fastapi import Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.middleware.base import BaseHTTPMiddleware, RequestResponseEndpoint
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response

from bedstone.errors import BadInput, Refused
from bedstone.mill.model import Person
from bedstone.web.site import BROWSER_COOKIE, LOOPBACK, Site, site_of

__all__ = [
    "HEADERS",
    "Guard",
    "Posted",
    "SignedIn",
    "fields_of",
    "note_position",
    "same_token",
]

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
SAFE = ("GET", "HEAD", "OPTIONS")
PASSED_ON = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
"""Headers that say that a server in front passed the request on from another machine."""
LARGEST_POST_BYTES = 2_000_000
MOST_DIGITS = 15
LONGEST_TEXT = 2000


class Guard(BaseHTTPMiddleware):
    """Refuses foreign hosts, forms from other sites, and strangers from other machines; sets the
    headers of every answer.
    """

    async def dispatch(self, request: Request, call_next: RequestResponseEndpoint) -> Response:
        """Check a request before any page sees it."""
        refusal = refusal_of(request)
        if refusal:
            return PlainTextResponse(refusal, status_code=403, headers=HEADERS)
        browser = request.cookies.get(BROWSER_COOKIE, "")
        fresh = "" if browser else secrets.token_urlsafe(24)
        request.state.form_token = token_for(browser or fresh)
        stranger = is_shut(request) and await run_in_threadpool(is_stranger, request)
        answer = led_to_sign_in(request) if stranger else await call_next(request)
        for name, value in HEADERS.items():
            answer.headers.setdefault(name, value)
        if not request.url.path.startswith("/static/"):
            answer.headers.setdefault("Cache-Control", "no-store")
        if fresh and not request.url.path.startswith(("/static/", "/api/")):
            answer.set_cookie(
                BROWSER_COOKIE,
                fresh,
                httponly=True,
                samesite="strict",
                secure=request.url.scheme == "https",
                path="/",
            )
        return answer


def refusal_of(request: Request) -> str:
    """Why a request is turned away before anything else; empty if it is not."""
    site = site_of(request)
    host = request.headers.get("host", "")
    if named(host) not in site.hosts:
        return f"This server does not answer to the name {host!r}."
    if request.method in SAFE:
        return ""
    origin = request.headers.get("origin")
    if origin is None or urlsplit(origin).netloc != host:
        return "A form from another site was refused; nothing was written."
    length = request.headers.get("content-length", "")
    if not is_whole(length) or int(length) > LARGEST_POST_BYTES:
        return f"A form may be {LARGEST_POST_BYTES:,} bytes long; nothing was written."
    return ""


def named(host: str) -> str:
    """The name in a Host header, without its port."""
    return host if host.endswith("]") else host.rsplit(":", 1)[0]


def is_shut(request: Request) -> bool:
    """Whether what is asked for is shown only to those who have signed in: everything but the
    sign-in and its looks, unless the request comes from this machine to this machine.
    """
    path = request.url.path
    if request.method not in SAFE or path == "/sign-in" or path.startswith("/static/"):
        return False  # a form asks who is signed in itself, and keeps what was typed
    passed_on = any(name in request.headers for name in PASSED_ON)
    own = named(request.headers.get("host", "")) in LOOPBACK
    return site_of(request).in_the_open or passed_on or not own


def is_stranger(request: Request) -> bool:
    """Whether nobody of the mill is signed in at this browser."""
    return site_of(request).person(request) is None


def led_to_sign_in(request: Request) -> Response:
    """The answer to whoever must sign in first: JSON and pieces of pages 401, pages the sign-in."""
    error = Refused(
        "This is shown only to people of the mill who have signed in.",
        seen="nobody is signed in at this browser",
        do="sign in at /sign-in",
    )
    path = request.url.path
    if path.startswith("/api/"):
        return JSONResponse(error.as_dict(), status_code=401)
    if request.headers.get("hx-request") == "true":
        text = site_of(request).templates.get_template("fault.html").render(fault=error)
        return Response(text, status_code=401, media_type="text/html")
    then = f"{path}?{request.url.query}" if request.url.query else path
    return RedirectResponse(f"/sign-in?{urlencode({'then': then})}", status_code=303)


def is_whole(text: str) -> bool:
    """Whether text is a whole number that a record can count to."""
    return text.isascii() and text.isdecimal() and len(text) <= MOST_DIGITS


def note_position(request: Request) -> None:
    """Note the end of the journal before a page reads anything, so that its forms carry it."""
    request.state.position = site_of(request).record.head().position


def token_for(browser: str) -> str:
    """The word that forms of a browser carry, made from its own cookie."""
    return hashlib.sha256(f"bedstone form {browser}".encode()).hexdigest()[:32]


def same_token(request: Request, given: str) -> bool:
    """Whether a form carries this browser's word."""
    browser = request.cookies.get(BROWSER_COOKIE, "")
    return bool(browser) and hmac.compare_digest(token_for(browser), given)


async def fields_of(request: Request) -> AsyncIterator[FormData]:
    """The fields of a form that this browser was given; files in it are closed afterwards.

    Raises
    ------
    Refused
        If the form does not carry this browser's word.
    """
    async with request.form() as form:
        token = form.get("token")
        if not isinstance(token, str) or not same_token(request, token):
            raise Refused(
                "This form was not made for this browser; nothing was written.",
                do="open the page again and send the form once more",
            )
        yield form


@dataclass(frozen=True, kw_only=True)
class Posted:
    """A form sent by a signed-in person who may record."""

    person: Person
    at: dt.datetime
    fields: Mapping[str, str]
    files: Mapping[str, UploadFile]

    def text(self, name: str) -> str:
        """A field without the spaces around it; empty if it is not there.

        Raises
        ------
        BadInput
            If it is longer than anything a person means.
        """
        found = self.fields.get(name, "").strip()
        if len(found) > LONGEST_TEXT:
            raise BadInput(
                f"What was typed as {name} is too long.",
                seen=f"{len(found):,} characters",
                allowed=f"at most {LONGEST_TEXT:,} characters",
                do="make it shorter; nothing was written",
            )
        return found

    @property
    def after(self) -> int | None:
        """The place in the journal at which the form was read."""
        found = self.text("after")
        if not found:
            return None
        if not is_whole(found):
            raise BadInput("The form's place in the journal is no number.", seen=repr(found[:40]))
        return int(found)


def signed_in(request: Request, form: Annotated[FormData, Depends(fields_of)]) -> Posted:
    """The form with who sent it.

    Raises
    ------
    Refused
        If nobody is signed in, or the person's role records nothing.
    """
    site: Site = site_of(request)
    person = site.person(request)
    if person is None:
        raise Refused(
            "Nobody is signed in at this browser; nothing was written.",
            do="sign in in another window, come back to this one and send the form once more: "
            "what was typed is still in it",
        )
    if person.role == "inspector":
        raise Refused(
            f"{person.name} is an inspector: an inspector reads everything and records nothing.",
            do="somebody of the mill must do this",
        )
    return Posted(
        person=person,
        at=site.clock(),
        fields={key: value for key, value in form.items() if isinstance(value, str)},
        files={key: value for key, value in form.items() if isinstance(value, UploadFile)},
    )


SignedIn = Annotated[Posted, Depends(signed_in)]
