from dataclasses import replace

from bedstone.batching.findings import findings_of_draws
from bedstone.batching.model import DrawSeen
from bedstone.mill.plan import Batch, Draw, Finding, Verdict
from fakes.plans import BROILER_DRAWS, SHEEP_DRAWS, a_batch, lb
from fakes.small_mill import a_mill


def seen(draws: tuple[Draw, ...], **off_lb: float) -> tuple[DrawSeen, ...]:
    """Every draw at its target, some of them off by so many pounds."""
    return tuple(
        DrawSeen(
            sequence=draw.sequence,
            actual_mg=draw.target_mg + lb(off_lb.get(draw.ingredient.replace("-", "_"), 0.0)),
            lot="L-1" if draw.how == "hand" else None,
        )
        for draw in draws
    )


def checked(batch: Batch, actuals: tuple[DrawSeen, ...]) -> list[Finding]:
    return list(findings_of_draws(a_mill(), batch, seen=actuals))


SHEEP = a_batch("4107-02", "SHEEP-GR", SHEEP_DRAWS)
BROILER = a_batch("4105-01", "BROIL-M", BROILER_DRAWS)


def test_a_batch_on_target_has_no_finding() -> None:
    """Draws on target give no finding."""
    assert checked(SHEEP, seen(SHEEP_DRAWS)) == []


def test_the_tolerance_itself_is_allowed() -> None:
    """A draw exactly at its tolerance is right; one division further it is a finding."""
    assert checked(SHEEP, seen(SHEEP_DRAWS, SBM=2.0)) == []
    found = checked(SHEEP, seen(SHEEP_DRAWS, SBM=3.0))
    assert found[0].code == "batching.draw_over"


def test_over_and_under_name_number_limit_source_and_what_to_do() -> None:
    """A draw that is under says by how much, what is allowed, by which rule, and what to do."""
    found = checked(SHEEP, seen(SHEEP_DRAWS, MIDDS=-3.0))[0]
    assert (found.code, found.verdict, found.about) == (
        "batching.draw_under",
        Verdict.ACT,
        "4107-02/2",
    )
    assert "Wheat middlings in 4107-02 is 3 lb under its target of 1,200 lb" in found.text
    assert "2 lb either way" in found.text
    assert found.value is not None
    assert found.value < 0
    assert "Handbook 44" in found.source
    assert found.do


def test_a_meter_is_judged_by_its_own_rule() -> None:
    """A dose out of tolerance names the meter's spread, not the scale rule."""
    found = checked(SHEEP, seen(SHEEP_DRAWS, MOL=2.5))[0]
    assert "meter" in found.source
    assert "Handbook" not in found.source


def test_a_drug_that_is_off_holds_the_batch() -> None:
    """A drug draw out of tolerance is a stop that says hold, whichever way it is off."""
    for off_lb in (0.02, -0.02):
        found = checked(BROILER, seen(BROILER_DRAWS, MONEN=off_lb))[0]
        assert (found.code, found.verdict) == ("batching.drug_off", Verdict.STOP)
        assert found.do.startswith("hold the batch")
        assert "225.102" in found.source


def test_a_drug_without_its_lot_holds_the_batch() -> None:
    """A drug must be recorded with the lot that was in the hand."""
    actuals = tuple(replace(row, lot=None) for row in seen(BROILER_DRAWS))
    assert [item.code for item in checked(BROILER, actuals)] == ["batching.drug_lot_missing"]


def test_a_draw_left_out_or_not_on_the_sheet_stops() -> None:
    """A draw that was not recorded, or one that the sheet does not have, means hold."""
    actuals = seen(SHEEP_DRAWS)[1:]
    assert [item.code for item in checked(SHEEP, actuals)] == ["batching.draw_missing"]
    extra = (*seen(SHEEP_DRAWS), DrawSeen(sequence=77, actual_mg=lb(5)))
    assert [(item.code, item.verdict) for item in checked(SHEEP, extra)] == [
        ("batching.draw_unplanned", Verdict.STOP)
    ]


def test_errors_that_all_lean_one_way_show_in_the_total() -> None:
    """Each draw within its tolerance, all over: the total is the finding."""
    actuals = seen(SHEEP_DRAWS, CORN_GR=2, MIDDS=2, SBM=2, MOL=2, OIL=1)
    found = checked(SHEEP, actuals)
    assert [item.code for item in found] == ["batching.total_over"]
    assert "9 lb over" in found[0].text
