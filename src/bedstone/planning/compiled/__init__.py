"""The evaluator once more, compiled: the same rules over arrays, for the search alone.

The plain evaluator (``planning/evaluate.py`` with ``between.py``, ``timetable.py`` and
``grinding.py``) says what a day's rules are. What stands here walks the same orders of running to
the same times, flushes and costs, some hundred times as fast; tests hold one against the other on
random days. What the search finds is walked by the plain evaluator before anything is made of it.

Imported where it is used: it needs numba, which nobody who asks for ``--help`` should wait for.
"""
