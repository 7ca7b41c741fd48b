"""The examples in docstrings are run: a published value beside an equation must come out."""

import doctest
import importlib
from pathlib import Path

import pytest

from source_tree import BELOW_DESK, SRC, label, rooms


@pytest.mark.parametrize("path", [*rooms(*BELOW_DESK, "desk"), SRC / "errors.py"], ids=label)
def test_the_examples_of_a_module_hold(path: Path) -> None:
    """Every example in a core module's docstrings gives what it says."""
    name = ".".join(path.relative_to(SRC.parent).with_suffix("").parts)
    module = importlib.import_module(name.removesuffix(".__init__"))
    failed, _ = doctest.testmod(module, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert failed == 0


def test_there_are_examples() -> None:
    """The core has worked examples, so that running them means something."""
    files = rooms(*BELOW_DESK, "desk")
    assert sum(">>>" in path.read_text(encoding="utf-8") for path in files) >= 3
