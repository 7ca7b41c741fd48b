"""Settings of the whole test run."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

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
    """Mark the tests that drive a browser, and keep them together in one worker."""
    for item in items:
        if HERE / "browser" in item.path.parents:
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.xdist_group("browser"))
