"""Counts that cannot be, and counts of something else than a bin is kept for."""

from fakes.page_server import PageMill


def test_a_count_beyond_the_bin_is_refused_at_once(mill: PageMill) -> None:
    """More than a bin holds is refused before it is shown as understood, with what it holds."""
    before = mill.record.head().position
    visitor = mill.visitor("osk")
    answer = visitor.post(
        "/bins/G1/count", page="/bins/G1", counted="300,000 lb", material="CORN-GR"
    )
    assert answer.status_code == 400
    assert "cannot hold so much" in answer.text
    assert "at most" in answer.text
    assert mill.record.head().position == before


def test_a_count_of_another_material_is_asked_about(mill: PageMill) -> None:
    """A material that the bin is not kept for is asked about before it is recorded."""
    visitor = mill.visitor("osk")
    own = visitor.post("/bins/G1/count", page="/bins/G1", counted="4,000 lb", material="CORN-GR")
    other = visitor.post("/bins/G1/count", page="/bins/G1", counted="4,000 lb", material="SBM")
    assert "Was it really" not in own.text
    assert "Was it really" in other.text
    assert "is kept for" in other.text
