"""Quillback Mill, made up for trying Bedstone, and the simulator that makes its past."""
