"""Forms without a browser: who may send them, from where, and what then stands in the record."""

from dataclasses import replace

import httpx
import pytest

from bedstone.desk.holds import held_lots
from bedstone.desk.made import made_batches
from bedstone.desk.orders import find_order, set_order
from bedstone.desk.receive import record_load
from bedstone.desk.stock import bins_view
from bedstone.desk.tables import current_mill
from bedstone.mill.plan import Batch
from fakes.desk_day import PLAN
from fakes.page_server import PIN, PageMill

SHEEP = next(batch for batch in PLAN.batches if batch.batch == "4105-01")


def position(mill: PageMill) -> int:
    """How many facts the record has."""
    return mill.record.head().position


def weighed(batch: Batch = SHEEP, **changes: str) -> dict[str, str]:
    """The fields of a batch on its targets, every number seen as understood."""
    fields = {"plan": PLAN.plan}
    for draw in batch.draws:
        fields[f"actual-{draw.sequence}"] = f"{draw.target_mg / 1e6:.6f} kg"
        fields[f"understood-{draw.sequence}"] = str(draw.target_mg)
        if draw.ingredient == "MONEN":
            fields[f"lot-{draw.sequence}"] = "L-MONEN"
    return fields | {key.replace("_", "-"): value for key, value in changes.items()}


FORMS = (
    ("/plan", {"day": "2026-11-25"}),
    (f"/plans/{PLAN.plan}/release", {}),
    ("/batches/4105-01/start", {"plan": PLAN.plan}),
    ("/batches/4105-01/record", weighed()),
    ("/batches/4105-01/cleaned", {"clean_out": "4107-01-clean"}),
    ("/bins/G1/empty", {}),
    ("/bins/G1/count", {"counted": "5", "material": "CORN-GR", "understood": "2267962"}),
    ("/orders", {"order": "5000", "customer": "harrow", "product": "SHEEP-GR", "mass": "500 kg",
                 "pack": "bulk", "due": "2026-11-26T10:00"}),
    ("/orders/4107", {"customer": "harrow", "product": "SHEEP-GR", "mass": "1 t", "pack": "bags",
                      "due": "2026-11-26T10:00"}),
    ("/orders/4107/cancel", {"why": "rain"}),
    ("/runs/R-4107/packed", {"bags": "3", "to": "WH1"}),
    ("/lots/L-SALT/hold", {"why": "wet", "act": "hold"}),
)  # fmt: skip


@pytest.mark.parametrize(("path", "fields"), FORMS, ids=[path for path, _ in FORMS])
def test_a_form_is_refused_from_another_site_without_token_or_person(
    read_mill: PageMill, path: str, fields: dict[str, str]
):
    """Each form is refused with another Origin, with none, without its word, by nobody, and by
    an inspector; nothing is written.
    """
    before = position(read_mill)
    visitor = read_mill.visitor("mara")
    hidden = visitor.fields("/sign-in")
    base = read_mill.base
    for headers in ({"Origin": "http://elsewhere.example"}, {"Origin": "null"}, {}):
        answer = visitor.http.post(path, data=hidden | fields, headers=headers)
        assert answer.status_code == 403
    for token in ("", "0" * 32):
        wrong = hidden | fields | {"token": token}
        assert visitor.http.post(path, data=wrong, headers={"Origin": base}).status_code == 409
    other = read_mill.visitor()
    answer = other.http.post(path, data=hidden | fields, headers={"Origin": base})
    assert answer.status_code == 409
    for person, words in (("", "Nobody is signed in"), ("ines", "records nothing")):
        answer = read_mill.visitor(person).post(path, page="/sign-in", **fields)
        assert answer.status_code == 409
        assert words in answer.text
    assert position(read_mill) == before


