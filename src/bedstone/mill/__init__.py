"""The mill itself: its tables, what a plan of it is, and the residue along its machines."""
