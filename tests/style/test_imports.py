"""Rooms import one way, and nothing heavy comes in before it is used."""

import ast
import subprocess
import sys
from pathlib import Path

from source_tree import ROOT, label, parsed, python_files

CORE = (
    "bedstone.errors",
    "bedstone.quantities.units",
    "bedstone.ledger.model",
    "bedstone.mill.model",
    "bedstone.mill.plan",
    "bedstone.desk.record",
    "bedstone.desk.tables",
)
DRIVERS = ("sqlalchemy", "alembic", "sqlite3", "fastapi", "starlette", "uvicorn", "typst", "argon2")
HEAVY = (*DRIVERS, "numpy", "scipy", "rich", "jinja2", "pydantic", "babel", "zxingcpp", "asyncio")


def loaded_by(code: str) -> set[str]:
    """Names of the modules that a fresh Python has loaded after some code."""
    ran = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys\nprint('\\nLOADED', *sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    )
    return set(ran.stdout.rsplit("LOADED", 1)[1].split())


def test_rooms_import_one_way() -> None:
    """import-linter's contracts hold: the house's order, exhaustive, stations apart."""
    command = Path(sys.executable).with_name("lint-imports")
    ran = subprocess.run(
        [str(command), "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stdout


def test_the_core_loads_no_driver() -> None:
    """Importing the core brings in no database, web server or printer."""
    loaded = loaded_by(f"import {', '.join(CORE)}")
    assert loaded.isdisjoint(DRIVERS)


def test_help_loads_nothing_heavy() -> None:
    """``bedstone --help`` brings in nothing that takes time to import."""
    loaded = loaded_by(
        "import sys\nfrom bedstone.start import main\nsys.argv = ['bedstone', '--help']\n"
        "try:\n    main()\nexcept SystemExit as ended:\n    assert not ended.code\n"
    )
    assert loaded.isdisjoint(HEAVY)


SOLVERS = {
    "highspy": {"src/bedstone/formulation/solver.py", "src/bedstone/planning/order_program.py"},
    "clarabel": {"src/bedstone/formulation/cone_check.py"},
}
"""Each solver and the one module of a station that may call it."""


def test_a_solver_is_called_in_one_module_of_a_station() -> None:
    """HiGHS and Clarabel are imported where they are called and nowhere else."""
    found = {
        (name.split(".")[0], label(path))
        for path in python_files("src")
        for node in ast.walk(parsed(path))
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
        if name.split(".")[0] in SOLVERS
    }
    assert {place for solver, place in found} == set().union(*SOLVERS.values())
    assert all(place in SOLVERS[solver] for solver, place in found)
