"""The mill's tables on the pages: seen, edited in a draft, kept as a revision, compared."""

import html
import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from bedstone.desk.revisions import current_mill
from bedstone.mill.columns import columns_of
from bedstone.mill.equipment import Machine
from bedstone.mill.table_differences import SETTINGS, WHOLE
from fakes.page_quillback import quillback_pages
from fakes.page_server import PageMill, Visitor


@pytest.fixture
def mill(tmp_path: Path) -> Iterator[PageMill]:
    """The demo mill's pages."""
    with quillback_pages(tmp_path) as served:
        yield served


@pytest.fixture(scope="module")
def read_mill(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The same, for tests that only read."""
    with quillback_pages(tmp_path_factory.mktemp("tables")) as served:
        yield served


def row_path(visitor: Visitor, table: str, code: str) -> str:
    """Where the form of the row of a code is."""
    text = visitor.get(f"/tables/{table}").text
    found = re.search(rf'href="(/tables/{table}/rows/\d+)"[^>]*>{re.escape(code)}<', text)
    assert found is not None, code
    return found[1]


def fields_of(text: str) -> dict[str, str]:
    """The fields of a row's form as a browser would send them back."""
    form = text[text.index('class="card onpaper"') :]
    found = dict(re.findall(r'name="(token|after|seen|base)" value="([^"]*)"', form))
    found |= dict(re.findall(r'<input id="cell-\w+" name="(cell-\w+)" value="([^"]*)"', form))
    for name, options in re.findall(r'<select id="\S+" name="(cell-\w+)".*?>(.*?)</select>', form):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found[name] = chosen[1] if chosen else ""
    for name, words in re.findall(
        r'<textarea id="\S+" name="(cell-\w+)"[^>]*>(.*?)</textarea>', form
    ):
        found[name] = words
    return {name: html.unescape(value) for name, value in found.items()}


def changed(visitor: Visitor, path: str, **cells: str) -> httpx.Response:
    """Send a row's form with some cells typed anew."""
    fields = fields_of(visitor.get(path).text)
    fields |= {f"cell-{name}": text for name, text in cells.items()}
    return visitor.post(path, hidden=fields)


def nutritionist(mill: PageMill) -> str:
    """Somebody who may change tables and is no manager."""
    return next(
        row.person for row in current_mill(mill.record).people if row.role == "nutritionist"
    )


def keep(visitor: Visitor, why: str = "scale moved") -> httpx.Response:
    """Keep the draft."""
    return visitor.post("/table-draft/keep", page="/table-draft", why=why)


def test_every_table_is_listed_and_shown_with_its_columns(read_mill: PageMill):
    """Each table has its page, with meaning, label and unit of the mill; nothing asks to sign in."""
    visitor = read_mill.visitor()
    listed = visitor.get("/tables").text
    for table in (*WHOLE, SETTINGS):
        assert f'href="/tables/{table}"' in listed
        page = visitor.get(f"/tables/{table}")
        assert page.status_code == 200
        assert "Put this into my draft" not in page.text
    machines = html.unescape(visitor.get("/tables/machines").text)
    for column in columns_of(Machine):
        assert column.attribute.meaning in machines
    assert "Mass max, lb" in machines
    assert "4,100" in machines


@pytest.mark.parametrize(
    "path",
    [
        "/tables/nix",
        "/tables/bins/rows/9999",
        "/tables/bins?revision=77",
        "/revisions/77",
        "/revisions/compare?old=1&new=77",
    ],
)
def test_what_is_not_there_is_said_in_words(read_mill: PageMill, path: str):
    """An unknown table, row or revision is a page that says so."""
    answer = read_mill.visitor("dell").get(path)
    assert answer.status_code == 404
    assert "Traceback" not in answer.text
    assert "There is no" in answer.text


def test_numbers_are_understood_as_people_write_them(read_mill: PageMill):
    """Thousands, another unit, or nothing that can be known, said beside the field."""
    visitor = read_mill.visitor("dell")

    def said(text: str, field: str = "mass_max_kg") -> str:
        path = f"/tables/machines/understood?cell-{field}="
        return html.unescape(visitor.get(path + text.replace(" ", "%20")).text)

    assert "understood as 4,000 lb" in said("4,000")
    assert "understood as 2 t (1000 kg) = 4,409.245244 lb" in said("2 t")
    assert "found" in said("1,6")
    assert "above 0 lb" in said("-3")
    assert said("") == "" or "found" not in said("")
    assert "from 0 to 20 %" in said("25", "loss_frac")


def test_a_change_is_a_draft_until_it_is_kept_and_then_a_revision(mill: PageMill):
    """Typed, seen in the draft, not yet in the mill; kept with a reason it is revision 2, and the
    page of the revision says what it was and is.
    """
    visitor = mill.visitor("dell")
    path = row_path(visitor, "machines", "MX1")
    assert changed(visitor, path, mass_max_kg="1,800 kg").status_code == 303
    draft = visitor.get("/table-draft").text
    assert "4,100" in draft
    assert "3,968.32" in draft
    assert current_mill(mill.record).revision == 1
    answer = keep(visitor)
    assert answer.headers["location"] == "/revisions/2?done=kept"
    stands = current_mill(mill.record)
    assert stands.revision == 2
    assert stands.machine_by_code["MX1"].mass_max_kg == 1800.0
    page = visitor.get("/revisions/2").text
    assert "Dell Marrow" in page
    assert "scale moved" in page
    assert "Mass max, lb" in page
    assert "There is no draft" in visitor.get("/table-draft").text
    log = visitor.get("/revisions").text
    assert "scale moved" in log
    assert 'href="/revisions/1"' in log
    compared = visitor.get("/revisions/compare?old=2&new=1").text
    assert "Revision 1 against revision 2" in compared
    assert "4,100" in compared
    assert "4,100" in visitor.get("/tables/machines?revision=1").text


def test_a_faulty_cell_is_kept_in_the_draft_and_named_and_cannot_be_kept(mill: PageMill):
    """Nothing typed is lost: the row's page, the table and the draft say the fault at its cell."""
    visitor = mill.visitor("dell")
    path = row_path(visitor, "bins", "B01")
    answer = changed(visitor, path, capacity_kg="1,6", holds="NIX")
    assert answer.headers["location"].startswith(path)
    for page in (path, "/tables/bins", "/table-draft"):
        text = html.unescape(visitor.get(page).text)
        assert '"1,6"' in text
        assert "NIX" in text
    assert 'aria-invalid="true"' in visitor.get(path).text
    refused = keep(visitor)
    assert refused.status_code == 409
    assert "left in the draft" in refused.text
    assert current_mill(mill.record).revision == 1


def test_a_row_is_added_like_another_and_taken_out_again(mill: PageMill):
    """A new row is in the draft, another is taken out, both stand in the difference."""
    visitor = mill.visitor("dell")
    like = row_path(visitor, "firms", current_mill(mill.record).firms[0].firm)
    number = like.rsplit("/", 1)[1]
    form = visitor.get(f"/tables/firms/new?like={number}").text
    fields = fields_of(form) | {"cell-firm": "new-firm", "cell-name": "A <New> Firm"}
    assert visitor.post("/tables/firms/rows", hidden=fields).status_code == 303
    page = visitor.get("/tables/firms").text
    assert "A &lt;New&gt; Firm" in page
    added = row_path(visitor, "firms", "new-firm")
    gone = fields_of(visitor.get(added).text)
    assert "new-firm" in visitor.get("/table-draft").text
    answer = visitor.post(f"{added}/remove", hidden=gone)
    assert answer.status_code == 303
    assert "There is no draft" in visitor.get("/table-draft").text


def test_a_product_with_an_open_order_cannot_be_taken_out(mill: PageMill):
    """The draft says which open orders could not be made."""
    visitor = mill.visitor("dell")
    text = html.unescape(visitor.get("/orders").text)
    products = current_mill(mill.record).products
    code = next(row.product for row in products if row.name in text)
    path = row_path(visitor, "products", code)
    visitor.post(f"{path}/remove", hidden=fields_of(visitor.get(path).text))
    assert "Open orders" in visitor.get("/table-draft").text


def test_two_people_at_once_lose_nothing(mill: PageMill):
    """The second is told who was first and what changed; carried over, both changes stand."""
    dell, rosa = mill.visitor("dell"), mill.visitor(nutritionist(mill))
    changed(dell, row_path(dell, "machines", "MX1"), mass_max_kg="4000")
    changed(rosa, row_path(rosa, "machines", "MX2"), mass_max_kg="2000")
    changed(rosa, row_path(rosa, "machines", "MX1"), mass_max_kg="3900")
    assert keep(dell).status_code == 303
    refused = keep(rosa)
    assert refused.status_code == 409
    assert "Dell Marrow kept revision 2" in refused.text
    assert "mass_max_kg was" in refused.text
    assert rosa.post("/table-draft/carry", page="/table-draft").status_code == 303
    draft = rosa.get("/table-draft").text
    assert "Changed by you and by somebody else" in draft
    assert "the other wrote 4000, you wrote 3900" in draft
    assert keep(rosa).headers["location"] == "/revisions/3?done=kept"
    stands = current_mill(mill.record)
    assert round(stands.machine_by_code["MX1"].mass_max_kg or 0, 3) == 1769.010
    assert round(stands.machine_by_code["MX2"].mass_max_kg or 0, 3) == 907.185


def test_two_windows_of_one_person_lose_nothing(mill: PageMill):
    """A form that shows a row as it was before the other window changed it is refused, with both."""
    visitor = mill.visitor("dell")
    path = row_path(visitor, "machines", "MX1")
    old = fields_of(visitor.get(path).text)
    changed(visitor, path, mass_max_kg="4000")
    answer = visitor.post(path, hidden=old | {"cell-name": "the old form"})
    assert answer.status_code == 409
    assert "changed in another window" in answer.text
    assert "the old form" in answer.text
    assert "the old form" not in visitor.get(path).text


def test_a_form_read_before_somebody_kept_tables_still_changes_its_own_row(mill: PageMill):
    """The draft begins with the revision that the form showed, so no other row is hit."""
    dell = mill.visitor("dell")
    other = mill.visitor(nutritionist(mill))
    path = row_path(other, "firms", current_mill(mill.record).firms[-1].firm)
    form = fields_of(other.get(path).text)
    fresh = fields_of(dell.get("/tables/firms/new").text)
    fresh |= {"cell-firm": "aaa", "cell-name": "Aaa", "cell-role": "carrier"}
    dell.post("/tables/firms/rows", hidden=fresh)
    keep(dell)
    assert other.post(path, hidden=form | {"cell-phone": "555-0100"}).status_code == 303
    draft = other.get("/table-draft").text
    assert "Revision 2 was kept meanwhile" in draft
    assert current_mill(mill.record).firms[-2].firm in draft


def test_only_a_manager_changes_who_works_here(mill: PageMill):
    """A nutritionist's draft of the people is not kept, and the page says who may."""
    visitor = mill.visitor(nutritionist(mill))
    changed(visitor, row_path(visitor, "people", nutritionist(mill)), role="manager")
    refused = keep(visitor)
    assert refused.status_code == 409
    assert "may not change who works here" in html.unescape(refused.text)


def test_what_the_draft_breaks_of_plans_is_asked_and_said(mill: PageMill):
    """With no plan in force nothing is broken, and with a fault it cannot be said yet."""
    visitor = mill.visitor("dell")
    changed(visitor, row_path(visitor, "machines", "MX1"), mass_max_kg="4000")
    assert "No plan is in force" in visitor.get("/table-draft/breaks").text
    changed(visitor, row_path(visitor, "machines", "MX2"), mass_max_kg="x")
    assert "once no fault is left" in visitor.get("/table-draft/breaks").text


def test_settings_are_one_row_and_what_everything_is_read_by_stays(mill: PageMill):
    """The place can be changed; units and time zone cannot, whatever a form says."""
    visitor = mill.visitor("dell")
    path = "/tables/settings/rows/1"
    fields = fields_of(visitor.get(path).text)
    fields |= {"cell-place": "9 Weir Road", "cell-units": "SI", "cell-time_zone": "UTC"}
    assert visitor.post(path, hidden=fields).status_code == 303
    keep(visitor)
    settings = current_mill(mill.record).settings
    assert (settings.place, settings.units) == ("9 Weir Road", "US")
    assert settings.time_zone != "UTC"


def test_a_cell_longer_than_anything_a_person_means_is_refused_and_stays_typed(mill: PageMill):
    """Nothing of it enters the draft, and what was typed is still in the form."""
    visitor = mill.visitor("dell")
    path = row_path(visitor, "bins", "B01")
    answer = changed(visitor, path, name="x" * 2001)
    assert answer.status_code == 400
    assert "is too long" in answer.text
    assert "x" * 2001 in answer.text
    assert "There is no draft" in visitor.get("/table-draft").text
