"""Loads at the gate: earlier cargoes, samples and tests, toxins, weights, what is paid."""
