"""Rooms import one way, and nothing heavy comes in before it is used."""

import subprocess
import sys
from pathlib import Path

from source_tree import ROOT

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
