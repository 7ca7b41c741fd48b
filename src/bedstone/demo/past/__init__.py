"""The parts of the mill simulator: its floor, its orders, its caution, its machines."""
