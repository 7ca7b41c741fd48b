"""The examples in docstrings are run: a published value beside an equation must come out."""

import tomllib

from source_tree import BELOW_DESK, ROOT, rooms


def test_the_examples_of_every_core_room_are_run() -> None:
    """The test run collects the docstring examples of each room from the desk down."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    settings = tomllib.loads(text)["tool"]["pytest"]["ini_options"]
    assert "--doctest-modules" in settings["addopts"]
    assert {f"src/bedstone/{room}" for room in (*BELOW_DESK, "desk")} <= set(settings["testpaths"])


def test_there_are_examples() -> None:
    """The core has worked examples, so that running them means something."""
    files = rooms(*BELOW_DESK, "desk")
    assert sum(">>>" in path.read_text(encoding="utf-8") for path in files) >= 3
