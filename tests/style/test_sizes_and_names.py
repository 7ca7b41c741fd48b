"""Files and functions stay short enough to read, and no module is named after nothing."""

import ast
from pathlib import Path

import pytest

from source_tree import functions, label, parsed, python_files

FILE_LINES = 400
BODY_LINES = 40
BANNED_NAMES = {"utils", "util", "helpers", "helper", "common", "base", "manager", "misc"}

# function to the reason why it may be longer
LONG_FUNCTIONS: dict[str, str] = {
    "src/bedstone/quantities/units.py:_all_dimensions": "a table of units, read row by row",
    "src/bedstone/cooling/bed.py:_step": "a compiled loop over cells, assembled and eliminated",
    "src/bedstone/cooling/bed.py:solve_bed": "a compiled loop that cuts the bed ever finer",
    "src/bedstone/cooling/moving.py:_pass_air": "a compiled loop of Newton steps over layers",
    "src/bedstone/cooling/rates.py:greatest_shares": "a compiled search over hours",
    "src/bedstone/cooling/cell.py:balance_cell": "one set of equations with all its slopes",
    "src/bedstone/store/migrations/versions/form_0001.py:_make_movements": "one table's columns",
}

OURS = python_files("src", "tests", "benchmarks", "tools")


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function after its docstring."""
    body = function.body
    if ast.get_docstring(function) is not None:
        body = body[1:]
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


@pytest.mark.parametrize("path", OURS, ids=label)
def test_a_file_can_be_read_in_one_go(path: Path) -> None:
    """No file has more than 400 lines."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= FILE_LINES


@pytest.mark.parametrize("path", python_files("src"), ids=label)
def test_a_function_can_be_seen_whole(path: Path) -> None:
    """No function's body has more than 40 lines, unless it is named here with a reason."""
    found = {
        f"{label(path)}:{name}": lines
        for name, function in functions(parsed(path))
        if (lines := body_lines(function)) > BODY_LINES
        and f"{label(path)}:{name}" not in LONG_FUNCTIONS
    }
    assert found == {}


def test_no_exception_is_left_over() -> None:
    """Each long function that is allowed is still there and still long."""
    long = {
        f"{label(path)}:{name}"
        for path in python_files("src")
        for name, function in functions(parsed(path))
        if body_lines(function) > BODY_LINES
    }
    assert set(LONG_FUNCTIONS) <= long
    assert all(LONG_FUNCTIONS.values())


@pytest.mark.parametrize("path", OURS, ids=label)
def test_a_module_is_named_after_what_it_holds(path: Path) -> None:
    """No module or folder is called utils, helpers, common, base, manager or misc."""
    assert BANNED_NAMES.isdisjoint({part.removesuffix(".py").strip("_") for part in path.parts})


def test_test_files_have_names_of_their_own() -> None:
    """No two test files share a name, so that a failure's file is never in doubt."""
    names = [path.name for path in python_files("tests") if path.name.startswith("test_")]
    assert sorted(names) == sorted(set(names))


def test_every_test_states_its_claim() -> None:
    """Every test has a docstring that says in a sentence what it claims."""
    silent = [
        f"{label(path)}:{name}"
        for path in python_files("tests")
        for name, function in functions(parsed(path))
        if function.name.startswith("test_") and not (ast.get_docstring(function) or "").strip()
    ]
    assert silent == []
