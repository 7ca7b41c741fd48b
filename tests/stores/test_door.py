import datetime as dt
import threading

import pytest
from argon2 import PasswordHasher
from sqlalchemy import select

from bedstone.errors import BadInput, Refused
from bedstone.store.database import Database
from bedstone.store.door import Door
from bedstone.store.record import SqlRecord
from bedstone.store.schema import PINS, SESSIONS

AT = dt.datetime(2026, 3, 2, 7, tzinfo=dt.UTC)
CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)


class _Clock:
    def __init__(self) -> None:
        self.now = AT

    def __call__(self) -> dt.datetime:
        return self.now


@pytest.fixture
def clock() -> _Clock:
    """A clock that stands still until it is set."""
    return _Clock()


@pytest.fixture
def database(database_record: SqlRecord) -> Database:
    """The database of an empty record."""
    return database_record.database


@pytest.fixture
def door(database: Database, clock: _Clock) -> Door:
    """A door behind which Mara has a PIN."""
    door = Door(database, clock, hasher=CHEAP)
    door.set_pin("mara", "2468")
    return door


def test_only_the_right_pin_of_the_right_person_opens(door: Door):
    """A PIN opens for its person alone."""
    assert door.check_pin("mara", "2468")
    assert not door.check_pin("mara", "2469")
    assert not door.check_pin("otto", "2468")
    assert not door.check_pin("mara", "")
    assert not door.check_pin("mara", "\ud800")


def test_a_new_pin_replaces_the_old_one_and_ends_sessions(door: Door):
    """The old PIN and sessions begun with it are worth nothing after a new PIN."""
    token = door.new_session("mara", AT)
    door.set_pin("mara", "1357")
    assert door.check_pin("mara", "1357")
    assert not door.check_pin("mara", "2468")
    assert door.session(token, AT) is None


@pytest.mark.parametrize("pin", ["", "123", "1" * 33, "12 4", "12é4"])
def test_a_pin_that_cannot_be_used_is_refused_in_words(door: Door, pin: str):
    """A PIN too short, too long, or of odd signs is not kept."""
    with pytest.raises(BadInput, match="4 to 32"):
        door.set_pin("otto", pin)
    assert not door.check_pin("otto", pin)
    assert door.check_pin("mara", "2468")


def test_the_fifth_wrong_try_locks_out_for_a_minute(door: Door, clock: _Clock):
    """After five wrong tries even the right PIN is refused, until a minute has gone by."""
    for _ in range(4):
        assert not door.check_pin("mara", "0000")
    with pytest.raises(Refused, match="Too many wrong PINs"):
        door.check_pin("mara", "0000")
    clock.now += dt.timedelta(seconds=59)
    with pytest.raises(Refused, match="another try in 2 s"):
        door.check_pin("mara", "2468")
    clock.now += dt.timedelta(seconds=1)
    assert door.check_pin("mara", "2468")


def _locked_s(door: Door, clock: _Clock) -> int:
    """Five wrong tries: for how many seconds the fifth locks out; the clock is set to its end."""
    for _ in range(4):
        assert not door.check_pin("mara", "0000")
    with pytest.raises(Refused, match="Too many wrong PINs") as locked:
        door.check_pin("mara", "0000")
    seconds = int(locked.value.allowed.split()[-2]) - 1
    clock.now += dt.timedelta(seconds=seconds)
    return seconds


def test_each_lock_lasts_twice_as_long_up_to_an_hour(door: Door, clock: _Clock):
    """Whoever goes on guessing waits 1, 2, 4 ... minutes, never longer than an hour."""
    minutes = [_locked_s(door, clock) / 60 for _ in range(9)]
    assert minutes == [1, 2, 4, 8, 16, 32, 60, 60, 60]


def test_a_right_pin_or_a_new_one_makes_the_locks_short_again(door: Door, clock: _Clock):
    """After the right PIN, and after a new one, the next lock lasts a minute."""
    assert [_locked_s(door, clock) for _ in range(3)] == [60, 120, 240]
    assert door.check_pin("mara", "2468")
    assert [_locked_s(door, clock) for _ in range(2)] == [60, 120]
    door.set_pin("mara", "1357")
    assert _locked_s(door, clock) == 60


def test_a_right_pin_clears_the_count_of_wrong_ones(door: Door):
    """Four wrong tries, a right one, four wrong ones: nobody is locked out."""
    for _ in range(2):
        for _ in range(4):
            assert not door.check_pin("mara", "0000")
        assert door.check_pin("mara", "2468")


def test_many_tries_at_once_are_no_way_round_the_lock(door: Door):
    """Of twenty wrong tries at the same time no more than four are simply wrong."""
    wrong: list[bool] = []
    locked: list[Refused] = []

    def guess() -> None:
        try:
            wrong.append(door.check_pin("mara", "0000"))
        except Refused as error:
            locked.append(error)

    threads = [threading.Thread(target=guess) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == [False] * 4
    assert len(locked) == 16


def test_a_session_lasts_twelve_hours(door: Door):
    """A token names its person until twelve hours are over."""
    token = door.new_session("mara", AT)
    assert door.session(token, AT + dt.timedelta(hours=11, minutes=59)) == "mara"
    assert door.session(token, AT + dt.timedelta(hours=12)) is None
    assert door.session("x" + token, AT) is None
    assert door.session("\ud800", AT) is None


def test_a_session_that_was_ended_is_over(door: Door):
    """Signing out ends this session and no other."""
    first, second = door.new_session("mara", AT), door.new_session("mara", AT)
    door.end_session(first)
    assert door.session(first, AT) is None
    assert door.session(second, AT) == "mara"


def test_neither_pin_nor_token_can_be_read_from_the_file(door: Door, database: Database):
    """Only hashes are kept, and sessions that are over are cleared away."""
    old = door.new_session("mara", AT - dt.timedelta(days=1))
    token = door.new_session("mara", AT)
    with database.reading() as connection:
        (pin_hash,) = connection.execute(select(PINS.c.pin_hash)).scalars()
        kept = connection.execute(select(SESSIONS.c.token_hash)).scalars().all()
    assert pin_hash.startswith("$argon2id$")
    assert "2468" not in pin_hash
    assert len(kept) == 1
    assert token not in kept
    assert old not in kept


def test_pins_are_hashed_dearly_unless_a_test_says_otherwise(database: Database):
    """Without a hasher handed in, a PIN costs at least 64 MiB to try."""
    Door(database).set_pin("otto", "2468")
    with database.reading() as connection:
        (pin_hash,) = connection.execute(select(PINS.c.pin_hash)).scalars()
    assert "m=65536" in pin_hash
