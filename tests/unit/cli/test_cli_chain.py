"""The command line through a whole day of the demo mill: plan, check, release, record, trace."""

import csv
import datetime as dt
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import urllib.request
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pypdf
import pytest

from bedstone.cli.main import run
from bedstone.cli.parts import Parts
from bedstone.cli.plan_words import print_plan
from bedstone.desk.plan_json import plan_from_json
from bedstone.desk.tables import current_mill
from bedstone.start import parts

MG_IN_LB = 453_592.37


@dataclass(frozen=True, kw_only=True)
class Day:
    """A demo mill with a plan of its day."""

    directory: Path
    parts: Parts
    plan: dict[str, Any]

    @property
    def file(self) -> Path:
        """Where the plan lies."""
        return self.directory / "plans" / f"{self.plan['plan']}.json"


@pytest.fixture
def ask(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, Any]]:
    """Run a command with ``--json`` and give its exit code and its answer."""

    def asked(joined: Parts, *words: object) -> tuple[int, Any]:
        capsys.readouterr()
        code = run([*map(str, words), "--json"], joined)
        return code, json.loads(capsys.readouterr().out)

    return asked


@pytest.fixture(scope="module")
def planned(demo_made: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo mill whose day has been planned; tests take ``day``, a copy of it."""
    directory = tmp_path_factory.mktemp("planned") / "quillback"
    shutil.copytree(demo_made.directory, directory)
    assert run(["plan", str(directory)], demo_made.parts) == 0
    return directory


@pytest.fixture
def day(planned: Path, demo_made: Any, tmp_path: Path) -> Day:
    """The demo mill's day, planned, to write to."""
    directory = tmp_path / "quillback"
    shutil.copytree(planned, directory)
    (file,) = (directory / "plans").iterdir()
    plan = json.loads(file.read_text(encoding="utf-8"))
    assert plan["day"] == demo_made.day.isoformat()
    return Day(directory=directory, parts=demo_made.parts, plan=plan)


def weighed(day: Day, batches: int, *, off: float = 1.0) -> Path:
    """A CSV as the demo mill's controls would export it for the first batches of the plan."""
    file = day.directory / "weighed.csv"
    with file.open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["Batch", "Step", "Material", "Actual lb", "Lot"])
        for batch in day.plan["batches"][:batches]:
            for draw in batch["draws"]:
                pounds = off * draw["target_mg"] / MG_IN_LB
                rows.writerow(
                    [batch["batch"], draw["sequence"], draw["ingredient"], f"{pounds:.3f}", ""]
                )
    return file


@pytest.mark.slow
def test_a_plan_is_recorded_written_and_printed(day: Day) -> None:
    """``plan`` leaves a proposal in the journal, its file, and papers that are PDF."""
    record = day.parts.open_record(day.directory)
    (fact,) = record.facts(kinds=("planning.plan_proposed/1",))
    assert fact.fact.content["plan"]["plan"] == day.plan["plan"]  # type: ignore[index, call-overload]
    assert json.loads(day.file.read_text(encoding="utf-8")) == day.plan
    papers = sorted((day.directory / "papers" / day.plan["plan"]).iterdir())
    assert [path.name for path in papers] == ["batch-sheets.pdf", "day-sheet.pdf"]
    assert all(path.read_bytes().startswith(b"%PDF-") for path in papers)


@pytest.mark.slow
def test_the_summary_says_what_a_manager_asks(day: Day, capsys: pytest.CaptureFixture[str]) -> None:
    """The summary has every run, every flush with its reason, what is left out, costs and saving."""
    mill = current_mill(day.parts.open_record(day.directory))
    print_plan(plan_from_json(day.plan), mill)
    said = capsys.readouterr().out
    for item in day.plan["runs"]:
        assert item["run"] in said
    flushes = [batch for batch in day.plan["batches"] if batch["kind"] == "flush"]
    assert flushes
    for batch in flushes:
        assert batch["batch"] in said
        assert batch["reason"].split()[0] in said
    for left in day.plan["left_out"]:
        assert left["order"] in said
    for word in ("Order of running", "Why", "What the order of running costs", "saves"):
        assert word in said
    assert day.plan["left_out"], "the demo has orders that cannot be made"