def test_another_host_name_is_turned_away(read_mill: PageMill):
    """A request that calls the server by a foreign name gets nothing, so no site can rebind it."""
    for host in ("evil.example", "evil.example:80", "127.0.0.1.evil.example"):
        answer = httpx.get(read_mill.base, headers={"Host": host})
        assert answer.status_code == 403
        assert "Quillback" not in answer.text


def test_signing_in_needs_the_right_pin_and_gives_a_closed_cookie(mill: PageMill):
    """A wrong PIN is refused with words, the right one gives a cookie no script can read."""
    visitor = mill.visitor()
    answer = visitor.sign_in("mara", "1111")
    assert answer.status_code == 409
    assert "The PIN is not right" in answer.text
    assert "bedstone_session" not in answer.headers.get("set-cookie", "")
    answer = visitor.post("/sign-in", person="nobody", pin=PIN, then="/")
    assert answer.status_code == 400
    answer = visitor.sign_in("mara")
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "Mara Oss" in visitor.get("/").text
    assert visitor.post("/sign-out", page="/").status_code == 303
    assert "Mara Oss, " not in visitor.get("/").text


def test_five_wrong_pins_lock_out(mill: PageMill):
    """After five wrong PINs even the right one is refused, in words."""
    visitor = mill.visitor()
    for _ in range(5):
        visitor.sign_in("mara", "9999")
    answer = visitor.sign_in("mara")
    assert answer.status_code == 409
    assert "Too many wrong PINs" in answer.text


@pytest.mark.parametrize("then", ["//evil.example", "https://evil.example", "/\\evil", "x", "/\n"])
def test_signing_in_never_leads_to_another_site(mill: PageMill, then: str):
    """Wherever the form says to go, signing in leads to a page of this server."""
    visitor = mill.visitor()
    answer = visitor.post("/sign-in", person="mara", pin=PIN, then=then)
    assert answer.headers["location"] == "/"


def test_only_a_manager_releases_a_plan(mill: PageMill):
    """A batch operator is refused with the role that may; nothing is written."""
    before = position(mill)
    answer = mill.visitor("mara").post(f"/plans/{PLAN.plan}/release", page="/")
    assert answer.status_code == 409
    assert "Allowed: manager" in answer.text
    assert position(mill) == before


def test_only_laboratory_or_manager_hold_a_lot(mill: PageMill):
    """A lot is held by the laboratory, not by a batch operator, and the trace page then says so."""
    assert mill.visitor("mara").post("/lots/L-SALT/hold", page="/", why="wet").status_code == 409
    lab = mill.visitor("labe")
    page = "/trace?lot=L-SALT"
    assert lab.post("/lots/L-SALT/hold", page=page, why="wet <b>", act="hold").status_code == 303
    text = lab.get(page).text
    assert "On hold: wet &lt;b&gt;" in text
    assert lab.post("/lots/L-SALT/hold", page=page, why="dry", act="release").status_code == 303
    assert "On hold" not in lab.get(page).text


def test_a_batch_is_held_on_its_page_while_it_is_weighed_and_when_it_is_made(mill: PageMill):
    """Not before it began and not by the operator; the laboratory's hold stands once it is made,
    and a batch that was made and let go can be held anew there.
    """
    page, act = "/batches/4105-01", "/lots/4105-01/hold"
    lab, operator = mill.visitor("labe"), mill.visitor("mara")
    assert lab.post(act, page=page, why="smells of oil", act="hold").status_code == 404
    assert operator.post(f"{page}/start", page=page, plan=PLAN.plan).status_code == 303
    assert "Hold this batch" not in operator.get(page).text
    assert operator.post(act, page=page, why="smells", act="hold").status_code == 409
    assert "Hold this batch" in lab.get(page).text
    answer = lab.post(act, page=page, why="smells of oil", act="hold")
    assert answer.status_code == 303
    assert answer.headers["location"] == page
    assert "smells of oil" in lab.get(page).text
    assert operator.post(f"{page}/record", page=page, **weighed()).status_code == 303
    assert held_lots(mill.record)["4105-01"] == "smells of oil"
    assert lab.post(act, page=page, why="it was the gloves", act="release").status_code == 303
    assert "Hold this batch" in lab.get(page).text
    assert lab.post(act, page=page, why="no, it was not", act="hold").status_code == 303
    assert held_lots(mill.record)["4105-01"] == "no, it was not"


