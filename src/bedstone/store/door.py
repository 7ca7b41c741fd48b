"""Who may come in: PINs and sessions. Only hashes are kept, beside the journal and never in it."""

import datetime as dt
import hashlib
import secrets
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import Connection, delete, insert, select, update

from bedstone.desk.record import Clock
from bedstone.errors import BadInput, Refused
from bedstone.store.database import Database
from bedstone.store.rows import instant
from bedstone.store.schema import PINS, SESSIONS

__all__ = ["Door"]

_TRIES: Final = 5
_LOCKED: Final = dt.timedelta(minutes=1)  # the first lock-out; each one after is twice as long
_LOCKED_MOST: Final = dt.timedelta(hours=1)
_SESSION: Final = dt.timedelta(hours=12)
_SHORTEST, _LONGEST = 4, 32


class Door:
    """Who may come in.

    A person who gives five wrong PINs in a row is locked out for a minute; after five more for two,
    then four, and so on up to an hour, until the right one is given. A session ends by itself after
    twelve hours.

    Parameters
    ----------
    database : Database
        Where the hashes are kept; that of the record.
    clock : Clock, optional
        What time it is; the machine's clock if left out.
    hasher : PasswordHasher, optional
        How PINs are hashed; argon2id as its makers recommend if left out. Tests hand in a cheap one.
    """

    def __init__(
        self,
        database: Database,
        clock: Clock | None = None,
        *,
        hasher: PasswordHasher | None = None,
    ) -> None:
        self._database = database
        self._clock = clock or _now
        self._hasher = hasher or PasswordHasher()
        self._nobody = self._hasher.hash(secrets.token_hex())

    def set_pin(self, person: str, pin: str) -> None:
        """Keep the hash of a person's PIN, instead of the one before; a lock-out ends, and so do
        the person's sessions.

        Raises
        ------
        BadInput
            If the PIN is not 4 to 32 letters or digits.
        """
        if not person.strip():
            raise BadInput("Nobody is named whose PIN it is.", do="name the person")
        if not (_SHORTEST <= len(pin) <= _LONGEST and pin.isascii() and pin.isalnum()):
            raise BadInput(
                "The PIN cannot be used.",
                seen=f"{len(pin)} signs",
                allowed=f"{_SHORTEST} to {_LONGEST} digits or letters from a to z",
                do="choose another",
            )
        row = {"person": person, "pin_hash": self._hasher.hash(pin), "wrong_tries": 0}
        with self._database.writing() as connection:
            connection.execute(delete(PINS).where(PINS.c.person == person))
            connection.execute(insert(PINS), row)
            connection.execute(delete(SESSIONS).where(SESSIONS.c.person == person))

    def check_pin(self, person: str, pin: str) -> bool:
        """True when it is the person's PIN. It takes as long for one who has none.

        Raises
        ------
        Refused
            If the person is locked out; the words say until when.
        """
        now = instant(self._clock())
        with self._database.reading() as connection:
            row = connection.execute(select(PINS).where(PINS.c.person == person)).first()
        if row is not None and row.locked_until is not None and row.locked_until > now:
            raise _locked_out((row.locked_until - now) // 1_000_000 + 1)
        right = self._is_right(self._nobody if row is None else row.pin_hash, pin)
        if row is None:
            return False
        with self._database.writing() as connection:
            locked_us = _count_try(connection, person, right=right, now=now)
        if locked_us:
            raise _locked_out(locked_us // 1_000_000 + 1)
        return right

    def new_session(self, person: str, at: dt.datetime) -> str:
        """Begin a session and return its token; sessions that are over are cleared away."""
        token = secrets.token_urlsafe(32)
        row = {
            "token_hash": _token_hash(token),
            "person": person,
            "expires_at": instant(at + _SESSION),
        }
        with self._database.writing() as connection:
            connection.execute(delete(SESSIONS).where(SESSIONS.c.expires_at <= instant(at)))
            connection.execute(insert(SESSIONS), row)
        return token

    def session(self, token: str, at: dt.datetime) -> str | None:
        """Return whose session it is; None if it is nobody's or over."""
        query = select(SESSIONS.c.person).where(
            SESSIONS.c.token_hash == _token_hash(token), SESSIONS.c.expires_at > instant(at)
        )
        with self._database.reading() as connection:
            return connection.execute(query).scalar()

    def end_session(self, token: str) -> None:
        """End a session."""
        with self._database.writing() as connection:
            connection.execute(delete(SESSIONS).where(SESSIONS.c.token_hash == _token_hash(token)))

    def _is_right(self, pin_hash: str, pin: str) -> bool:
        try:
            return self._hasher.verify(pin_hash, pin.encode("utf-8", "surrogatepass"))
        except (VerificationError, InvalidHashError):
            return False


def _count_try(connection: Connection, person: str, *, right: bool, now: int) -> int:
    """Count a try; return for how many microseconds the person is locked out, 0 if not at all.

    Tries at the same moment count one after the other, so that many at once are no way round.
    """
    mine = PINS.c.person == person
    row = connection.execute(select(PINS).where(mine)).first()
    if row is not None and row.locked_until is not None and row.locked_until > now:
        return int(row.locked_until - now)
    tries = 0 if right or row is None else row.wrong_tries + 1
    locked_us = _lock(tries) // dt.timedelta(microseconds=1)
    counted = {"wrong_tries": tries, "locked_until": now + locked_us if locked_us else None}
    connection.execute(update(PINS).where(mine).values(counted))
    return locked_us


def _lock(tries: int) -> dt.timedelta:
    """Return for how long so many wrong tries since the last right one lock out."""
    if not tries or tries % _TRIES:
        return dt.timedelta(0)
    doubled = min(tries // _TRIES - 1, 16)  # far beyond the longest; keeps the number small
    return min(_LOCKED * (1 << doubled), _LOCKED_MOST)


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


def _locked_out(seconds: int) -> Refused:
    return Refused(
        "Too many wrong PINs in a row.",
        seen=f"{_TRIES} wrong tries, or more",
        allowed=f"another try in {seconds} s",
        do="wait, or ask the manager for a new PIN",
    )


def _token_hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()
