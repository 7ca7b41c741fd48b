"""Orders to batches, flushes and clean-outs, order of running, timetable, and the verifier."""
