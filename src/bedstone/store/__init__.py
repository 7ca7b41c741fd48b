"""The record kept: SQLite, migrations, sign-in, and the mill folder read and written."""
