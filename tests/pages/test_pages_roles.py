"""Which role may do which act on the pages, by the one table of roles."""

import re
from pathlib import Path

import pytest

import bedstone.web
from bedstone.mill.equipment import ROLES
from bedstone.mill.model import Person
from bedstone.web.roles import ACTS, may, who_may
from fakes.desk_day import PLAN
from fakes.page_server import PageMill, a_page_folder

PEOPLE = {person.role: person.person for person in a_page_folder().mill.people}
RUN = PLAN.runs[0].run
FORMS = {
    f"/plans/{PLAN.plan}/release": "release",
    "/journal/2/reverse": "take back",
    "/plan": "plan",
    f"/plans/{PLAN.plan}/propose": "plan",
    "/orders": "order",
    "/orders/4107": "order",
    "/orders/4107/cancel": "order",
    "/batches/4105-01/start": "batch",
    "/batches/4105-01/record": "batch",
    "/batches/4105-01/import": "batch",
    f"/batches/{PLAN.clean_outs[0].before_batch}/cleaned": "clean-out",
    "/batches/4105-01/flush": "batch",
    "/batches/4105-01/beforehand": "batch",
    "/batches/4105-01/confirm": "drug check",
    "/batches/4105-01/rebalance": "batch",
    "/batches/4105-01/clean": "clean-out",
    f"/grinding/{PLAN.grinding[0].job}": "grinding",
    f"/runs/{RUN}/pelleted": "pelleting",
    f"/runs/{RUN}/packed": "packing",
    f"/runs/{RUN}/shipped": "shipping",
    f"/runs/{RUN}/bulk": "shipping",
    "/bins/B1/empty": "bin",
    "/bins/B1/count": "bin",
    "/bins/B1/level": "level",
    "/arrival/take": "arrival",
    "/arrival/refuse": "arrival",
    "/arrivals/T1/settle": "settle",
    "/arrivals/T1/back": "under hold",
    "/samples/T1/discard": "sample",
    "/lots/L-SALT/hold": "hold",
    "/proofs/SC1": "proof",
    "/power": "power",
    "/tanks": "level",
    "/mixers/MX1/test": "mixer test",
    "/tables/bins/rows": "tables",
    "/tables/bins/rows/1": "tables",
    "/tables/bins/rows/1/remove": "tables",
    "/table-draft/keep": "tables",
    "/table-draft/carry": "tables",
    "/table-draft/drop": "tables",
    f"/plans/{PLAN.plan}/by-hand": "plan",
    "/by-hand/nix/move": "plan",
    "/by-hand/nix/undo": "plan",
    "/by-hand/nix/redo": "plan",
    "/by-hand/nix/again": "plan",
    "/by-hand/nix/propose": "plan",
    "/pellet-line/calibration/PL1": "readings",
    "/pellet-line/runs/R-4107": "readings",
    "/pellet-line/bin-reading": "readings",
    "/pellet-line/tests/tumbled": "readings",
    "/pellet-line/tests/sieved": "readings",
    "/pellet-line/die/fitted": "pelleting",
    "/pellet-line/additives/own": "tables",
    "/formulas/SHEEP-GR/draft": "formula draft",
    "/formulas/SHEEP-GR/versions/3/approve": "formula approve",
    "/formulas/SHEEP-GR/versions/3/use": "formula use",
    "/formulas/SHEEP-GR/versions/3/withdraw": "formula use",
}

OF_COMMANDS = {
    "pins",
    "people",  # looked at when a draft of the tables is kept
    "assay",
    "complaint",
}
"""Acts for which the pages have no form of their own."""
OF_NUTRITIONIST = {"tables", "assay", "formula draft", "formula approve", "formula use"}


def _refused(mill: PageMill, role: str) -> set[str]:
    """The forms that somebody of a role is refused for the role."""
    visitor = mill.visitor(PEOPLE[role])
    hidden = visitor.fields("/sign-in") | {"plan": PLAN.plan, "after": "x"}
    hidden["clean_out"] = PLAN.clean_outs[0].clean_out
    asked = {path for path, act in FORMS.items() if not may(_person(role), act)}
    answers = {path: visitor.post(path, hidden=hidden) for path in asked}
    for path, answer in answers.items():
        assert who_may(FORMS[path]) in answer.text, path
    return {path for path, answer in answers.items() if answer.status_code == 409}


def _person(role: str) -> Person:
    return next(person for person in a_page_folder().mill.people if person.role == role)


@pytest.mark.parametrize("role", [role for role in ROLES if role not in {"manager", "inspector"}])
def test_each_role_is_refused_what_it_may_not_do_and_told_who_may(read_mill: PageMill, role: str):
    """Every form of an act that is not the role's is refused with the roles that may; nothing is
    written.
    """
    before = read_mill.record.head()
    assert _refused(read_mill, role) == {
        path for path, act in FORMS.items() if role not in ACTS[act]
    }
    assert read_mill.record.head() == before


def test_every_form_of_the_pages_is_of_an_act():
    """No form that writes is left out of the test above."""
    words = "\n".join(
        path.read_text(encoding="utf-8") for path in Path(bedstone.web.__file__).parent.glob("*.py")
    )
    routes = set(re.findall(r'@router\.post\("([^"]+)"\)', words)) - {"/sign-in", "/sign-out"}
    patterns = {re.sub(r"\{\w+\}", "[^/]+", route) for route in routes}
    assert patterns
    for pattern in patterns:
        assert any(re.fullmatch(pattern, path) for path in FORMS), pattern
    assert set(ACTS) - OF_COMMANDS == set(FORMS.values())


def test_the_manager_may_do_everything_and_the_reading_roles_nothing():
    """An inspector records nothing, a nutritionist tables, formulas and assays alone; roles of the table are
    roles of the mill.
    """
    for act, roles in ACTS.items():
        assert "manager" in roles
        assert "inspector" not in roles
        assert act in OF_NUTRITIONIST or "nutritionist" not in roles
        assert set(roles) <= set(ROLES)
    assert not may(None, "batch")


def test_pages_offer_only_what_the_role_may_do(read_mill: PageMill):
    """A batch operator is shown no form for orders or bins, a receiver none for batches."""
    mara, tove, cleo = (read_mill.visitor(name) for name in ("mara", "tove", "cleo"))
    assert "I saw it empty" not in mara.get("/bins/B1").text
    assert "one must be manager or receiver" in mara.get("/bins/B1").text
    assert "I saw it empty" in tove.get("/bins/B1").text
    assert "Start this batch" in mara.get("/batches/4105-01").text
    assert "Start this batch" not in tove.get("/batches/4105-01").text
    assert "New order" in cleo.get("/orders").text
    assert "New order" not in mara.get("/orders").text
