"""Draws per scale, hand additions, tolerances, mixing times, and what the controls exported."""
