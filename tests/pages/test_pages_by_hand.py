"""Runs of a plan moved by hand on the pages: what it costs and breaks, undone, proposed, released."""

import datetime as dt
import html
import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from bedstone.desk import plan_day
from bedstone.desk.orders import all_orders, cancel_order
from bedstone.desk.plans import find_plan, order_of_running
from bedstone.desk.revisions import current_mill
from bedstone.mill.plan import Plan
from fakes.page_quillback import DAY, EARLY, quillback_pages, with_plan
from fakes.page_server import PageMill, Visitor


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[PageMill, Plan]]:
    """The demo mill's pages with a released plan of a few orders; no test here may record."""
    with quillback_pages(tmp_path_factory.mktemp("by-hand")) as served:
        yield served, with_plan(served)


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[tuple[PageMill, Plan]]:
    """The same, for one test alone."""
    with quillback_pages(tmp_path) as served:
        yield served, with_plan(served)


def begun(visitor: Visitor, plan: Plan, **move: str) -> str:
    """The address of the order that a plan is opened as."""
    answer = visitor.post(f"/plans/{plan.plan}/by-hand", page=f"/plans/{plan.plan}", **move)
    address = answer.headers["location"]
    while address.startswith("/under-way/"):
        found = visitor.get(address)
        address = found.headers.get("location", address)
    assert address.startswith("/by-hand/"), address
    return str(address)


def act(visitor: Visitor, address: str, name: str, **fields: str) -> httpx.Response:
    """Press a button of the page."""
    return visitor.post(f"{address}/{name}", page=address, **fields)


def order_shown(visitor: Visitor, address: str, mixer: str) -> list[str]:
    """The runs on a mixer as the page lists them."""
    text = visitor.get(address).text
    part = text[text.index(f'id="on-{mixer}"') :].split("</section>")[0]
    return re.findall(r'<li id="run-([^"]+)">', part)


def of_mixer(plan: Plan, mixer: str) -> list[str]:
    """The runs of a plan on a mixer."""
    return [run for run, on in order_of_running(plan) if on == mixer]


def busiest(plan: Plan) -> str:
    """The mixer with the most runs."""
    mixers = {mixer for _, mixer in order_of_running(plan)}
    return max(sorted(mixers), key=lambda one: len(of_mixer(plan, one)))


def test_the_plan_opened_by_hand_is_the_plan(planned: tuple[PageMill, Plan]):
    """Nothing moved: the same order, the same cost, and nothing to undo or to propose."""
    mill, plan = planned
    visitor = mill.visitor("dell")
    address = begun(visitor, plan)
    mixer = busiest(plan)
    assert order_shown(visitor, address, mixer) == of_mixer(plan, mixer)
    text = visitor.get(address).text
    assert "It costs the same as the plan it began with." in text
    assert re.search(r"<button disabled>Undo", text)
    assert re.search(r'<button class="main large" disabled>Propose', text)


def test_moves_are_made_undone_and_done_again(planned: tuple[PageMill, Plan]):
    """Later, before another run, out and in again; each step back, and forward."""
    mill, plan = planned
    visitor = mill.visitor("dell")
    address, mixer = begun(visitor, plan), busiest(plan)
    runs = of_mixer(plan, mixer)
    assert len(runs) >= 3
    act(visitor, address, "move", run=runs[0], step="later")
    later = [runs[1], runs[0], *runs[2:]]
    assert order_shown(visitor, address, mixer) == later
    act(visitor, address, "move", run=runs[2], mixer=mixer, before=runs[1])
    before = [runs[2], *[run for run in later if run != runs[2]]]
    assert order_shown(visitor, address, mixer) == before
    act(visitor, address, "move", run=runs[0], step="out")
    assert runs[0] not in order_shown(visitor, address, mixer)
    assert "is not in this day" in visitor.get(address).text
    for expected in (before, later, runs):
        act(visitor, address, "undo")
        assert order_shown(visitor, address, mixer) == expected
    act(visitor, address, "redo")
    assert order_shown(visitor, address, mixer) == later
    act(visitor, address, "again")
    assert order_shown(visitor, address, mixer) == runs
    act(visitor, address, "undo")
    assert order_shown(visitor, address, mixer) == later


def test_what_a_held_bar_would_cost_is_said_and_changes_nothing(planned: tuple[PageMill, Plan]):
    """Asking about a place leaves the order as it is and names the difference in money."""
    mill, plan = planned
    visitor = mill.visitor("dell")
    address, mixer = begun(visitor, plan), busiest(plan)
    runs = of_mixer(plan, mixer)
    said = visitor.get(f"{address}/try?run={runs[-1]}&mixer={mixer}&before={runs[0]}").text
    assert "If you let go here" in said
    assert "It costs" in said
    wrong = visitor.get(f"{address}/try?run={runs[0]}&mixer=MX9").text
    assert "is not made on that mixer" in html.unescape(wrong)
    assert order_shown(visitor, address, mixer) == runs


def test_a_piece_is_answered_to_the_script_with_both_pictures(planned: tuple[PageMill, Plan]):
    """A move sent by the script is answered by the piece that changes, with bars that can move."""
    mill, plan = planned
    visitor = mill.visitor("dell")
    address, mixer = begun(visitor, plan), busiest(plan)
    runs = of_mixer(plan, mixer)
    hidden = visitor.fields(address)
    answer = visitor.http.post(
        f"{address}/move",
        data={**hidden, "run": runs[0], "step": "later"},
        headers={"Origin": mill.base, "HX-Request": "true"},
    )
    assert answer.status_code == 200
    assert "<html" not in answer.text
    assert answer.text.count('<svg class="day"') == 2
    assert f'data-run="{runs[0]}" data-machine="{mixer}"' in answer.text
    assert "Undo (1)" in answer.text


