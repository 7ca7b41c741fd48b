"""A page that answers a form is fetched by an address of its own, so that Back and Reload work.

A browser that shows the answer to a form it sent asks, on Back or Reload, whether to send the form
again. Here the answer is put aside and the browser led to it; the form's page stays one step back.
"""

import secrets
import threading
from collections import OrderedDict
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.middleware.base import BaseHTTPMiddleware, RequestResponseEndpoint

from bedstone.errors import Unknown
from bedstone.web.site import BROWSER_COOKIE

__all__ = ["Answers", "Kept", "PutAside", "router"]

router = APIRouter(include_in_schema=False)
MOST_KEPT = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A page as it answered a form of one browser."""

    browser: str
    status: int
    body: bytes


class Answers:
    """The last pages that answered forms; the oldest goes when there are too many."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Kept] = OrderedDict()
        self._lock = threading.Lock()

    def keep(self, page: Kept) -> str:
        """Put a page aside and give the word by which it is found."""
        word = secrets.token_urlsafe(16)
        with self._lock:
            self._kept[word] = page
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return word

    def find(self, word: str, browser: str) -> Kept:
        """The page of a word, for the browser whose form it answered.

        Raises
        ------
        Unknown
            If there is none any more, or it was another browser's.
        """
        with self._lock:
            page = self._kept.get(word)
        if page is None or page.browser != browser:
            raise Unknown(
                "This answer is no longer kept; whatever was confirmed is in the record.",
                do="go to Today and open the page again",
            )
        return page


def is_sent_form(request: Request) -> bool:
    """Whether a person sent a form and waits for a page; not a piece of one, nor a program."""
    return (
        request.method == "POST"
        and "text/html" in request.headers.get("accept", "")
        and request.headers.get("hx-request") != "true"
    )


class PutAside(BaseHTTPMiddleware):
    """Puts pages that answer a form aside, and leads the browser to them."""

    async def dispatch(self, request: Request, call_next: RequestResponseEndpoint) -> Response:
        """Let a request through; a page that answers a browser's form is put aside."""
        answer = await call_next(request)
        if not is_sent_form(request) or "text/html" not in answer.headers.get("content-type", ""):
            return answer
        parts = [part async for part in answer.body_iterator]  # type: ignore[attr-defined]
        answers: Answers = request.app.state.answers
        word = answers.keep(
            Kept(
                browser=request.cookies.get(BROWSER_COOKIE, ""),
                status=answer.status_code,
                body=b"".join(parts),
            )
        )
        return RedirectResponse(f"/answered/{word}", status_code=303)


@router.get("/answered/{word}")
def answered(request: Request, word: str) -> Response:
    """The page that answered a form."""
    answers: Answers = request.app.state.answers
    page = answers.find(word, request.cookies.get(BROWSER_COOKIE, ""))
    return HTMLResponse(page.body, status_code=page.status)
