"""A PostgreSQL server of the tests' own, started from what the machine has and stopped with them.

It listens on a socket in a folder of its own and on no address. As root, it runs as the user
postgres, because PostgreSQL refuses to run as root.
"""

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import psycopg

from bedstone.store.record import SqlRecord

__all__ = ["PostgresqlServer", "find_binaries", "postgresql_server"]

_USER = "bedstone"
_MADE = "made"  # a database in which the tables have been made; others are copies of it


def find_binaries() -> Path | None:
    """Return the folder that holds initdb and pg_ctl, the newest of Debian's; None if there is none."""
    debian = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"),
        key=lambda path: int(path.parts[4]) if path.parts[4].isdigit() else 0,
    )
    on_path = shutil.which("initdb")
    found = [*([Path(on_path)] if on_path else []), *debian]
    fitting = [
        path.resolve().parent for path in found if (path.resolve().parent / "pg_ctl").exists()
    ]
    return fitting[-1] if fitting else None


class PostgresqlServer:
    """A server that runs; it makes a database for whoever asks."""

    def __init__(self, binaries: Path, folder: Path) -> None:
        self.folder = folder
        self._binaries = binaries
        self._numbers = count(1)
        self._made = False
        self._run("initdb", "-D", self._data, "-U", _USER, "-A", "trust", "-E", "UTF8", "--no-sync")
        self.start()

    @property
    def _data(self) -> str:
        return str(self.folder / "data")

    def _run(self, program: str, *words: str) -> None:
        as_postgres = []
        if os.geteuid() == 0:
            account = pwd.getpwnam("postgres")
            as_postgres = ["setpriv", f"--reuid={account.pw_uid}", f"--regid={account.pw_gid}"]
            as_postgres += ["--clear-groups"]
        command = [*as_postgres, str(self._binaries / program), *words]
        done = subprocess.run(
            command, cwd="/", capture_output=True, text=True, check=False, timeout=60
        )
        assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}\n{done.stderr}"

    def start(self) -> None:
        """Start the server; return when it answers."""
        settings = f"-c listen_addresses= -c unix_socket_directories={self.folder}"
        log = str(self.folder / "log")
        self._run("pg_ctl", "-D", self._data, "-w", "-l", log, "-o", settings, "start")

    def stop(self) -> None:
        """Stop the server at once; who is connected is cut off, what was confirmed is kept."""
        self._run("pg_ctl", "-D", self._data, "-w", "-m", "fast", "stop")

    def sql(self, *statements: str, database: str = "postgres") -> None:
        """Have the server do something, as whoever looks after it."""
        with psycopg.connect(
            host=str(self.folder), user=_USER, dbname=database, autocommit=True
        ) as connection:
            for statement in statements:
                connection.execute(statement.encode())

    def address(self, database: str, *, user: str = _USER) -> str:
        """Return the address of a database as it stands in mill.toml."""
        return f"postgresql://{user}@/{database}?host={self.folder}"

    def new_database(self, *, how: str = "") -> str:
        """Make a database with nothing in it; return its name."""
        name = f"record_{next(self._numbers)}"
        self.sql(f"CREATE DATABASE {name} {how}")
        return name

    def new_record(self) -> str:
        """Make a database with an empty record in it; return its name."""
        if not self._made:
            self._made = True
            self.sql(f"CREATE DATABASE {_MADE}")
            SqlRecord(self.address(_MADE)).close()
        return self.new_database(how=f"TEMPLATE {_MADE}")


@contextmanager
def postgresql_server(binaries: Path) -> Iterator[PostgresqlServer]:
    """Give a server that runs until the block ends; its folder is then gone."""
    with tempfile.TemporaryDirectory(
        prefix="bedstone-pg-"
    ) as made:  # a socket's path must be short
        folder = Path(made)
        if os.geteuid() == 0:
            os.chown(folder, pwd.getpwnam("postgres").pw_uid, -1)
        server = PostgresqlServer(binaries, folder)
        try:
            yield server
        finally:
            server.stop()
