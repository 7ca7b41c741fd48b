"""Every page without a browser: status, landmarks, escaped text, numbers as the desk has them."""

import re
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from bedstone.desk.stock import bins_view, stock_table
from bedstone.web.show import Show
from fakes.desk_day import PLAN
from fakes.page_server import PageMill, page_mill

PAGES = (
    "/",
    "/sign-in",
    f"/plans/{PLAN.plan}",
    "/batches",
    "/batches/4107-01",
    "/batches/4107-01-flush",
    "/bins",
    "/arrivals",
    "/arrival",
    "/bins/G1",
    "/which-bin",
    "/levels",
    "/buying",
    "/suppliers",
    "/orders",
    "/orders?which=all",
    "/orders/new",
    "/orders/4107",
    "/runs",
    "/stock",
    "/stock/machines",
    "/trace",
    "/trace?lot=L-SALT",
    "/tables",
    "/tables/bins",
    "/tables/machines/rows/1",
    "/tables/limits/new",
    "/tables/settings",
    "/table-draft",
    "/table-draft/breaks",
    "/revisions",
    "/revisions/1",
    "/revisions/compare?old=1&new=1",
    "/formulas",
    "/formulas/SHEEP-GR",
    "/formulas/SHEEP-GR/versions/3",
    "/formulas/SHEEP-GR/compare?a=3&b=3",
    "/formulas/SHEEP-GR/curve?of=SBM",
    "/week",
    "/ingredients",
    "/ingredients/SBM",
    "/journal",
    "/journal/verify",
    "/journal/2",
    "/instruments",
    "/instruments/SC1",
    "/balance",
)
VOID = {"area", "br", "col", "hr", "img", "input", "link", "meta", "source", "wbr"}


class Tags(HTMLParser):
    """Checks that every tag is closed in its turn, and gathers ids, labels and fields."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.ids: list[str] = []
        self.labels: set[str] = set()
        self.fields: list[str] = []
        self.names: list[str] = []
        self.handlers: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag that opens."""
        found = dict(attrs)
        self.names.append(tag)
        self.handlers += [name for name, _ in attrs if name.startswith("on") or name == "style"]
        if "id" in found:
            self.ids.append(found["id"])
        if tag == "label" and "for" in found:
            self.labels.add(found["for"])
        if tag in ("input", "select", "textarea") and found.get("type") != "hidden":
            self.fields.append(found.get("id", "?"))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag that opens and closes at once."""
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        """Note a tag that closes."""
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)


@pytest.mark.parametrize("path", PAGES)
def test_a_page_answers_with_sound_html(read_mill: PageMill, path: str):
    """Each page answers 200 with one heading, the landmarks, unique ids and a label per field."""
    answer = read_mill.visitor("mara").get(path)
    assert answer.status_code == 200
    tags = Tags()
    tags.feed(answer.text)
    assert tags.wrong == []
    assert tags.open == []
    assert [tags.names.count(name) for name in ("main", "h1", "header")] == [1, 1, 1]
    assert "nav" in tags.names
    assert len(tags.ids) == len(set(tags.ids))
    assert [name for name in tags.fields if name not in tags.labels] == []
    assert tags.handlers == []
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("path", PAGES)
def test_the_answer_forbids_inline_scripts_and_foreign_hosts(read_mill: PageMill, path: str):
    """Each page comes with a policy that lets in only this server's own files, and is not kept."""
    answer = read_mill.visitor().get(path)
    policy = answer.headers["content-security-policy"]
    assert "script-src 'self';" in policy
    assert "unsafe" not in policy
    assert answer.headers["cache-control"] == "no-store"
    assert re.findall(r'(?:src|href|action)="(?:https?:)?//', answer.text) == []
    assert re.findall(r"<script(?![^>]*\bsrc=)", answer.text) == []


def test_names_are_escaped(read_mill: PageMill):
    """A name with signs of HTML in it is shown as text everywhere it stands."""
    text = read_mill.visitor("ines").get("/sign-in").text
    assert "Ines <Halloway>" not in text
    assert text.count("Ines &lt;Halloway&gt;") == 2


def test_what_is_looked_up_is_escaped(read_mill: PageMill):
    """What somebody types into a search comes back as text, not as HTML."""
    for path in ("/trace?lot=<script>x</script>", "/nix/<b>", "/scan?code=%22><i>"):
        text = read_mill.visitor().get(path).text
        assert "<script>x" not in text
        assert "<b>" not in text
        assert "<i>" not in text


def test_stock_page_has_the_numbers_of_the_desk(read_mill: PageMill):
    """Each row of the stock page shows the mass that the desk's row has."""
    text = unescape(read_mill.visitor().get("/stock").text)
    show = Show.of(None)
    show = Show(us=True, zone=show.zone, mill=None)
    rows = re.findall(r'<tr><th scope="row">(.*?)</tr>', text, re.DOTALL)
    expected = stock_table(read_mill.record)
    assert len(rows) == len(expected)
    for row, line in zip(rows, expected, strict=True):
        assert line.place in row
        assert f'<td class="number">{show.mass(line.mass_mg)}</td>' in row