@pytest.mark.slow
def test_check_passes_the_plan_and_names_what_a_hand_broke(
    day: Day, ask: Callable[..., tuple[int, Any]]
) -> None:
    """``check`` accepts the plan as written; without its flushes it is rejected with sources."""
    assert ask(day.parts, "check", day.file)[0] == 0
    edited = json.loads(day.file.read_text(encoding="utf-8"))
    edited["batches"] = [batch for batch in edited["batches"] if batch["kind"] != "flush"]
    edited["clean_outs"] = []
    broken = day.directory / "plans" / "by-hand.json"
    broken.write_text(json.dumps(edited), encoding="utf-8")
    code, said = ask(day.parts, "check", broken)
    assert code == 3
    assert said["rejected"] is True
    stops = [item for item in said["findings"] if item["verdict"] == "stop"]
    assert stops
    assert any(item["source"] and item["limit"] is not None for item in stops)


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"plan": 7}', "[" * 100_000])
def test_a_file_that_is_no_plan_is_input_not_understood(
    text: str, demo_mill: Any, ask: Callable[..., tuple[int, Any]]
) -> None:
    """``check`` of anything but a plan ends with exit code 2, in words."""
    file = demo_mill.directory / "no-plan.json"
    file.write_text(text, encoding="utf-8")
    code, said = ask(demo_mill.parts, "check", file)
    assert code == 2
    assert said["error"] == "BadInput"


@pytest.mark.slow
def test_what_was_weighed_is_recorded_after_the_release(
    day: Day, ask: Callable[..., tuple[int, Any]]
) -> None:
    """Recording needs a released plan; then batches become facts, stock moves, the lot is traced."""
    joined, directory, plan = day.parts, day.directory, day.plan["plan"]
    file = weighed(day, 2)
    assert ask(joined, "record", directory, file, "--plan", plan, "--by", "mara")[0] == 3
    assert ask(joined, "release", directory, plan, "--by", "dell")[0] == 0
    before = {
        (row["place"], row["material"]): row["mass_mg"]
        for row in ask(joined, "stock", directory)[1]
    }
    code, said = ask(joined, "record", directory, file, "--by", "mara")
    assert code == 0
    assert [row["batch"] for row in said["batches"]] == [
        batch["batch"] for batch in day.plan["batches"][:2]
    ]
    after = {
        (row["place"], row["material"]): row["mass_mg"]
        for row in ask(joined, "stock", directory)[1]
    }
    draw = day.plan["batches"][0]["draws"][0]
    key = (draw["from_place"], draw["ingredient"])
    assert after[key] < before[key]
    code, trace = ask(joined, "trace", directory, day.plan["batches"][0]["batch"])
    assert code == 0
    assert trace["back"]
    assert ask(joined, "record", directory, file, "--by", "mara")[0] == 3
    assert ask(joined, "verify", directory)[0] == 0


@pytest.mark.slow
def test_a_release_prints_anew_what_was_printed_of_the_proposal(
    day: Day, ask: Callable[..., tuple[int, Any]]
) -> None:
    """A folder of papers of a plan holds, once it is released, sheets that say by whom."""
    folder = day.directory / "papers" / day.plan["plan"]
    folder.mkdir(parents=True, exist_ok=True)
    assert ask(day.parts, "release", day.directory, day.plan["plan"], "--by", "dell")[0] == 0
    text = pypdf.PdfReader(folder / "batch-sheets.pdf").pages[0].extract_text()
    assert "Released by Dell" in text
    assert "do not weigh" not in text


@pytest.mark.slow
def test_a_draw_far_off_is_a_finding_with_its_limit(
    day: Day, ask: Callable[..., tuple[int, Any]]
) -> None:
    """A batch weighed a tenth too heavy is recorded with findings that name limit and source."""
    assert ask(day.parts, "release", day.directory, day.plan["plan"], "--by", "dell")[0] == 0
    code, said = ask(day.parts, "record", day.directory, weighed(day, 1, off=1.1), "--by", "mara")
    assert code == 0
    findings = said["batches"][0]["findings"]
    assert findings
    assert all(item["source"] and item["limit"] is not None for item in findings)


