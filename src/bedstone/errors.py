"""The one error tree. A message says what was found, what is allowed, and what to do.

BedstoneError
|- Refused        a rule of the mill or the law says no; nothing was written
|- BadInput       input cannot be understood or is out of range (also a ValueError)
|- Unknown        no such lot, place or formula; near names are offered (also a LookupError)
|- Conflict       somebody else recorded first; read again
|- NoAnswer       nothing satisfies the demands; carries the demands that clash
|- NotSettled     an iteration did not converge (also an ArithmeticError)
|- RecordDamaged  the chain or a balance does not agree: stop
`- SetupError     wrong configuration, found at start
"""

from dataclasses import dataclass
from typing import ClassVar

__all__ = [
    "BadInput",
    "BedstoneError",
    "Conflict",
    "Fault",
    "NoAnswer",
    "NotSettled",
    "RecordDamaged",
    "Refused",
    "SetupError",
    "Unknown",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong in what a person gave: where it stands, what was found, what is allowed."""

    file: str = ""
    row: int | None = None
    column: str = ""
    found: str
    allowed: str
    do: str = ""

    def __str__(self) -> str:
        """Return one line: file, row, column, found, allowed, what to do."""
        where = ", ".join(
            part
            for part in (
                self.file,
                f"row {self.row}" if self.row is not None else "",
                self._column,
            )
            if part
        )
        text = f"found {self.found}; allowed: {self.allowed}"
        if self.do:
            text += f"; {self.do}"
        return f"{where}: {text}" if where else text

    @property
    def _column(self) -> str:
        """The column of a file; of anything else its name alone, as people call it."""
        return f"column {self.column}" if self.file and self.column else self.column

    def as_dict(self) -> dict[str, object]:
        """Return the fault as plain values for JSON."""
        return {
            "file": self.file,
            "row": self.row,
            "column": self.column,
            "found": self.found,
            "allowed": self.allowed,
            "do": self.do,
        }


class BedstoneError(Exception):
    """Anything that Bedstone reports to a person; the leaves say which kind."""

    http_status: ClassVar[int] = 500
    exit_code: ClassVar[int] = 1

    def __init__(
        self,
        what: str,
        *,
        seen: str = "",
        allowed: str = "",
        source: str = "",
        do: str = "",
        faults: tuple[Fault, ...] = (),
    ) -> None:
        super().__init__(what)
        self.what = what
        self.seen = seen
        self.allowed = allowed
        self.source = source
        self.do = do
        self.faults = faults

    def __str__(self) -> str:
        """Return the message as sentences, faults one a line."""
        parts = [self.what]
        for label, value in (
            ("Found", self.seen),
            ("Allowed", self.allowed),
            ("Rule", self.source),
            ("Do", self.do),
        ):
            if value:
                parts.append(f"{label}: {value}" + ("" if value.endswith(("?", "!", ".")) else "."))
        lines = [" ".join(parts)]
        lines.extend(f"  - {fault}" for fault in self.faults)
        return "\n".join(lines)

    def as_dict(self) -> dict[str, object]:
        """Return the one JSON shape of every error."""
        return {
            "error": type(self).__name__,
            "what": self.what,
            "seen": self.seen,
            "allowed": self.allowed,
            "source": self.source,
            "do": self.do,
            "faults": [fault.as_dict() for fault in self.faults],
        }


class Refused(BedstoneError):
    """A rule of the mill or the law says no; nothing was written."""

    http_status = 409
    exit_code = 3


class BadInput(BedstoneError, ValueError):
    """Input cannot be understood or is out of range."""

    http_status = 400
    exit_code = 2


class Unknown(BedstoneError, LookupError):
    """No such lot, place or formula; near names are offered."""

    http_status = 404
    exit_code = 4


class Conflict(BedstoneError):
    """Somebody else recorded first; read again."""

    http_status = 409
    exit_code = 5


class NoAnswer(BedstoneError):
    """Nothing satisfies the demands; carries the demands that clash."""

    http_status = 422
    exit_code = 6


class NotSettled(BedstoneError, ArithmeticError):
    """An iteration did not converge."""

    http_status = 500
    exit_code = 7


class RecordDamaged(BedstoneError):
    """The chain or a balance does not agree: stop."""

    http_status = 500
    exit_code = 8


class SetupError(BedstoneError):
    """Wrong configuration, found at start."""

    http_status = 500
    exit_code = 9
