"""What whoever has not signed in is shown when other machines are answered: the sign-in, no more."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from bedstone.web.api import ErrorShape
from fakes.desk_day import PLAN
from fakes.page_server import PageMill, page_mill

PAGES = [
    "/",
    "/batches",
    "/bins",
    "/arrivals",
    "/arrival",
    "/orders",
    "/runs",
    "/stock",
    "/stock/machines",
    "/trace?lot=L-SALT",
    "/journal",
    "/journal/1",
    "/journal/verify",
    "/scan?code=B1",
    f"/papers/{PLAN.plan}/day.pdf",
    "/nowhere",
    "//sign-in",
    "/sign-in/",
    "/static/../journal",
]
READINGS = ["/api/plan", "/api/stock", "/api/orders", "/api/trace/L-SALT", "/api/openapi.json"]


@pytest.fixture(scope="module")
def open_mill(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """A mill that answers other machines."""
    with page_mill(tmp_path_factory.mktemp("open"), in_the_open=True) as served:
        yield served


@pytest.mark.parametrize("path", PAGES)
def test_a_page_in_the_open_leads_to_the_sign_in(open_mill: PageMill, path: str):
    """No page, paper or journal is shown to whoever has not signed in."""
    answer = open_mill.visitor().get(path)
    assert answer.status_code in {303, 404}
    assert answer.headers.get("location", "/sign-in").startswith("/sign-in")
    assert "Mara" not in answer.text


@pytest.mark.parametrize("path", READINGS)
def test_json_in_the_open_answers_401_in_the_one_shape(open_mill: PageMill, path: str):
    """Programs without a session are told so in the shape of every error."""
    answer = open_mill.visitor().get(path)
    assert answer.status_code == 401
    assert "signed in" in ErrorShape.model_validate(answer.json()).what


def test_pieces_of_pages_in_the_open_answer_401(open_mill: PageMill):
    """A piece that a page fetches is refused in words."""
    answer = open_mill.visitor().get("/understood?mass=5", **{"HX-Request": "true"})
    assert answer.status_code == 401
    assert "signed in" in answer.text


@pytest.mark.parametrize("path", ["/", "/journal", "/api/stock"])
def test_who_has_signed_in_reads_in_the_open(open_mill: PageMill, path: str):
    """The sign-in and its looks are shown; after it an inspector reads everything."""
    visitor = open_mill.visitor()
    assert visitor.get("/sign-in").status_code == 200
    assert visitor.get("/static/bedstone.css").status_code == 200
    visitor.sign_in("ines")
    assert visitor.get(path).status_code == 200


def test_signing_in_leads_back_to_the_page_that_was_asked_for(open_mill: PageMill):
    """The address that was asked for, with what followed it, is where the sign-in leads."""
    answer = open_mill.visitor().get("/trace?lot=L-SALT")
    assert answer.headers["location"] == "/sign-in?then=%2Ftrace%3Flot%3DL-SALT"


@pytest.mark.parametrize(
    "headers",
    [{"Host": "mill.example"}, {"X-Forwarded-For": "192.0.2.7"}, {"Forwarded": "for=192.0.2.7"}],
)
def test_what_was_passed_on_from_another_machine_asks_for_sign_in(
    tmp_path: Path, headers: dict[str, str]
):
    """Behind a server in front, on this machine's own address, strangers read nothing either."""
    with page_mill(tmp_path, hosts=("127.0.0.1", "mill.example")) as served:
        assert served.visitor().get("/api/stock").status_code == 200
        assert served.visitor().get("/api/stock", **headers).status_code == 401


def test_both_cookies_are_secure_when_served_over_https(open_mill: PageMill):
    """The browser's own cookie and the session's are sent back over HTTPS only."""
    visitor = open_mill.visitor()
    answer = visitor.get("/sign-in", **{"X-Forwarded-Proto": "https"})
    assert "secure" in answer.headers["set-cookie"].lower()
    answer = visitor.get("/sign-in")
    assert "secure" not in answer.headers["set-cookie"].lower()
