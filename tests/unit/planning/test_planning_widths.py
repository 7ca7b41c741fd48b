"""Widths of rows that the compiler knows are the widths that a day's tables have."""

from bedstone.planning.compiled.encode import Encoded
from bedstone.planning.compiled.pack import pack
from bedstone.planning.compiled.tables import FIXED
from bedstone.planning.day import open_day
from fakes.random_days import random_day


def test_widths_known_beforehand_are_those_of_every_day():
    """On days of several sizes each width that is fixed is what the packed tables say of it."""
    for seed, orders in ((1, 4), (2, 9), (3, 17)):
        day = open_day(random_day(seed, orders=orders))
        ti = pack(Encoded(day.evaluator, day.work.jobs), seed=seed).ti
        found = {n: int(ti[2 * n + 1]) for n in range(FIXED.size) if FIXED[n]}
        assert found == {n: int(FIXED[n]) for n in found}
