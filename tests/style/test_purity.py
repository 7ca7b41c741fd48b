"""From the desk down nothing opens a file, asks the clock, logs or rolls unseeded dice."""

import ast
from pathlib import Path

import pytest

from source_tree import BELOW_DESK, label, parsed, rooms

CLOCKS = {
    "time": {"time", "monotonic", "perf_counter", "time_ns", "sleep"},
    "uuid": {"uuid1", "uuid4"},
    "io": {"open"},
    "random": {"random", "randint", "choice", "shuffle", "sample", "uniform", "gauss", "seed"},
    "secrets": {"choice", "randbelow", "token_bytes", "token_hex", "token_urlsafe"},
}
"""What must not be taken out of a module by name either: the call would not show where it is from."""
BANNED_MODULES = {
    "logging", "os", "pathlib", "shutil", "socket", "sqlite3", "subprocess", "sys", "tempfile",
    "alembic", "argon2", "click", "fastapi", "jinja2", "rich", "sqlalchemy", "starlette", "typst",
    "uvicorn", "zxingcpp",
}  # fmt: skip
BANNED_CALLS = {
    "open", "input", "print", "exec", "eval", "io.open",
    "datetime.now", "datetime.utcnow", "datetime.today", "date.today",
    "time.time", "time.monotonic", "time.perf_counter", "time.time_ns", "time.sleep",
    "uuid.uuid1", "uuid.uuid4",
}  # fmt: skip
SEEDED = {"random.Random", "random.default_rng", "random.SeedSequence"}

FILES = rooms(*BELOW_DESK, "desk")


def dotted(node: ast.expr) -> str:
    """The name of what is called, as written: ``dt.datetime.now``."""
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def impurities(tree: ast.Module) -> list[str]:
    """What a file does that a pure room must not do."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [name.name for name in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        else:
            names = []
        found += [
            f"line {node.lineno}: imports {name}"
            for name in names
            if name.split(".")[0] in BANNED_MODULES
        ]
        if isinstance(node, ast.ImportFrom):
            found += [
                f"line {node.lineno}: takes {name.name} out of {node.module}"
                for name in node.names
                if name.name in CLOCKS.get(node.module or "", ()) or name.name == "*"
            ]
        if isinstance(node, ast.Import):
            found += [
                f"line {node.lineno}: {name.name} under another name"
                for name in node.names
                if name.asname and name.name in CLOCKS
            ]
        if isinstance(node, ast.Global):
            found.append(f"line {node.lineno}: writes a global")
        if isinstance(node, ast.Call):
            called = dotted(node.func)
            tail = ".".join(called.split(".")[-2:])
            if called in BANNED_CALLS or tail in BANNED_CALLS:
                found.append(f"line {node.lineno}: calls {called}")
            elif tail.startswith("random.") and (
                tail not in SEEDED or not (node.args or node.keywords)
            ):
                found.append(f"line {node.lineno}: {called} without a seed")
    return found


@pytest.mark.parametrize("path", FILES, ids=label)
def test_a_pure_room_stays_pure(path: Path) -> None:
    """No module from the desk down opens files, reads the clock, logs, prints or rolls dice."""
    assert impurities(parsed(path)) == []


@pytest.mark.parametrize(
    "line",
    [
        "open('x')",
        "import os",
        "from pathlib import Path",
        "dt.datetime.now(dt.UTC)",
        "date.today()",
        "time.time()",
        "from time import time",
        "from time import monotonic as now",
        "import time as t",
        "from random import random",
        "from uuid import uuid4",
        "from datetime import *",
        "random.random()",
        "np.random.default_rng()",
        "random.Random()",
        "import sqlalchemy.sql",
        "def f():\n    global x",
    ],
)
def test_each_impurity_is_found(line: str) -> None:
    """The check sees each kind of thing that it forbids."""
    assert len(impurities(ast.parse(line))) == 1


def test_seeded_dice_and_packaged_data_are_fine() -> None:
    """Random numbers with a seed and data that ships with the package are no impurity."""
    text = "rng = random.Random(7)\nresources.files('bedstone').joinpath('x.csv').read_text()"
    assert impurities(ast.parse(text)) == []