def test_a_move_made_on_today_opens_the_plan_with_it(planned: tuple[PageMill, Plan]):
    """A bar dropped on Today is the first step of the order, and can be undone."""
    mill, plan = planned
    visitor = mill.visitor("dell")
    mixer = busiest(plan)
    runs = of_mixer(plan, mixer)
    assert 'id="open-by-hand"' in visitor.get("/").text
    address = begun(visitor, plan, run=runs[1], mixer=mixer, before=runs[0])
    assert order_shown(visitor, address, mixer)[:2] == [runs[1], runs[0]]
    act(visitor, address, "undo")
    assert order_shown(visitor, address, mixer) == runs


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"run": "R-NIX", "step": "later"}, "There is no such run"),
        ({"run": "", "step": "sideways"}, "There is no such run"),
    ],
)
def test_a_move_that_cannot_be_understood_changes_nothing(
    planned: tuple[PageMill, Plan], fields: dict[str, str], said: str
):
    """The page says why, in words, and the order is as it was."""
    mill, plan = planned
    visitor = mill.visitor("dell")
    address, mixer = begun(visitor, plan), busiest(plan)
    answer = act(visitor, address, "move", **fields)
    assert answer.status_code == 400
    assert said in answer.text
    assert order_shown(visitor, address, mixer) == of_mixer(plan, mixer)


def test_somebody_elses_order_is_not_shown(planned: tuple[PageMill, Plan]):
    """Another person, or nobody, finds no such order."""
    mill, plan = planned
    address = begun(mill.visitor("dell"), plan)
    people = current_mill(mill.record).people
    other = next(row.person for row in people if row.role == "shipping")
    assert mill.visitor(other).get(address).status_code == 404
    assert mill.visitor().get(address).status_code == 409


def test_an_order_that_costs_more_is_proposed_released_and_its_difference_recorded(
    fresh: tuple[PageMill, Plan],
):
    """The plan names who made its order and what it costs beyond the other; so does the release."""
    mill, plan = fresh
    visitor = mill.visitor("dell")
    address, mixer = begun(visitor, plan), busiest(plan)
    runs = of_mixer(plan, mixer)
    best = (0, "")
    for run in runs[:-1]:
        said = visitor.get(f"{address}/try?run={run}&mixer={mixer}").text
        more = re.search(r"It costs \$([\d,.]+) more", said)
        cents = round(float(more[1].replace(",", "")) * 100) if more else 0
        best = max(best, (cents, run) if "It breaks" not in said else (0, ""))
    cents, run = best
    assert cents > 0
    act(visitor, address, "move", run=run, mixer=mixer)
    answer = act(visitor, address, "propose")
    where = answer.headers["location"]
    while where.startswith("/under-way/"):
        where = visitor.get(where).headers.get("location", where)
    made = where.split("?")[0].rsplit("/", 1)[1]
    standing = find_plan(mill.record, made)
    assert standing.by_hand is not None
    assert standing.by_hand.instead_of == plan.plan
    assert round(standing.by_hand.dearer_cents100 / 100) == cents
    page = visitor.get(where).text
    assert "made by hand by Dell Marrow" in page
    assert "which costs $" in page
    assert visitor.post(f"/plans/{made}/release", page=where).status_code == 303
    released = next(mill.record.facts(kinds=("planning.plan_released/1",), newest_first=True))
    assert released.fact.by == "dell"
    assert released.fact.content["by_hand"] == standing.by_hand.as_content()
    found = plan_day.released_plan(mill.record, DAY)
    assert found is not None
    assert of_mixer(found.plan, mixer)[-1] == run


def test_a_record_that_moved_on_is_told_and_nothing_stale_is_proposed(
    fresh: tuple[PageMill, Plan],
):
    """An order cancelled meanwhile: the page says so, its run is gone, and proposing waits for a look."""
    mill, plan = fresh
    visitor = mill.visitor("dell")
    address, mixer = begun(visitor, plan), busiest(plan)
    runs = of_mixer(plan, mixer)
    act(visitor, address, "move", run=runs[0], step="later")
    read_before = visitor.fields(address)
    gone = next(
        row.order.order for row in all_orders(mill.record) if f"R-{row.order.order}" == runs[-1]
    )
    cancel_order(mill.record, gone, why="not wanted", by="dell", at=EARLY)
    head = mill.record.head()
    refused = visitor.post(f"{address}/propose", hidden=read_before)
    assert refused.status_code == 409
    assert "The record has moved on since you looked; nothing was proposed." in refused.text
    assert "cancelled: not wanted" in refused.text
    assert mill.record.head() == head
    assert runs[-1] not in order_shown(visitor, address, mixer)


def test_a_plan_of_a_day_that_is_over_is_not_moved(fresh: tuple[PageMill, Plan]):
    """The day after, the page says so and offers no button."""
    mill, plan = fresh
    visitor = mill.visitor("dell")
    hidden = visitor.fields("/")
    mill.clock.at = EARLY + dt.timedelta(hours=30)  # type: ignore[attr-defined] # a fixed clock
    visitor.sign_in("dell")
    assert "Move runs by hand" not in visitor.get(f"/plans/{plan.plan}").text
    answer = visitor.post(f"/plans/{plan.plan}/by-hand", hidden=hidden)
    assert answer.status_code == 409
    assert "is over" in answer.text
