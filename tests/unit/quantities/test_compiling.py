"""Compiled functions where nothing can be kept."""

import os
import subprocess
import sys
from pathlib import Path

ASKED = """
import numba
from bedstone.quantities.compiling import compiled_and_kept

def twice(number):
    return 2 * number

def thrice(number):
    return 3 * number

try:
    numba.njit(cache=True)(twice)
except RuntimeError:
    print("cannot keep")
print(compiled_and_kept(twice)(21), compiled_and_kept(thrice)(14))
"""


def answer(folder: Path, environment: dict[str, str]) -> tuple[list[str], str]:
    """What a process of its own prints whose code stands in a folder, and what it warns of."""
    script = folder / "asked.py"
    script.write_text(ASKED, encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, str(script)],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    return ran.stdout.split("\n")[:-1], ran.stderr


def test_where_nothing_can_be_written_it_is_compiled_all_the_same(tmp_path: Path):
    """Neither beside the source nor in the person's cache: numba refuses, we compile and say so once."""
    (tmp_path / "__pycache__").write_text("no folder", encoding="utf-8")
    nowhere = str(tmp_path / "__pycache__" / "below a file")
    nothing = {"NUMBA_CACHE_DIR": nowhere, "XDG_CACHE_HOME": nowhere, "HOME": nowhere}
    printed, warned = answer(tmp_path, nothing)
    assert printed == ["cannot keep", "42 42"]
    assert warned.count("can be kept nowhere") == 1
    assert "NUMBA_CACHE_DIR" in warned


def test_where_it_can_be_written_it_is_kept(tmp_path: Path):
    """The next process finds it."""
    kept = tmp_path / "kept"
    assert answer(tmp_path, {"NUMBA_CACHE_DIR": str(kept)}) == (["42 42"], "")
    assert [path.name for path in kept.rglob("*twice*.nbc")] != []
