"""Every example that the command line gives is run against the demo mill."""

import csv
import io
import json
import re
import shutil
from pathlib import Path
from typing import Any

import click
import pytest

from bedstone.cli.main import cli, run

MG_IN_LB = 453_592.37
PLAN_ID = re.compile(r"P-\d{4}-\d{2}-\d{2}-[0-9a-f]{6}")


def examples() -> dict[str, list[str]]:
    """The words of each command's example, without the program's name."""
    found = {}
    for name, command in cli.commands.items():
        told = re.fullmatch(r"Example: bedstone (.+)", command.epilog or "")
        assert told is not None, f"{name} has no example"
        found[name] = told.group(1).split()
    return found


def weighed(plan: dict[str, Any], file: Path) -> None:
    """What the demo mill's controls would export of the first batch of a plan."""
    with file.open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["Batch", "Step", "Material", "Actual lb", "Lot"])
        batch = plan["batches"][0]
        for draw in batch["draws"]:
            pounds = f"{draw['target_mg'] / MG_IN_LB:.3f}"
            rows.writerow([batch["batch"], draw["sequence"], draw["ingredient"], pounds, ""])


@pytest.mark.slow
def test_every_example_works_on_the_demo(
    demo_made: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In order of a day, each example ends well; ids of plans stand for the plan that was made."""
    told = examples()
    monkeypatch.chdir(tmp_path)
    shutil.copytree(demo_made.directory, tmp_path / "demo-mill")
    monkeypatch.setattr("sys.stdin", io.StringIO("471108\n"))
    plan: dict[str, Any] = {}
    first = ("new", "load", "orders", "stock", "trace", "plan", "check", "release", "record")
    for name in (*first, *(set(told) - {*first, "demo", "serve"})):
        words = [PLAN_ID.sub(str(plan.get("plan", "")), word) for word in told[name]]
        if name == "record":
            weighed(plan, tmp_path / words[2])
        assert run(words, demo_made.parts) == 0, words
        if name == "plan":
            (file,) = (tmp_path / "demo-mill" / "plans").glob("*.json")
            plan = json.loads(file.read_text(encoding="utf-8"))


def test_the_examples_that_go_on_for_long_are_understood() -> None:
    """``demo`` and ``serve``, which other tests run, have examples with options that there are."""
    told = examples()
    for name in ("demo", "serve"):
        command = cli.commands[name]
        words = told[name][1:]
        assert isinstance(command.make_context(name, words, obj=None), click.Context)
