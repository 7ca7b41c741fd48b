"""What is not in the docs does not exist: commands, facts, errors, settings, make's commands."""

import re
import tomllib
from pathlib import Path

import click
import pytest

import bedstone
import write_docs
from bedstone import errors
from bedstone.mill.attributes import attributes_of
from bedstone.mill.model import TABLES, Settings
from source_tree import ROOT, SRC

DOCS = ROOT / "docs"
KIND = re.compile(r'"([a-z]+\.[a-z_]+/\d+)"')


def text_of(name: str) -> str:
    """The text of a page of the docs."""
    return (DOCS / name).read_text(encoding="utf-8")


def options_of(command: click.Command) -> set[str]:
    """The options of a command as they are typed."""
    return {
        option
        for parameter in command.params
        if isinstance(parameter, click.Option)
        for option in (*parameter.opts, *parameter.secondary_opts)
    }


@pytest.mark.parametrize("path", write_docs.pages(), ids=lambda path: path.name)
def test_generated_pages_are_fresh(path: Path) -> None:
    """Command reference, errors and the picture of the rooms are what ``make docs`` writes."""
    assert path.read_text(encoding="utf-8") == write_docs.pages()[path]


@pytest.mark.parametrize("name", write_docs.commands())
def test_every_command_has_help_and_an_example(name: str) -> None:
    """Every command says what it does and shows an example, and each option says what it is."""
    command = write_docs.commands()[name]
    assert command.help
    assert command.help.split("\n")[0].endswith(".")
    assert command.epilog
    assert command.epilog.startswith(f"Example: bedstone {name}")
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, parameter.name


@pytest.mark.parametrize("name", sorted(set(write_docs.commands()) - {"serve"}))
def test_every_command_that_answers_can_answer_in_json(name: str) -> None:
    """Every command but the one that serves pages has ``--json``."""
    assert "--json" in options_of(write_docs.commands()[name])


@pytest.mark.parametrize(
    "path", [ROOT / "README.md", *sorted(DOCS.glob("*.md"))], ids=lambda p: p.name
)
def test_docs_name_only_commands_and_options_that_exist(path: Path) -> None:
    """Each ``bedstone ...`` line in the docs uses a command and options that there are."""
    known = write_docs.commands()
    for line in re.findall(
        r"(?:^|`)bedstone ([a-z][^`\n]*)", path.read_text("utf-8"), re.MULTILINE
    ):
        word, *rest = line.split()
        assert word in known, line
        options = {part.split("=")[0] for part in rest if part.startswith("--")}
        assert options <= options_of(known[word]) | {"--help"}, line


@pytest.mark.parametrize(
    "path", [ROOT / "README.md", *sorted(DOCS.glob("*.md"))], ids=lambda p: p.name
)
def test_docs_name_only_make_targets_that_exist(path: Path) -> None:
    """Each ``make ...`` in README and docs is a target of the Makefile."""
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE))
    named = set(re.findall(r"(?:^|`)make ([a-z]+)", path.read_text("utf-8"), re.MULTILINE))
    assert named <= targets


@pytest.mark.parametrize(
    "path", [ROOT / "README.md", *sorted(DOCS.glob("*.md"))], ids=lambda p: p.name
)
def test_links_lead_somewhere(path: Path) -> None:
    """Each link to a file of the tree leads to a file."""
    for target in re.findall(r"\]\(([^)#\s]+)", path.read_text("utf-8")):
        if "://" not in target:
            assert (path.parent / target).exists(), target


def test_readme_shows_the_two_commands() -> None:
    """The README names the demo and the test command, and what a bare machine needs."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for word in ("make demo", "make test", "Python 3.11", "docs/pictures/", "LICENSE"):
        assert word in text


def test_ci_runs_the_test_command() -> None:
    """What the continuous integration runs is the README's test command and nothing else."""
    lines = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    settings = ("#", "set ", "cd ", "export CI=")
    commands = [line for line in lines if line and not line.startswith(settings)]
    assert commands == ["exec make test"]


def fact_kinds() -> set[str]:
    """Every kind of fact that stands anywhere in the source."""
    return {kind for path in SRC.rglob("*.py") for kind in KIND.findall(path.read_text("utf-8"))}


def test_every_kind_of_fact_is_documented() -> None:
    """The page of facts has each kind of fact that the source names, and no other."""
    documented = re.findall(r"^## `([^`]+)`$", text_of("facts.md"), re.MULTILINE)
    assert sorted(documented) == sorted(fact_kinds())


def test_every_error_is_in_the_table() -> None:
    """Each leaf of the error tree has a line, an exit code of its own, and a place in the drawing."""
    leaves = [
        getattr(errors, name)
        for name in errors.__all__
        if isinstance(getattr(errors, name), type)
        and issubclass(getattr(errors, name), errors.BedstoneError)
    ]
    assert len({leaf.exit_code for leaf in leaves}) == len(leaves)
    for leaf in leaves:
        assert leaf.__name__ in (errors.__doc__ or "")
        assert f"| {leaf.http_status} | {leaf.exit_code} |" in text_of("errors.md")


def test_every_setting_and_table_is_documented() -> None:
    """The page of the mill folder has each setting of mill.toml and each table."""
    page = text_of("mill-folder.md")
    settings = {name for name in attributes_of(Settings) if f"`{name}" not in page}
    settings -= {name for name in settings if f"`{name.rsplit('_', 1)[0]}" in page}
    assert settings == set()
    assert {name for name in TABLES if name not in page} == set()


def test_the_version_is_in_the_changelog() -> None:
    """The newest entry of the changelog is the version of the package."""
    text = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    newest = re.search(r"^## (\d+\.\d+\.\d+)", text, re.MULTILINE)
    assert newest is not None
    assert newest.group(1) == bedstone.__version__


def test_every_benchmark_is_listed() -> None:
    """Each script of benchmarks/ has its line in the page of figures."""
    page = text_of("benchmarks.md")
    scripts = [path.name for path in (ROOT / "benchmarks").glob("bench_*.py")]
    assert [name for name in scripts if name not in page] == []


def test_the_picture_has_every_room() -> None:
    """Each room of the house, and each folder of the source, stands in the picture."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    floors = settings["tool"]["importlinter"]["contracts"][0]["layers"]
    rooms = {room.strip(" ()") for floor in floors for room in floor.split("|")}
    picture = (DOCS / "pictures" / "rooms.svg").read_text(encoding="utf-8")
    assert all(f">{room}</text>" in picture for room in rooms)
    folders = {path.name for path in SRC.iterdir() if path.is_dir() and any(path.glob("*.py"))}
    assert folders <= rooms
