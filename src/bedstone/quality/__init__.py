"""Does the record agree with itself: instruments watched, mass balance, release and hold."""