def test_a_batch_is_recorded_only_after_its_numbers_were_seen(mill: PageMill):
    """Numbers not yet shown as understood come back for a look; the second time they are kept."""
    visitor = mill.visitor("mara")
    unseen = {key: value for key, value in weighed().items() if not key.startswith("understood")}
    before = position(mill)
    answer = visitor.post("/batches/4105-01/record", page="/batches/4105-01", **unseen)
    assert answer.status_code == 200
    assert "Not recorded yet" in answer.text
    assert position(mill) == before
    answer = visitor.post("/batches/4105-01/record", page="/batches/4105-01", **weighed())
    assert answer.status_code == 303
    made = made_batches(mill.record)["4105-01"]
    assert made.by == "mara"
    assert [draw.actual_mg for draw in made.made.draws] == [d.target_mg for d in SHEEP.draws]
    seen = next(m for m in mill.record.fact(made.position).fact.movements if m.seen)
    assert seen.seen.unit == "kg"
    text = visitor.get("/batches/4105-01").text
    assert "What was weighed, by Mara Oss" in text


def test_what_was_typed_stays_when_a_number_is_wrong(mill: PageMill):
    """A batch with an empty and a foul number is refused whole, names both, and keeps the rest."""
    before = position(mill)
    answer = mill.visitor("mara").post(
        "/batches/4105-01/record",
        page="/batches/4105-01",
        **weighed(actual_1="1,6 kg", actual_2=""),
    )
    assert answer.status_code == 400
    assert 'value="1,6 kg"' in answer.text
    assert answer.text.count("draw 1,") == answer.text.count("draw 2,") == 1
    assert f'value="{SHEEP.draws[2].target_mg / 1e6:.6f} kg"' in answer.text
    assert position(mill) == before


def test_two_windows_on_one_batch_lose_nothing(mill: PageMill):
    """The second window's batch is refused, says who was first, and keeps what was typed."""
    first, second = mill.visitor("mara"), mill.visitor("osk")
    hidden = second.fields("/batches/4105-01")
    assert first.post("/batches/4105-01/record", page="/batches/4105-01", **weighed()).is_redirect
    answer = second.post("/batches/4105-01/record", hidden=hidden, **weighed(actual_1="777 kg"))
    assert answer.status_code == 409
    assert "Mara Oss" in answer.text
    assert "batch 4105-01 made" in answer.text
    assert "777 kg" in answer.text
    assert made_batches(mill.record)["4105-01"].by == "mara"


def test_two_windows_on_different_things_do_not_disturb_each_other(mill: PageMill):
    """A form read before somebody else recorded something else goes through."""
    first, second = mill.visitor("mara"), mill.visitor("osk")
    hidden = second.fields("/bins/B6")
    assert first.post("/batches/4105-01/record", page="/batches/4105-01", **weighed()).is_redirect
    assert second.post("/bins/T2/empty", hidden=hidden).status_code == 303


def test_two_windows_on_one_order_show_both(mill: PageMill):
    """The later change is refused, shows what stands now beside what was typed, and writes nothing."""
    first, second = mill.visitor("mara"), mill.visitor("osk")
    hidden = second.fields("/orders/4107")
    fields = {
        "customer": "harrow",
        "product": "SHEEP-GR",
        "pack": "bags",
        "due": "2026-11-26T10:00",
    }
    standing = find_order(mill.record, "4107").order
    set_order(mill.record, replace(standing, note="call first"), by="mara", at=mill.clock())
    before = position(mill)
    answer = second.post("/orders/4107", hidden=hidden, mass="900 kg", note="mine", **fields)
    assert answer.status_code == 409
    assert "call first" in answer.text
    assert 'value="900 kg"' in answer.text
    assert ">mine</textarea>" in answer.text
    assert position(mill) == before
    assert first.get("/orders/4107").status_code == 200


