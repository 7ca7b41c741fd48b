"""Formulas: least cost that keeps every demand, with odds, prices of limits, and why nothing fits."""
