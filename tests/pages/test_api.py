"""The JSON readings and their description."""

from bedstone.desk.plan_json import plan_from_json
from bedstone.desk.stock import stock_table
from fakes.desk_day import PLAN
from fakes.page_server import PageMill


def test_the_plan_comes_back_as_it_was(read_mill: PageMill):
    """The plan as JSON reads back to the very plan that was released."""
    found = read_mill.visitor().get("/api/plan").json()
    assert found["status"] == "released"
    assert plan_from_json(found["plan"]) == PLAN


def test_stock_has_the_rows_of_the_desk(read_mill: PageMill):
    """Stock as JSON has every row of the desk with whole milligrams."""
    rows = read_mill.visitor().get("/api/stock").json()
    expected = [(row.place, row.material, row.mass_mg) for row in stock_table(read_mill.record)]
    assert [(row["place"], row["material"], row["mass_mg"]) for row in rows] == expected


def test_orders_and_traces_are_served(read_mill: PageMill):
    """Orders carry what is made and left; a trace carries both ways."""
    visitor = read_mill.visitor()
    assert visitor.get("/api/orders").json()[0]["order"]["order"] == "4107"
    found = visitor.get("/api/trace/L-SALT").json()
    assert found["kind"] == "load"
    assert {"back", "forward"} <= found.keys()


def test_every_error_has_the_one_shape(read_mill: PageMill):
    """Unknown lots, unknown addresses and wrong parameters all answer in the one JSON shape."""
    names = {"error", "what", "seen", "allowed", "source", "do", "faults"}
    for path, status in (
        ("/api/trace/nix", 404),
        ("/api/nix", 404),
        ("/api/plan?day=x", 400),
        ("/api/stock?at=x", 400),
        ("/api/plan?day=2020-01-01", 404),
    ):
        answer = read_mill.visitor().get(path)
        assert answer.status_code == status
        assert answer.json().keys() == names


def test_only_readings_are_described(read_mill: PageMill):
    """The description names the JSON readings and no page."""
    described = read_mill.visitor().get("/api/openapi.json").json()
    assert set(described["paths"]) == {
        "/api/plan",
        "/api/stock",
        "/api/orders",
        "/api/trace/{lot}",
    }
    assert all(list(way) == ["get"] for way in described["paths"].values())
