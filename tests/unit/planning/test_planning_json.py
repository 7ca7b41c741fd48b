"""A plan as JSON and back, and what a hand-edited one is told."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from bedstone.errors import BadInput
from bedstone.mill.plan import Plan
from bedstone.planning.assemble import assemble
from bedstone.planning.day import plan_runs
from bedstone.planning.plan_json import plan_from_json, plan_to_json
from fakes.planned import plain_draws, plan_of
from fakes.planning_mill import problem, wanted

ASKED = problem(
    wanted("1", "PIG-CU", 3000),
    wanted("2", "SHEEP", 2000),
    wanted("3", "BEEF-M", 999_999, pack="bulk"),
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    """A plan of three orders, one of which cannot be made."""
    return plan_of(ASKED)


def test_a_plan_comes_back_as_it_was(plan: Plan):
    """Through text and back nothing changes, not the last digit of a time or a number."""
    assert plan_from_json(json.loads(json.dumps(plan_to_json(plan)))) == plan


def test_the_id_is_made_from_the_content(plan: Plan):
    """The same content has the same id; another place in the journal makes another."""
    assert plan.plan.startswith("P-2026-11-25-")
    outcome = plan_runs(ASKED)
    draws = plain_draws(ASKED, outcome)
    other = assemble(outcome, draws, made_at=ASKED.now, revision=3, position=8, head="ab" * 32)
    assert other.plan != plan.plan


def test_draws_must_belong_to_the_batches(plan: Plan):
    """A plan cannot be put together with draws missing for one of its batches."""
    outcome = plan_runs(ASKED)
    draws = dict(plain_draws(ASKED, outcome))
    draws.pop(plan.batches[0].batch)
    with pytest.raises(BadInput, match=plan.batches[0].batch):
        assemble(outcome, draws, made_at=ASKED.now, revision=3, position=7, head="")


def _set(*path: str | int, value: object) -> Callable[[dict[str, Any]], None]:
    def edit(content: Any) -> None:
        for key in path[:-1]:
            content = content[key]
        content[path[-1]] = value

    return edit


def _drop(*path: str | int) -> Callable[[dict[str, Any]], None]:
    def edit(content: Any) -> None:
        for key in path[:-1]:
            content = content[key]
        del content[path[-1]]

    return edit


def _twice(content: dict[str, Any]) -> None:
    content["batches"].append(content["batches"][0])


EDITS = {
    "another format": (_set("format", value="plan/9"), "plan/9"),
    "no format": (_drop("format"), "no key 'format'"),
    "a missing key": (_drop("batches", 0, "mixer"), "plan.batches[0].mixer"),
    "an unknown key": (_set("runs", 0, "colour", value="red"), "plan.runs[0].colour"),
    "a time without zone": (
        _set("batches", 0, "start_at", value="2026-11-25T06:00:00"),
        "2026-11-25T06:00:00",
    ),
    "no time at all": (_set("made_at", value="soon"), "'soon'"),
    "a mass below nothing": (_set("batches", 0, "mass_mg", value=-5), "-5"),
    "a mass with a fraction": (_set("batches", 0, "mass_mg", value=5.5), "5.5"),
    "a mass as text": (_set("batches", 0, "mass_mg", value="12"), "'12'"),
    "a batch twice": (_twice, "twice"),
    "a kind that is none": (_set("batches", 0, "kind", value="food"), "feed, flush"),
    "a list that is none": (_set("bars", value=7), "a list"),
    "a row that is none": (_set("bars", 0, value=7), "an object"),
    "a day that is none": (_set("day", value="2026-13-01"), "2026-13-01"),
    "a number that is none": (_set("batches", 0, "dry_mix_s", value=float("nan")), "nan"),
    "a yes for a number": (_set("seed", value=True), "True"),
    "nothing for a text": (_set("batches", 0, "run", value=None), "None"),
}


@pytest.mark.parametrize(("edit", "named"), EDITS.values(), ids=EDITS)
def test_a_hand_edited_plan_is_told_what_is_wrong(
    plan: Plan, edit: Callable[[dict[str, Any]], None], named: str
):
    """Each kind of nonsense is refused with the place and what was found, never a traceback."""
    content = json.loads(json.dumps(plan_to_json(plan)))
    edit(content)
    with pytest.raises(BadInput) as refused:
        plan_from_json(content)
    assert named in str(refused.value)


def test_every_fault_is_named_at_once(plan: Plan):
    """Three faults in one plan are three faults in one answer."""
    content = json.loads(json.dumps(plan_to_json(plan)))
    content["batches"][0]["mass_mg"] = -1
    del content["runs"][0]["pack"]
    content["day"] = "today"
    with pytest.raises(BadInput) as refused:
        plan_from_json(content)
    assert len(refused.value.faults) == 3


@pytest.mark.parametrize("content", [None, [], "plan", 3])
def test_what_is_no_plan_is_refused(content: object):
    """A list, a text or nothing at all is not a plan."""
    with pytest.raises(BadInput, match="not a plan"):
        plan_from_json(content)
