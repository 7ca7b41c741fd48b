"""The counterflow cooler: the bed, tonight's limit by the hour, and what sent hot would do."""
