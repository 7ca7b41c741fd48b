import pytest

from bedstone.batching.import_draws import read_draws
from bedstone.errors import BadInput, Fault
from bedstone.mill.model import Mill
from fakes.plans import SHEEP_DRAWS, a_batch, a_draw, lb
from fakes.small_mill import a_mill

MILL = a_mill()
BATCH = a_batch("4107-02", "SHEEP-GR", SHEEP_DRAWS)
OTHER = a_batch("4107-03", "SHEEP-GR", SHEEP_DRAWS)
HEADER = "batch,sequence,ingredient,actual,lot"
ROWS = [
    f"4107-02,{draw.sequence},{draw.ingredient},{draw.target_mg / 1e6:.3f}," for draw in SHEEP_DRAWS
]


def faults_of(text: str, mill: Mill = MILL) -> tuple[Fault, ...]:
    with pytest.raises(BadInput) as caught:
        read_draws(text, (BATCH, OTHER), mill=mill, file="day.csv")
    return caught.value.faults


def text(*rows: str, header: str = HEADER) -> str:
    return "\n".join((header, *rows)) + "\n"


def with_settings(**changes: str) -> Mill:
    from dataclasses import replace

    return replace(MILL, settings=replace(MILL.settings, **changes))


def test_rows_become_draws_with_reading_and_lot() -> None:
    """Each row becomes the draw of its number: mass, the number as read, and the lot."""
    rows = [*ROWS[:2], "4107-02,3,SHEEP-PX,7.26,X-77", *ROWS[3:]]
    seen = read_draws(text(*rows), (BATCH,), mill=MILL)["4107-02"]
    assert [row.sequence for row in seen] == list(range(1, 10))
    assert (seen[2].actual_mg, seen[2].number, seen[2].unit) == (7_260_000, "7.26", "kg")
    assert (seen[2].lot, seen[3].lot) == ("X-77", None)


def test_columns_and_unit_are_those_of_the_mill() -> None:
    """Other column names, semicolons and pounds are read as mill.toml says, extra columns passed."""
    mill = with_settings(
        controls_batch="Charge", controls_sequence="Step", controls_ingredient="Item",
        controls_actual="Net wt", controls_unit="lb",
    )  # fmt: skip
    rows = [f"4107-02;{draw.sequence};ok;{draw.target_mg / 453592.37:.2f}" for draw in SHEEP_DRAWS]
    seen = read_draws(text(*rows, header="Charge;Step;State;Net wt"), (BATCH,), mill=mill)
    assert seen["4107-02"][0].actual_mg == lb(1600)
    assert seen["4107-02"][0].unit == "lb"


def test_rows_without_numbers_go_by_ingredient_in_weighing_order() -> None:
    """Two rows of one ingredient are its first and its second draw; names serve as codes do."""
    draws = (a_draw(1, "SBM", 500), a_draw(2, "MIDDS", 90), a_draw(3, "SBM", 400))
    batch = a_batch("9-01", "SHEEP-GR", draws)
    body = text("9-01,sbm,226.8", "9-01,Soybean Meal 47.5,181.4", "9-01,MIDDS,41",
                header="batch,ingredient,actual")  # fmt: skip
    seen = read_draws(body, (batch,), mill=MILL)["9-01"]
    assert [(row.sequence, row.number) for row in seen] == [(1, "226.8"), (2, "41"), (3, "181.4")]


def test_several_batches_come_out_of_one_file() -> None:
    """A file of a day gives each batch its own draws; the batch not named is not there."""
    rows = [*(row.replace("4107-02", "4107-03") for row in ROWS), *ROWS]
    assert list(read_draws(text(*rows), (BATCH, OTHER), mill=MILL)) == ["4107-03", "4107-02"]
    assert set(read_draws(text(*ROWS), (BATCH, OTHER), mill=MILL)) == {"4107-02"}


@pytest.mark.parametrize(
    ("cell", "why"),
    [
        ("", "empty"),
        ("12,5", "comma"),
        ("1e3", "power"),
        ("-3", "below nothing"),
        ("nan", "no number"),
        ("inf", "no end"),
        ("1_000", "underscore"),
        ("#REF!", "spreadsheet error"),
        ("١٢", "digits of another script"),
        ("9" * 30, "too long"),
        ("12 kg", "unit in the cell"),
    ],
)
def test_a_bad_number_is_a_fault_with_its_place(cell: str, why: str) -> None:
    """A cell that is no plain number is named by file, row and column."""
    rows = [*ROWS[:1], f'4107-02,2,MIDDS,"{cell}",', *ROWS[2:]]
    (fault,) = faults_of(text(*rows))
    assert (fault.file, fault.row, fault.column) == ("day.csv", 3, "actual"), why
    assert fault.allowed.startswith("a number of kg")


def test_every_fault_is_told_at_once() -> None:
    """Three wrong rows give three faults, none hidden behind another."""
    rows = [*ROWS[:3], "4107-02,3,SHEEP-PX,7,", "9999-01,1,SBM,7,", "4107-02,44,SBM,7,", *ROWS[3:]]
    found = [(fault.row, fault.column) for fault in faults_of(text(*rows))]
    assert found == [(6, "batch"), (5, "sequence"), (7, "sequence")]


def test_an_ingredient_that_does_not_fit_its_number_is_a_fault() -> None:
    """Draw 2 is middlings: a row that says soybean meal is not taken."""
    rows = [ROWS[0], "4107-02,2,SBM,544.3,", *ROWS[2:]]
    fault = faults_of(text(*rows))[0]
    assert (fault.row, fault.column) == (3, "ingredient")
    assert "MIDDS" in fault.allowed


def test_a_draw_without_a_row_is_a_fault() -> None:
    """Every draw of the batch needs its row, also one that was not made."""
    (fault,) = faults_of(text(*ROWS[:-1]))
    assert "draw 9 of 4107-02 (Soybean oil)" in fault.found
    assert "0" in fault.do


@pytest.mark.parametrize(
    "body",
    [
        "",
        "\n\n",
        HEADER,
        "batch,sequence,actual,actual\n4107-02,1,2,3",
        "charge,sequence,actual\n4107-02,1,2",
        "batch,what\n4107-02,1",
        HEADER + "\n4107-02,1,CORN-GR",
        HEADER + '\n4107-02,1,"CORN-GR,5,',
        "PK\x03\x04 not a table",
    ],
)
def test_a_file_of_the_wrong_shape_is_refused(body: str) -> None:
    """Empty, cut off, without the columns, or no table at all: told, never a traceback."""
    for fault in faults_of(body):
        assert fault.allowed