def test_a_new_order_never_takes_the_number_of_an_old_one(mill: PageMill):
    """Adding an order under a number that is taken is a conflict that keeps what was typed."""
    before = position(mill)
    answer = mill.visitor("cleo").post(
        "/orders", page="/orders/new", order="4107", customer="stile", product="PIG-FIN",
        mass="123 kg", pack="bulk", due="2026-11-26T10:00", note="",
    )  # fmt: skip
    assert answer.status_code == 409
    assert 'value="123 kg"' in answer.text
    assert position(mill) == before


def test_a_count_is_shown_as_understood_before_it_is_kept(mill: PageMill):
    """A count comes back with what it changes; only then it becomes the book."""
    visitor = mill.visitor("tove")
    fields = {"counted": "4,000 lb", "material": "CORN-GR"}
    before = position(mill)
    answer = visitor.post("/bins/G1/count", page="/bins/G1", **fields)
    assert answer.status_code == 200
    assert "Understood as" in answer.text
    assert position(mill) == before
    answer = visitor.post("/bins/G1/count", page="/bins/G1", understood="1814369480", **fields)
    assert answer.status_code == 303
    view = next(view for view in bins_view(mill.record) if view.bin.bin == "G1")
    assert view.mass_mg == 1_814_369_480


def test_a_bin_seen_empty_is_empty(mill: PageMill):
    """Seen empty takes the book stock of the bin to nothing."""
    assert mill.visitor("tove").post("/bins/B7/empty", page="/bins/B7").status_code == 303
    view = next(view for view in bins_view(mill.record) if view.bin.bin == "B7")
    assert view.mass_mg == 0
    assert view.layers == ()


def test_the_controls_csv_fills_the_form_and_records_nothing(mill: PageMill):
    """The CSV of the controls fills in every number for a look; nothing is written yet."""
    visitor = mill.visitor("mara")
    names = current_mill(mill.record).settings
    rows = [f"{names.controls_batch},{names.controls_ingredient},{names.controls_actual}"]
    factor = {"kg": 1e6, "lb": 453_592.37, "g": 1e3}[names.controls_unit]
    rows += [f"4105-01,{draw.ingredient},{draw.target_mg / factor:.2f}" for draw in SHEEP.draws]
    before = position(mill)
    hidden = visitor.fields("/batches/4105-01")
    answer = visitor.http.post(
        "/batches/4105-01/import",
        data=hidden | {"plan": PLAN.plan},
        files={"csv": ("out.csv", "\n".join(rows).encode(), "text/csv")},
        headers={"Origin": mill.base},
    )
    assert answer.status_code == 200
    assert "Not recorded yet" in answer.text
    for draw in SHEEP.draws:
        assert f'name="understood-{draw.sequence}"' in answer.text
    assert position(mill) == before


