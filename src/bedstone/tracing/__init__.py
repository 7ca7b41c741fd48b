"""Tracing: the graph of lots, back to the loads and forward to the customers."""
