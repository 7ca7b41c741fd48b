"""Migrations of the record's tables, oldest first."""
