"""The page of facts against facts that were really recorded."""

import re

import pytest

from bedstone.desk.record import Record
from source_tree import ROOT

ENTRY = re.compile(r"^- (.+(?:\n  .+)*)", re.MULTILINE)


@pytest.fixture(scope="module")
def documented() -> dict[str, set[str]]:
    """The names of each kind's content as the page has them."""
    text = (ROOT / "docs" / "facts.md").read_text(encoding="utf-8")
    found = {}
    for part in text.split("\n## ")[1:]:
        kind = part.split("`")[1]
        lines = [entry.split(":")[0] for entry in ENTRY.findall(part)]
        found[kind] = {name for line in lines for name in re.findall(r"`([a-z0-9_]+)`", line)}
    return found


def test_each_fact_of_the_demo_has_what_its_page_says(
    demo_made: object, documented: dict[str, set[str]]
) -> None:
    """Every fact of the demo's weeks has exactly the content that the page of facts names."""
    record: Record = demo_made.parts.open_record(demo_made.directory)  # type: ignore[attr-defined]
    seen: dict[str, set[str]] = {}
    for item in record.facts(reversed_too=True):
        seen.setdefault(item.fact.kind, set(item.fact.content))
        assert set(item.fact.content) == seen[item.fact.kind], item.fact.kind
    assert len(seen) >= 15
    assert {kind: documented[kind] for kind in seen} == seen
