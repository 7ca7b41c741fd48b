"""Settings of the whole test run, and the demo mill that many tests walk through."""

import datetime as dt
import os
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from bedstone.cli.parts import Parts
from bedstone.start import parts

HERE = Path(__file__).parent

settings.register_profile("here", deadline=None)
settings.register_profile(
    "ci",
    deadline=None,
    derandomize=True,  # a red run must be red again, on the same example
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],  # two workers share two cores
)
settings.load_profile("ci" if os.environ.get("CI") else "here")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the tests that drive a browser."""
    for item in items:
        if HERE / "browser" in item.path.parents:
            item.add_marker(pytest.mark.browser)


@dataclass(frozen=True, kw_only=True)
class DemoMill:
    """A copy of the demo mill of a test's own, with the parts to work on it."""

    directory: Path
    day: dt.date
    pins: dict[str, str]
    parts: Parts  # their clock stands still on the morning of the day


@pytest.fixture(scope="session")
def demo_made(tmp_path_factory: pytest.TempPathFactory) -> DemoMill:
    """The demo mill, made once for a worker. Tests that write take ``demo_mill``."""
    morning = dt.datetime(2026, 11, 25, 11, 30, tzinfo=dt.UTC)
    joined = parts(lambda: morning)
    directory = tmp_path_factory.mktemp("demo") / "quillback"
    made = joined.demo_folder(directory, None, 1, lambda *_: None)
    return DemoMill(directory=directory, day=made.day, pins=dict(made.pins), parts=joined)


@pytest.fixture
def demo_mill(demo_made: DemoMill, tmp_path: Path) -> DemoMill:
    """A copy of the demo mill that a test may write to."""
    directory = tmp_path / "quillback"
    shutil.copytree(demo_made.directory, directory)
    return DemoMill(
        directory=directory, day=demo_made.day, pins=demo_made.pins, parts=demo_made.parts
    )
