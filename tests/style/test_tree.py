"""What must not stand anywhere in the tree."""

import re
import subprocess
from pathlib import Path

import pytest

from source_tree import ROOT, label, python_files


def _unsplit(*words: str) -> tuple[str, ...]:
    """Words without the sign that keeps this very file from holding them."""
    return tuple(word.replace("~", "") for word in words)


HOSTS = _unsplit(
    "py~pi.org",
    "python~hosted.org",
    "npm~js.org",
    "npm~js.com",
    "un~pkg.com",
    "js~delivr",
    "proxy.go~lang.org",
    "conda.ana~conda.org",
)
PATHS = _unsplit("/ro~ot/", "/wo~rk/", "/ho~me/", "../sha~red", "C:~\\Users")
WORDS = _unsplit("seed ~document")
UNFINISHED = _unsplit("TO~DO", "FIX~ME", "X~XX", "HA~CK", "NotImplemented~Error")
MADE = {".git", ".venv", ".hypothesis", ".coverage", "demo-mill"}
BINARY = {".png", ".jpg", ".ttf", ".otf", ".woff2", ".pdf", ".xlsx", ".sqlite"}


def tracked() -> list[Path]:
    """Every text file that belongs to the tree: what git keeps or would keep; all if git is absent."""
    try:
        listed = subprocess.run(
            ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        ).stdout.splitlines()
        paths = [ROOT / name for name in listed]
    except (FileNotFoundError, subprocess.CalledProcessError):
        paths = [
            path
            for top in ROOT.iterdir()
            if top.name not in MADE and not top.name.endswith("_cache")
            for path in ([top] if top.is_file() else sorted(top.rglob("*")))
            if "__pycache__" not in path.parts
        ]
    return [path for path in paths if path.is_file() and path.suffix not in BINARY]


def holding(words: tuple[str, ...], paths: list[Path]) -> list[str]:
    """Files that hold one of the words, with the word."""
    return [
        f"{label(path)}: {word}"
        for path in paths
        for text in [path.read_text(encoding="utf-8", errors="replace")]
        for word in words
        if word in text
    ]


@pytest.fixture(scope="module")
def texts() -> list[Path]:
    """The text files of the tree."""
    return tracked()


def test_no_registry_is_named(texts: list[Path]) -> None:
    """No file names the host of a package registry or of a script server."""
    assert holding(HOSTS, texts) == []


def test_no_path_of_one_machine_is_named(texts: list[Path]) -> None:
    """No file names a folder of the machine it was written on."""
    assert holding(PATHS, texts) == []


def test_no_paper_of_the_workshop_is_named(texts: list[Path]) -> None:
    """No file speaks of papers that do not come with the tree."""
    assert holding(WORDS, texts) == []


def test_nothing_is_left_unfinished() -> None:
    """The source has no note of work left to do and nothing that is not implemented."""
    pattern = re.compile(r"\b(" + "|".join(UNFINISHED) + r")\b")
    found = [
        f"{label(path)}:{number}"
        for path in python_files("src")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if pattern.search(line)
    ]
    assert found == []


def test_the_lock_has_hashes_and_no_address() -> None:
    """Every package of the lock has hashes, and the lock names no address."""
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    assert "://" not in text
    assert "--index" not in text
    blocks = re.split(r"\n(?=[a-z0-9])", text)
    packages = [block for block in blocks if re.match(r"[a-z0-9._-]+(\[.*\])?==", block)]
    assert len(packages) > 50
    assert [block.splitlines()[0] for block in packages if "--hash=sha256:" not in block] == []


def test_every_exemption_has_a_reason() -> None:
    """A lint code is only switched off with the reason beside it."""
    found = [
        f"{label(path)}:{number}"
        for path in python_files("src", "tests", "benchmarks", "tools")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if re.search(r"#\s*no" r"qa(?!: [A-Z]+\d+(, [A-Z]+\d+)* [ -]*\w)", line)
    ]
    assert found == []
