"""The acts of the day, one module per act: read the record, call stations, append facts."""
