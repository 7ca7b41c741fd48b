import contextlib

from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.batching.import_draws import read_draws
from bedstone.errors import BadInput
from fakes.plans import SHEEP_DRAWS, a_batch
from fakes.small_mill import a_mill

MILL = a_mill()
BATCH = a_batch("4107-02", "SHEEP-GR", SHEEP_DRAWS)
GOOD = "batch,sequence,ingredient,actual,lot\n" + "".join(
    f"4107-02,{draw.sequence},{draw.ingredient},{draw.target_mg / 1e6:.3f},\n"
    for draw in SHEEP_DRAWS
)


@settings(max_examples=200, deadline=None)
@given(
    at=st.integers(0, len(GOOD)),
    length=st.integers(0, 12),
    put=st.text(max_size=8)
    | st.sampled_from(['"', ",,", "\n", "\x00", ";", "-1", "1e9", "4107-02"]),
)
def test_a_damaged_file_is_told_or_still_right(at: int, length: int, put: str) -> None:
    """A good file with any piece replaced is either refused with faults or gives every draw once."""
    text = GOOD[:at] + put + GOOD[at + length :]
    seen, faults = None, ()
    try:
        seen = read_draws(text, (BATCH,), mill=MILL)["4107-02"]
    except BadInput as refused:
        faults = refused.faults
    if seen is None:
        assert faults
    else:
        assert [row.sequence for row in seen] == list(range(1, 10))
        assert all(row.actual_mg >= 0 for row in seen)


@settings(max_examples=200, deadline=None)
@given(text=st.text(max_size=300))
def test_any_text_at_all_is_refused_in_words(text: str) -> None:
    """Whatever is sent, the answer is a refusal with faults, never anything else."""
    with contextlib.suppress(BadInput):
        raise AssertionError(read_draws(text, (BATCH,), mill=MILL))
