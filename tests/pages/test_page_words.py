"""The words of pages: masses as read, what a new plan changes, facts as sentences."""

import datetime as dt
import threading
from dataclasses import replace

import pytest

from bedstone.desk.level_masses import read_as
from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Fact, Json
from bedstone.web.batch_form import judged
from bedstone.web.fact_words import KINDS, what_happened
from bedstone.web.plan_words import difference_words
from bedstone.web.run_stages import shared
from bedstone.web.show import Show
from bedstone.web.typed import typed_count, typed_moment
from bedstone.web.work import Work
from fakes.desk_day import PLAN, a_desk_mill

SHOW = Show.of(a_desk_mill())
LB_MG = 453_592.37


@pytest.mark.parametrize(
    ("pounds", "division", "words"),
    [
        (364.0, 1.0, "364 lb"),
        (363.6, 1.0, "363.6 lb"),
        (16.02, 0.01, "16.02 lb"),
        (1250.5, 0.5, "1,250.5 lb"),
        (1250.55, 0.5, "1,250.55 lb"),
    ],
)
def test_a_mass_is_shown_as_finely_as_it_was_read(pounds: float, division: float, words: str):
    """A weight shows the scale's places, and one more only where it was read finer."""
    assert SHOW.mass_read(round(pounds * LB_MG), round(division * LB_MG)) == words


def test_the_same_plan_changes_nothing():
    """A plan against itself says that nothing changes; against none, that there was none."""
    assert difference_words(PLAN, PLAN, SHOW) == [
        "Nothing changes: the same orders at the same times for the same cost."
    ]
    assert "no plan for this day yet" in difference_words(None, PLAN, SHOW)[0]


def test_what_hurts_comes_first():
    """An order that becomes late, one that is made and dearer running are each said once."""
    runs = tuple(
        replace(run, late_s=5400.0, ready_at=run.ready_at + dt.timedelta(hours=5))
        if run.order == "4107"
        else run
        for run in PLAN.runs
        if run.order != "4105"
    )
    costs = replace(PLAN.costs, late_cents100=PLAN.costs.late_cents100 + 123_400)
    words = difference_words(PLAN, replace(PLAN, runs=runs, costs=costs), SHOW, made={"4105"})
    assert words[0] == "Order 4105 is made already."
    assert words[1].startswith("Order 4107 becomes late by 1 h 30 min: ready ")
    assert "costs $12.34 more" in words[2]
    assert len(words) == 3


def test_every_kind_of_fact_has_words():
    """Each sentence can be made even from a fact that lacks what it speaks of."""
    for kind in KINDS:
        fact = Fact(kind=kind, happened_at=PLAN.made_at, by="x", content={"plan": {"plan": "P-1"}})
        assert what_happened(fact, SHOW)
    unknown = Fact(kind="new.kind/9", happened_at=PLAN.made_at, by="x")
    assert what_happened(unknown, SHOW) == "new.kind/9"


def test_a_fact_is_told_with_the_mills_own_names():
    """Codes, outcomes of the gate, moments and levels are said as people say them."""

    def told(kind: str, **content: Json) -> str:
        fact = Fact(kind=kind, happened_at=PLAN.made_at, by="x", content=content)
        return what_happened(fact, SHOW)

    assert told("receiving.load_inspected/1", ticket="T9", outcome="PRICE_DOWN") == (
        "load of ticket T9 judged at the gate: it may unload at a lower price"
    )
    assert told("storage.level_read/1", place="B9", method="tape", value=2.18, unit="m") == (
        f"level of B9 read: {read_as('tape', 2.18, 'm', SHOW.units)}"
    )
    order = told("orders.order_set/1", order="4107", product="none", customer="nobody")
    assert order == "order 4107 set: none for nobody"
    assert "2026-" not in told("quality.power_event/1", to_at="2026-01-20T12:00:00+00:00")[:30]


def test_a_mass_is_shared_out_to_the_last_milligram():
    """The parts add up to the whole, whatever the masses."""
    assert shared(100, [1, 1, 1]) == [33, 33, 34]
    assert sum(shared(10**15 + 7, [3, 999_999_999, 12])) == 10**15 + 7
    assert shared(5, []) == []


@pytest.mark.parametrize("text", ["", "1.5", "-1", "nan", "1,5", "\u00b2", "1e3", "9" * 30])
def test_a_count_is_a_whole_number(text: str):
    """Anything but a whole number of nought or more is refused with what is allowed."""
    with pytest.raises(BadInput) as refused:
        typed_count(text, what="number of bags")
    assert refused.value.allowed


def test_a_moment_is_in_the_mills_time():
    """A time without offset is the mill's own; one too far away is refused."""
    assert typed_moment("2026-11-25T10:00", SHOW, what="x") == dt.datetime(
        2026, 11, 25, 16, tzinfo=dt.UTC
    )
    for text in ("9999-12-31T23:59", "0001-01-01T00:00+00:00", "soon"):
        with pytest.raises(BadInput):
            typed_moment(text, SHOW, what="moment")


def test_work_of_one_name_is_joined_and_its_error_is_told():
    """The same work asked for twice runs once; what it raises is raised where it is asked for."""
    work, gate, calls = Work(), threading.Event(), []

    def slow() -> str:
        calls.append(1)
        gate.wait(5)
        return "/there"

    def refused() -> str:
        raise Refused("no")

    first = work.start("plan", slow, join=True)
    assert work.start("plan", slow, join=True) is first
    gate.set()
    assert work.wait(first) == "/there"
    assert calls == [1]
    with pytest.raises(Refused):
        work.wait(work.start("other", refused))
    work.close()


@pytest.mark.parametrize(
    ("division_lb", "words"),
    [(0.1, "98.34 lb over target"), (0.2, "98.34 lb over target"), (2, "98.3 lb over target")],
)
def test_what_is_over_has_the_figures_of_the_scale(division_lb: float, words: str):
    """A draw far off its target says by how much to a tenth of the division, and no finer."""
    division_mg = round(division_lb * 453_592.37)
    found = judged(
        round(198.340_001 * 453_592.37),
        target_mg=round(100 * 453_592.37),
        tolerance_mg=division_mg,
        division_mg=division_mg,
        show=SHOW,
    )
    assert found.words == words
