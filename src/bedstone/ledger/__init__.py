"""Facts, movements, lots and what can be read from them by folding. Values only, no database."""
