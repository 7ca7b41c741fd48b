"""Bins: their shape and level, which bin a load goes to, cover in days, storage life, buying."""
