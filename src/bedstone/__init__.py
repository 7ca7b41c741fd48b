"""Bedstone: the day-book and the reckoning of a feed mill."""

__version__ = "0.1.0"