@pytest.mark.slow
def test_a_faulty_file_of_the_controls_records_nothing(
    day: Day, ask: Callable[..., tuple[int, Any]]
) -> None:
    """Every fault of the controls' CSV is named and not one batch is recorded."""
    assert ask(day.parts, "release", day.directory, day.plan["plan"], "--by", "dell")[0] == 0
    file = weighed(day, 2)
    lines = file.read_text(encoding="utf-8").splitlines()
    lines[1] = lines[1].replace(lines[1].split(",")[3], "heavy")
    lines[2] = lines[2].replace(lines[2].split(",")[0], "9999-99")
    file.write_text("\n".join(lines), encoding="utf-8")
    head = day.parts.open_record(day.directory).head()
    code, said = ask(day.parts, "record", day.directory, file, "--by", "mara")
    assert code == 2
    assert {fault["row"] for fault in said["faults"]} >= {3}
    assert day.parts.open_record(day.directory).head() == head


def test_an_altered_record_is_named(demo_mill: Any, ask: Callable[..., tuple[int, Any]]) -> None:
    """``verify`` names a fact that was altered behind its back, and ends with exit code 8."""
    joined, directory = demo_mill.parts, demo_mill.directory
    code, whole = ask(joined, "verify", directory)
    assert (code, whole["damaged"]) == (0, False)
    with closing(sqlite3.connect(directory / "bedstone.sqlite")) as behind, behind:
        behind.execute(
            "UPDATE facts SET text = replace(text, '\"by\":', '\"By\":') WHERE position = 77"
        )
        assert behind.total_changes == 1
    code, damaged = ask(joined, "verify", directory)
    assert code == 8
    assert any("77" in item["text"] or "77" in item["about"] for item in damaged["findings"])


def test_a_head_that_was_printed_is_compared(demo_mill: Any, ask: Callable[..., Any]) -> None:
    """``verify --head`` accepts a head that the record has had, and no other."""
    head = demo_mill.parts.open_record(demo_mill.directory).head().head
    assert ask(demo_mill.parts, "verify", demo_mill.directory, "--head", head)[0] == 0
    assert ask(demo_mill.parts, "verify", demo_mill.directory, "--head", "0" * 64)[0] == 8


def test_the_day_to_plan_is_the_next_with_a_shift(tmp_path: Path, ask: Callable[..., Any]) -> None:
    """While a shift runs ``plan`` plans today; on a Saturday, when there is none, Monday."""
    thursday, saturday = (
        parts(lambda day=day: dt.datetime(2026, 1, day, 15, 0, tzinfo=dt.UTC))  # type: ignore[misc]
        for day in (15, 17)
    )
    assert run(["new", str(tmp_path / "mill")], saturday) == 0
    assert run(["load", str(tmp_path / "mill")], saturday) == 0
    days = []
    for joined in (thursday, saturday):
        code, plan = ask(joined, "plan", tmp_path / "mill", "--no-papers")
        assert code == 0
        days.append(plan["day"])
    assert days == ["2026-01-15", "2026-01-19"]


@pytest.mark.slow
def test_the_pages_are_served_until_stopped(demo_mill: Any) -> None:
    """``serve`` says where the pages are, answers there, and ends when it is asked to."""
    command = [str(Path(sys.executable).with_name("bedstone")), "serve", str(demo_mill.directory)]
    with subprocess.Popen(
        [*command, "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    ) as server:
        try:
            assert server.stdout is not None
            address = server.stdout.readline().split()[-1]
            with urllib.request.urlopen(address, timeout=60) as answer:  # noqa: S310 - our own page
                assert answer.status == 200
                assert "Quillback Mill" in answer.read().decode()
        finally:
            server.terminate()
            server.wait(timeout=30)
        assert server.stderr is not None
        assert "Traceback" not in server.stderr.read()