def test_a_run_is_pelleted_packed_and_shipped(mill: PageMill):
    """The day is made in its order with clean-out and flush; a run is pelleted, held, released by
    the laboratory, packed and shipped, and its trace names the customer.
    """
    visitor = mill.visitor("mara")
    for batch in PLAN.batches:
        path = f"/batches/{batch.batch}"
        for job in PLAN.clean_outs:
            if job.before_batch == batch.batch:
                fields = {"plan": PLAN.plan, "clean_out": job.clean_out}
                assert visitor.post(f"{path}/cleaned", page=path, **fields).status_code == 303
        assert visitor.post(f"{path}/record", page=path, **weighed(batch)).status_code == 303
    june = mill.visitor("june")
    assert "cannot be reckoned" in june.post("/runs/R-4107/pelleted", page="/runs").text
    answer = june.post("/runs/R-4107/pelleted", page="/runs", day="", steam="300 kg", out="5600 kg")
    assert answer.status_code == 303, answer.text
    packing = {"day": "", "bags": "200", "scrap": "0", "to": "WH1"}
    visitor = mill.visitor("abel")
    refused = visitor.post("/runs/R-4107/packed", page="/runs", **packing)
    assert "on hold and must not be packed" in refused.text  # nobody knows what the bin held before
    assert 'name="bags" value="200"' in refused.text
    lab = mill.visitor("labe")
    for lot in held_lots(mill.record):
        path = f"/lots/{lot}/hold"
        answer = lab.post(path, page=f"/trace?lot={lot}", why="assayed, clean", act="release")
        assert answer.status_code == 303
    answer = visitor.post(
        "/runs/R-4107/packed", page="/runs", day="", bags="200", scrap="0", to="WH1"
    )
    assert answer.status_code == 303, answer.text
    fields = {"day": "", "bags": "200", "from": "WH1"}
    answer = visitor.post("/runs/R-4107/shipped", page="/runs", **fields)
    assert answer.status_code == 303, answer.text
    text = visitor.get("/runs").text
    assert "in with steam" in text
    assert "Packed: 200 of" in text
    assert "shipped: 200" in text
    traced = visitor.get("/trace?lot=R-4107").text
    assert "Harrow Lane Farm" in traced


def test_a_batch_recorded_wrongly_is_taken_back_and_recorded_anew(mill: PageMill):
    """A manager takes back a batch with a reason; stock is as before and it can be recorded again."""
    visitor, manager = mill.visitor("mara"), mill.visitor("osk")
    path = "/batches/4105-01"
    stock = mill.record.stock()
    assert visitor.post(f"{path}/record", page=path, **weighed()).status_code == 303
    place = made_batches(mill.record)["4105-01"].position
    undo = f"/journal/{place}/reverse"
    assert visitor.post(undo, page=path, why="slip").status_code == 409  # no manager
    assert manager.post(undo, page=f"/journal/{place}", why="").status_code == 400
    assert manager.post(undo, page=f"/journal/{place}", why="slip of a digit").status_code == 303
    assert mill.record.stock() == stock
    assert "Taken back" in visitor.get(f"/journal/{place}").text
    assert "taken back" in visitor.get("/journal").text
    assert manager.post(undo, page="/journal/1", why="again").status_code == 409
    answer = visitor.post(f"{path}/record", page=path, **weighed())
    assert answer.status_code == 303, answer.text


def test_what_is_set_anew_is_not_taken_back(mill: PageMill):
    """Tables, orders and plans are not taken back: their page offers no such form and refuses it."""
    manager = mill.visitor("osk")
    assert "Take this fact back" not in manager.get("/journal/1").text
    assert manager.post("/journal/1/reverse", page="/", why="x").status_code == 409


def test_grinding_is_recorded_against_its_job(mill: PageMill):
    """Grain ground fills the ground bin, and the job then says that it is recorded."""
    visitor = mill.visitor("mara")
    job = PLAN.grinding[0]
    record_load(
        mill.record, firm="fenwold", ingredient=job.ingredient, into=job.from_place, lot="L-NEW",
        mass_mg=9_000_000_000, by="mara", at=mill.clock(),
    )  # fmt: skip
    before = {view.bin.bin: view.mass_mg for view in bins_view(mill.record)}
    answer = visitor.post(
        f"/grinding/{job.job}", page="/runs", day="", **{"in": "6,000 kg", "out": "5,950 kg"}
    )
    assert answer.status_code == 303, answer.text
    after = {view.bin.bin: view.mass_mg for view in bins_view(mill.record)}
    assert after[job.to_place] - before[job.to_place] == 5_950_000_000
    assert before[job.from_place] - after[job.from_place] == 6_000_000_000
    assert "recorded" in visitor.get("/runs").text.partition(f'id="{job.job}"')[2]
