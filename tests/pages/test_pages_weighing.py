"""The page of a batch while it is weighed up: hand additions, second person, re-balancing."""

from bedstone.desk.beforehand import weighed_beforehand
from bedstone.desk.made import made_batches
from bedstone.desk.rebalance_batch import rebalancings
from fakes.desk_day import PLAN
from fakes.page_server import PageMill

BATCH = next(batch for batch in PLAN.batches if batch.batch == "4105-01")
DRUG = next(draw for draw in BATCH.draws if draw.ingredient == "MONEN")
PATH = "/batches/4105-01"


def test_a_drug_is_weighed_by_one_and_confirmed_by_another(mill: PageMill):
    """The operator weighs and scans; the page asks somebody else, who confirms; the form is filled."""
    operator, lab = mill.visitor("mara"), mill.visitor("labe")
    mass = f"{DRUG.target_mg / 1e6:.6f} kg"
    fields = {"plan": PLAN.plan, "draw": str(DRUG.sequence), "mass": mass, "lot": "L-MONEN"}
    answer = operator.post(f"{PATH}/beforehand", page=PATH, **fields)
    assert answer.status_code == 303, answer.text
    place = {"plan": PLAN.plan, "draw": str(DRUG.sequence)}
    refused = operator.post(f"{PATH}/confirm", page=PATH, **place)
    assert refused.status_code == 409
    assert "Whoever weighed a drug does not confirm it" in refused.text
    assert lab.post(f"{PATH}/confirm", page=PATH, **place).status_code == 303
    assert weighed_beforehand(mill.record, "4105-01")[DRUG.sequence].confirmed_by == "labe"
    assert operator.post(f"{PATH}/start", page=PATH, plan=PLAN.plan).status_code == 303
    text = operator.get(PATH).text
    assert 'value="L-MONEN"' in text
    assert "Now:" in text


def test_what_cannot_be_weighed_comes_back_with_what_was_typed(mill: PageMill):
    """The wrong sack is refused in words, and lot and mass stay in the form."""
    fields = {"plan": PLAN.plan, "draw": str(DRUG.sequence), "mass": "0.9 kg", "lot": "L-SALT"}
    answer = mill.visitor("mara").post(f"{PATH}/beforehand", page=PATH, **fields)
    assert answer.status_code == 400
    assert "scan the right sack" in answer.text
    assert 'value="L-SALT"' in answer.text
    assert not weighed_beforehand(mill.record, "4105-01")


def test_a_draw_far_over_shows_the_arithmetic_and_holds(mill: PageMill):
    """Where nothing may move the page says hold with the reckoning, and keeps what was typed."""
    visitor = mill.visitor("mara")
    assert visitor.post(f"{PATH}/start", page=PATH, plan=PLAN.plan).status_code == 303
    over = f"{BATCH.draws[0].target_mg / 1e6 + 150:.2f} kg"
    fields = {"plan": PLAN.plan, "actual-1": over}
    answer = visitor.post(f"{PATH}/rebalance", page=PATH, **fields)
    assert answer.status_code == 200
    assert "The rest cannot be made to fit" in answer.text
    assert "in the mixer" in answer.text
    assert f'value="{over}"' in answer.text
    assert not rebalancings(mill.record)["4105-01"].fits
    assert "4105-01" not in made_batches(mill.record)


def test_rebalancing_nothing_is_refused_in_words(mill: PageMill):
    """With no number typed there is nothing to reckon with."""
    answer = mill.visitor("mara").post(f"{PATH}/rebalance", page=PATH, plan=PLAN.plan)
    assert answer.status_code == 400
    assert "some draws are in and some not" in answer.text
