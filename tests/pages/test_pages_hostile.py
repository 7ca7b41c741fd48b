"""Whatever is sent to the pages, they answer in words and never fall over."""

import itertools
from pathlib import Path
from urllib.parse import quote

import pytest

from fakes.desk_day import PLAN
from fakes.page_server import PageMill, page_mill

NASTY = (
    "",
    " ",
    "\x00",
    "a" * 5000,
    "%s{{7*7}}",
    "<script>alert(1)</script>",
    "9" * 40,
    "-1",
    "\u00b2",
    "0001-01-01T00:00+00:00",
    "9999-12-31T23:59",
    "../../etc/passwd",
    "\N{SNOWMAN}",
    "'; drop table facts; --",
    "1e400",
    "nan",
)
QUERIES = (
    "/?day={}",
    "/stock?at={}",
    "/stock/machines?at={}",
    "/trace?lot={}",
    "/scan?code={}",
    "/journal?before={}",
    "/journal/verify?head={}",
    "/sign-in?then={}",
    "/understood?target=1&tolerance=0&division=0&actual-1={}",
    "/understood?target={}&tolerance=1&division=1&actual-1=5",
    "/orders?which={}",
    "/batches?day={}",
    "/runs?day={}",
    "/pellet-line/runs?before={}",
    "/pellet-line/runs?which={}",
    "/pellet-line/runs?bin={}",
    "/formulas/SHEEP-GR?from={}",
    "/week?mass.SHEEP-GR={}",
    "/week?offered={}&price=5",
    "/week-{}.csv",
    "/formulas/SHEEP-GR?odds={}",
    "/formulas/SHEEP-GR?price.CORN-GR={}",
    "/formulas/SHEEP-GR/compare?a={}&b=3",
    "/formulas/SHEEP-GR/curve?of={}",
    "/api/plan?day={}",
    "/api/stock?at={}",
)
PATHS = ("/batches/{}", "/bins/{}", "/orders/{}", "/plans/{}", "/journal/{}", "/under-way/{}",
         "/api/trace/{}", "/pellet-line/runs/{}", "/papers/{}/day.pdf", "/formulas/{}", "/formulas/SHEEP-GR/versions/{}",
         "/ingredients/{}", "/orders/4107/effect?plan={}")  # fmt: skip


@pytest.mark.parametrize("pattern", QUERIES + PATHS)
def test_no_address_makes_the_server_fall_over(read_mill: PageMill, pattern: str):
    """Every odd value in an address is answered, below 500 and without a traceback."""
    visitor = read_mill.visitor("osk")
    for value in NASTY:
        answer = visitor.get(pattern.format(quote(value, safe="")))
        assert answer.status_code < 500, (value, answer.text)
        assert "Traceback" not in answer.text
        if answer.headers.get("content-type", "").startswith("text/html"):
            assert "<script>alert" not in answer.text
        if "{{" in value:
            assert "%s49" not in answer.text


FORMS = {
    "/plans/x/release": (),
    "/plan": ("day",),
    "/orders": ("order", "customer", "product", "mass", "pack", "due", "note"),
    "/orders/4107": ("customer", "product", "mass", "pack", "due"),
    "/orders/4107/cancel": ("why",),
    "/batches/4105-01/record": ("plan", "actual-1", "lot-1", "understood-1"),
    "/batches/4105-01/start": ("plan",),
    "/batches/4105-01/cleaned": ("plan", "clean_out"),
    "/bins/G1/count": ("counted", "material", "understood", "how"),
    "/runs/R-4107/packed": ("day", "bags", "to", "scrap"),
    "/runs/R-4107/pelleted": ("day", "steam", "out", "dust"),
    "/runs/R-4107/shipped": ("day", "bags", "from"),
    "/pellet-line/runs/R-4107": ("at_1", "q4_1", "q6_2", "line"),
    "/pellet-line/bin-reading": ("bin", "read", "at"),
    "/runs/R-4107/bulk": ("day", "mass"),
    "/grinding/G-CORN-1": ("day", "in", "out"),
    "/journal/1/reverse": ("why",),
}


@pytest.mark.parametrize("path", FORMS)
def test_no_form_makes_the_server_fall_over(read_mill: PageMill, path: str):
    """Every odd value in a form is refused in words; nothing of it is written."""
    visitor = read_mill.visitor("osk")
    hidden = visitor.fields("/sign-in")
    before = read_mill.record.head().position
    for value, name in itertools.product(NASTY, (*FORMS[path], "after")):
        if path in ("/plan", "/batches/4105-01/start") and value.strip() in ("", "-1"):
            continue  # an empty day is today, an empty plan the one that stands: nothing odd
        if path == "/batches/4105-01/start" and name == "after":
            continue  # the rest of the form is in order
        if path in ("/plan", "/orders/4107/cancel", "/journal/1/reverse") and name == "after":
            continue
        if path == "/orders/4107/cancel" and value.strip():
            continue  # any words are a reason
        answer = visitor.post(path, hidden=hidden | {"after": ""}, **{name: value})
        assert 400 <= answer.status_code < 500, (name, value, answer.status_code)
        assert "Traceback" not in answer.text
    assert read_mill.record.head().position == before


def test_a_form_that_is_too_large_is_turned_away(read_mill: PageMill):
    """A form of several megabytes is refused before it is read."""
    visitor = read_mill.visitor("osk")
    answer = visitor.post("/orders", page="/orders/new", note="x" * 3_000_000)
    assert answer.status_code == 403
    assert PLAN.plan not in answer.text


class BrokenPapers:
    """Papers with a fault of the program in them."""

    def day_sheet(self, *_: object) -> bytes:
        """Fall over."""
        raise RuntimeError("secret words of the machine")


def test_a_fault_of_the_program_is_told_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """When the program itself is wrong the page says so and shows nothing of its inside."""
    with page_mill(tmp_path, papers=BrokenPapers()) as served:
        answer = served.visitor().get(f"/papers/{PLAN.plan}/day.pdf")
        assert answer.status_code == 500
        assert "wrong in Bedstone itself" in answer.text
        assert "secret words" not in answer.text
        assert "script-src 'self'" in answer.headers["content-security-policy"]
    assert "secret words" in capsys.readouterr().err  # but whoever looks after it finds it
