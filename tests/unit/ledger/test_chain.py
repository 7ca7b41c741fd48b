import datetime as dt
import hashlib
from dataclasses import replace

import pytest

from bedstone.ledger.chain import NO_HEAD, ChainRow, WhatBroke, chain_breaks, next_head
from bedstone.ledger.model import Fact
from bedstone.ledger.text import fact_text

AT = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)


def _chain(many: int = 9) -> list[ChainRow]:
    rows: list[ChainRow] = []
    head = NO_HEAD
    for position in range(1, many + 1):
        fact = Fact(kind="a.b/1", happened_at=AT, by="x", content={"n": position})
        text = fact_text(fact, position=position, recorded_at=AT)
        head = next_head(head, text)
        rows.append(ChainRow(position=position, text=text, head=head))
    return rows


def _found(rows: list[ChainRow]) -> list[tuple[WhatBroke, int, int]]:
    return [(item.what, item.first, item.last) for item in chain_breaks(rows)]


def test_the_head_is_the_hash_of_the_head_before_a_newline_and_the_text():
    """Anybody can recompute the chain with SHA-256 alone."""
    assert next_head(NO_HEAD, "a") == hashlib.sha256(b"0" * 64 + b"\na").hexdigest()


def test_a_sound_chain_has_no_breaks():
    """Nothing is found in a chain as it was written, nor in an empty one."""
    assert _found(_chain()) == []
    assert _found([]) == []


@pytest.mark.parametrize("at", [1, 5, 9])
def test_an_altered_text_is_named_at_its_place_alone(at: int):
    """Whoever changes a text is found at that fact and nowhere else."""
    rows = _chain()
    rows[at - 1] = replace(rows[at - 1], text=rows[at - 1].text.replace('"by":"x"', '"by":"y"'))
    assert _found(rows) == [(WhatBroke.ALTERED, at, at)]


def test_an_altered_hash_is_told_from_an_altered_text():
    """If only the stored hash was changed, the fact behind it proves that the text is right."""
    rows = _chain()
    rows[4] = replace(rows[4], head="f" * 64)
    assert _found(rows) == [(WhatBroke.HASH_ALTERED, 5, 5)]


def test_an_unreadable_text_is_named():
    """A text that is no fact any more is named."""
    rows = _chain()
    rows[4] = replace(rows[4], text="nothing")
    assert _found(rows) == [(WhatBroke.UNREADABLE, 5, 5)]


@pytest.mark.parametrize(("first", "last"), [(1, 1), (4, 4), (3, 6)])
def test_missing_facts_are_named(first: int, last: int):
    """A gap is named from its first to its last position."""
    rows = [row for row in _chain() if not first <= row.position <= last]
    assert _found(rows) == [(WhatBroke.MISSING, first, last)]


def test_swapped_facts_are_both_named():
    """Two facts that changed places are named at both, and their neighbours are not."""
    rows = _chain()
    rows[2], rows[5] = (
        replace(rows[5], position=rows[2].position),
        replace(rows[2], position=rows[5].position),
    )
    assert _found(rows) == [(WhatBroke.MOVED, 3, 3), (WhatBroke.MOVED, 6, 6)]


def test_swapped_neighbours_are_both_named():
    """Two neighbours that changed places are named at both."""
    rows = _chain()
    rows[2], rows[3] = (
        replace(rows[3], position=rows[2].position),
        replace(rows[2], position=rows[3].position),
    )
    places = {(what, n) for what, a, b in _found(rows) for n in range(a, b + 1)}
    assert {(WhatBroke.MOVED, 3), (WhatBroke.MOVED, 4)} <= places
    assert all(n in (2, 3, 4) for _, n in places)


def test_an_altered_fact_behind_a_moved_one_is_named():
    """What stands behind a moved fact is proven by the head of the fact that belongs there."""
    rows = _chain()
    rows[2], rows[5] = (
        replace(rows[5], position=rows[2].position),
        replace(rows[2], position=rows[5].position),
    )
    rows[3] = replace(rows[3], text=rows[3].text.replace('"by":"x"', '"by":"y"'))
    assert (WhatBroke.ALTERED, 4, 4) in _found(rows)


def test_an_inserted_fact_is_named():
    """A fact slipped in pushes those behind it one place on; the place is named once."""
    rows = _chain()
    forged = Fact(kind="a.b/1", happened_at=AT, by="x", content={"n": "forged"})
    text = fact_text(forged, position=5, recorded_at=AT)
    slipped = ChainRow(position=5, text=text, head=next_head(rows[3].head, text))
    pushed = [replace(row, position=row.position + 1) for row in rows[4:]]
    found = _found([*rows[:4], slipped, *pushed])
    assert (WhatBroke.INSERTED, 5, 5) in found
    assert (WhatBroke.MOVED, 6, 10) in found


def test_every_break_says_its_place_in_a_sentence():
    """What is found can be read by a person and names the position."""
    rows = _chain()
    del rows[3]
    (found,) = chain_breaks(rows)
    assert found.text == "Fact 4 is missing."
