"""What the compiled search is kept under on disk."""

import os
import subprocess
import sys

from bedstone.planning.compiled.run import PARTS, _made_of

STAMP = "from bedstone.planning.compiled.run import _stamp; print(_stamp())"


def test_every_process_finds_what_another_compiled() -> None:
    """The stamp is the same in processes that differ in hash seed and in where things lie."""

    def stamp(hash_seed: str) -> str:
        command = [sys.executable, "-c", STAMP]
        surroundings = {**os.environ, "PYTHONHASHSEED": hash_seed}
        return subprocess.run(
            command, env=surroundings, capture_output=True, text=True, check=True
        ).stdout

    assert stamp("1") == stamp("2")


def test_what_is_kept_knows_each_compiled_function() -> None:
    """Every function of the parts that is compiled is in the stamp, and no place in memory is."""
    lines = [line for module in PARTS for line in _made_of(module)]
    names = {line.split()[0] for line in lines}
    ours = {
        name
        for module in PARTS
        for name, value in vars(module).items()
        if hasattr(value, "py_func")
    }
    assert ours
    assert ours <= names
    assert not [line for line in lines if " at 0x" in line]
