"""A mill behind its pages, for tests without a browser."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from fakes.page_server import PageMill, page_mill


@pytest.fixture
def mill(tmp_path: Path) -> Iterator[PageMill]:
    """A small mill with a released plan, served on this machine."""
    with page_mill(tmp_path) as served:
        yield served


@pytest.fixture(scope="session")
def read_mill(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The same, shared by tests that only read."""
    with page_mill(tmp_path_factory.mktemp("read")) as served:
        yield served
