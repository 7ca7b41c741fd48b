"""Findings and errors as a person reads them on the terminal."""

from dataclasses import replace

import pytest

from bedstone.cli.plan_words import print_findings
from bedstone.errors import BedstoneError, Fault, Unknown
from bedstone.mill.plan import Finding, Verdict
from bedstone.web.show import Show
from fakes.desk_day import PLAN
from fakes.small_mill import a_mill

SHORT = Finding(
    code="draw.short",
    verdict=Verdict.STOP,
    about="4107-01",
    text="Not enough.",
    value=0.0,
    limit=204.117,
    unit="kg",
)


@pytest.mark.parametrize(("units", "words"), [("US", "0 lb against 450 lb"), ("SI", "204 kg")])
def test_a_finding_s_numbers_are_in_the_mill_s_unit(
    units: str, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Number and limit are said in what the mill weighs in, with figures that help."""
    print_findings([SHORT], title="Findings", settings=a_mill(units).settings)
    said = " ".join(capsys.readouterr().out.split())
    assert words in said
    assert "204.117" not in said


def test_a_question_ends_with_its_own_mark() -> None:
    """An offer of near names ends with a question mark and nothing after it."""
    error = Unknown("There is no lot 'R-41'.", do="did you mean R-4100, R-4097?")
    assert str(error).endswith("R-4097?")
    assert str(BedstoneError("No.", seen="5 lb")).endswith("Found: 5 lb.")


def test_only_a_file_has_columns() -> None:
    """A fault of something typed names the thing; a fault of a file its column."""
    typed = Fault(column="mass wanted", found="-1 lb", allowed="above 0")
    assert str(typed) == "mass wanted: found -1 lb; allowed: above 0"
    assert str(replace(typed, file="orders.csv", row=3)).startswith(
        "orders.csv, row 3, column mass"
    )


def test_a_flush_s_way_ends_where_the_flush_ends() -> None:
    """The page says the way of a flush and the bin it goes into, as the paper does."""
    show = Show.of(a_mill())
    batch = PLAN.batches[0]
    assert show.way(replace(batch, route=("MX1", "LO1"), destination="FL1")) == (
        "MX1 → LO1, into FL1"
    )
    assert show.way(replace(batch, route=("MX1", "FB1"), destination="FB1")) == "MX1 → FB1"


def test_a_batch_s_mass_is_the_sum_of_its_draws() -> None:
    """Page and paper show one number: what the draws add up to, not what was aimed at first."""
    batch = PLAN.batches[0]
    other = replace(batch, mass_mg=batch.mass_mg + 10**9)
    assert Show.of(a_mill()).batch_mass(other) == Show.of(a_mill()).batch_mass(batch)
