"""What the command line is handed by ``start``: the parts that it may not import itself."""

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from bedstone.desk.record import Clock, Record
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Weather
from bedstone.mill.order_mapping import Mapped, TheirFile

__all__ = ["Address", "DemoMade", "Door", "MakeDemo", "OpenRecord", "Parts", "Say"]


class Door(Protocol):
    """Who may sign in."""

    def set_pin(self, person: str, pin: str) -> None:
        """Keep a person's PIN, so that only its hash can be read."""
        ...


class Say(Protocol):
    """Where long work says how far it is."""

    def __call__(self, words: str, done: int, of: int) -> None:
        """Say what is being done, and how much of how much is finished."""
        ...


class OpenRecord(Protocol):
    """How a mill folder's record is reached."""

    def __call__(self, directory: Path, *, create: bool = False) -> Record:
        """The record of the folder; begun if there is none and ``create`` allows it."""
        ...


class WriteFolder(Protocol):
    """How a mill folder is written."""

    def __call__(
        self, folder: LoadedFolder, out: Path, *, workbook: bool = False
    ) -> tuple[Path, ...]:
        """Write tables as CSV files, or as sheets of one workbook; what was written."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Where pages are served, and the further names under which they may be asked for."""

    host: str
    port: int  # 0 for any that is free
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoMade:
    """What a demo mill consists of, once written."""

    directory: Path
    day: dt.date
    facts: int
    pins: Mapping[str, str]  # person to PIN, invented, for trying the pages


class MakeDemo(Protocol):
    """How the demo mill is written."""

    def __call__(
        self,
        directory: Path,
        day: dt.date | None,
        seed: int,
        say: Say,
        *,
        hidden_faults: bool = True,
    ) -> DemoMade:
        """Write folder, record and truth; the next whole day if no day is given."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """Everything outside the pure rooms that a command may need."""

    clock: Clock
    new_folder: Callable[[Path], tuple[Path, ...]]
    demo_folder: MakeDemo
    read_folder: Callable[[Path], LoadedFolder]
    write_folder: WriteFolder
    read_orders: Callable[[Path, Path, str], tuple[TheirFile, Mapped]]
    """A customer's list of orders in a file, and the mapping of a mill folder that reads it."""
    read_list: Callable[[Path, Mapping[str, type]], TheirFile]
    """A list that somebody kept in a CSV file or a workbook, and what its columns hold."""
    read_typical_year: Callable[[Path, int], tuple[Weather, ...]]
    """The hours of a typical-year file as if they were of a year."""
    open_record: OpenRecord
    open_door: Callable[[Path], Door]
    serve: Callable[[Path, Address, Callable[[str], None]], None]
