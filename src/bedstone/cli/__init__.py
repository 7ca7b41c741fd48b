"""The command line: each command is one order or one view."""