def test_bins_page_has_the_levels_of_the_desk(read_mill: PageMill):
    """Each bin is drawn and shows mass and level as the desk has them."""
    text = unescape(read_mill.visitor().get("/bins").text)
    for view in bins_view(read_mill.record):
        card = text.split(f'href="/bins/{view.bin.bin}"', 1)[1].split("</a>", 1)[0]
        assert "<svg" in card
        assert f"{view.fill_frac * 100:.0f} %" in card
        drawn = [float(found) for found in re.findall(r'class="level[^>]*height="([\d.]+)"', card)]
        top = 62 if view.bin.kind in ("floor", "warehouse") else 8
        wanted = (142 - top) * min(1.0, max(0.0, view.fill_frac))
        assert sum(drawn) == pytest.approx(wanted, abs=0.5 * max(1, len(drawn)))


def test_today_shows_flushes_with_their_reason_and_orders_left_out(read_mill: PageMill):
    """The day's page says why each flush is there and why an order is left out."""
    text = unescape(read_mill.visitor().get("/").text)
    flush = next(batch for batch in PLAN.batches if batch.reason)
    assert text.count(flush.reason) >= 2  # on the bar and in the list
    assert PLAN.left_out[0].text in text
    assert 'class="bar flush' in text
    assert 'class="nowline"' in text
    assert text.count('tabindex="0" role="button"') == 1


def test_the_saving_is_the_difference_of_the_two_costs(read_mill: PageMill):
    """The saving shown is what the order in which orders came would cost more."""
    text = read_mill.visitor().get("/").text
    saved = PLAN.as_orders_came.running_cents100 - PLAN.costs.running_cents100
    assert f"<dd>${saved / 10_000:,.2f}<small>" in text


def test_stock_of_a_past_moment_is_empty_before_the_first_fact(read_mill: PageMill):
    """The stock page can be asked for a past moment; before the record began nothing lay there."""
    text = read_mill.visitor().get("/stock?at=2026-11-01T00:00").text
    masses = set(re.findall(r'<td class="number">([^<]*lb)</td>', text))
    assert masses == {"0 lb"}


def test_wrong_moments_and_days_are_refused_in_words(read_mill: PageMill):
    """A day or moment that is none answers 400 and says what is allowed."""
    for path in ("/?day=tomorrow", "/stock?at=noon", "/batches?day=2026-13-01"):
        answer = read_mill.visitor().get(path)
        assert answer.status_code == 400
        assert "Allowed:" in answer.text


def test_an_unknown_page_batch_or_bin_answers_404(read_mill: PageMill):
    """What is not there answers 404 with words and a way on."""
    for path in ("/nix", "/batches/9999-01", "/bins/NIX", "/orders/9999", "/plans/P-nix"):
        answer = read_mill.visitor().get(path)
        assert answer.status_code == 404
        assert "There is no" in answer.text


def test_scanning_leads_to_what_the_code_names(read_mill: PageMill):
    """A scanned code leads to its batch, bin, order or lot, whatever its case."""
    visitor = read_mill.visitor()
    for code, where in (
        ("4107-01", "/batches/4107-01"),
        (" g1 ", "/bins/G1"),
        ("4107", "/orders/4107"),
        ("L-SALT", "/trace?lot=L-SALT"),
    ):
        answer = visitor.http.get("/scan", params={"code": code})
        assert answer.status_code == 303
        assert answer.headers["location"] == where


def test_an_empty_record_says_what_to_do(tmp_path: Path):
    """Before anything is loaded, every page of the bar answers in words, without a traceback."""
    with page_mill(tmp_path, empty=True) as served:
        visitor = served.visitor()
        assert "bedstone load" in visitor.get("/").text
        for path in ("/bins", "/orders", "/stock", "/batches", "/runs", "/api/stock"):
            answer = visitor.get(path)
            assert answer.status_code == 409
            assert "bedstone load" in answer.text


def test_numbers_typed_are_shown_as_understood(read_mill: PageMill):
    """A typed mass comes back as understood, with a word for where it stands, or as a fault."""
    visitor = read_mill.visitor()
    asked = {"target": 725_747_792, "tolerance": 907_185, "division": 453_592}

    def told(text: str) -> str:
        return unescape(visitor.http.get("/understood", params=asked | {"actual-1": text}).text)

    assert "understood as 1600 lb: within tolerance" in told("1600")
    assert 'name="understood-1" value="725747792"' in told("1,600.0")
    assert "understood as 1613.5 lb: 13.5 lb over target" in told("1613.5")
    assert "understood as 724 kg = 1,596.1 lb: 3.9 lb under target" in told("724 kg")
    assert "cannot be understood" in told("1,6")
    assert told("").strip() == ""
