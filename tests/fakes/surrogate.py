"""The one additive whose loss was published from a mill: a surrogate organism, for tests."""

from typing import Final

from bedstone.pelleting.heat_damage import Kinetics

__all__ = ["PILOT_MILL_SURROGATE"]

PILOT_MILL_SURROGATE: Final = Kinetics(
    additive="Enterococcus faecium (surrogate)",
    d_s=135.4,
    at_c=70.0,
    z_dk=32.7,
    d_spread=1.5,
    measured="a pilot mill",
    source=(
        "D 135.4 s at 70 C and 47.1 s at 85 C in a pilot mill, 115 s of conditioning (Coe et al. "
        "2025, Poultry Science 104:104998); z from these two. The spread is ours."
    ),
)
