"""Kinds of what can be wrong, and what to do about each now."""

from collections.abc import Mapping
from typing import Final

from bedstone.mill.model import Mill
from bedstone.quality.watch_levels import GAUGE, WRONG_BIN

__all__ = ["BAG_SCALE", "DOUBLED", "LANDING", "SHIFT", "STUCK", "WORN", "to_do"]

BAG_SCALE = "bag scale"
SHIFT, LANDING = "reading shift", "landing shift"
STUCK, DOUBLED, WORN = "stuck reading", "double micro", "worn mixer"
LOTS: Final = "Decide on the hold of the lots named; sample them and have them assayed."
DIAL: Final = (
    "Hold the {what} of {code} against a second instrument in the same place.",
    "Until it is right, do not set the line by it.",
)
STEPS: Final[Mapping[str, tuple[str, ...]]] = {
    GAUGE: ("Dip or sound {code} by hand and compare it with its gauge.",),
    SHIFT: DIAL,
    STUCK: DIAL,
    WRONG_BIN: (
        "Look which gate really opens when {code} is called for, and what lies in both bins.",
        LOTS,
    ),
    DOUBLED: ("Find out whether it was added twice: count the sacks, ask who weighed it.", LOTS),
    WORN: (
        "Test it again with ten samples or more; lengthen the mixing time until then.",
        "Look for worn ribbons or paddles, leaking gates and overfilling; lock it out first.",
        LOTS,
    ),
    LANDING: (
        "Look at the gate and the flow out of {code}, then set its cut-off anew.",
        "The lots are booked as weighed: nothing in them is in doubt.",
    ),
    BAG_SCALE: (
        "Stop filling over the bag scale of {code}; weigh ten bags on a proved scale.",
        LOTS,
        "Adjust it, prove it with test weights, and record both.",
    ),
}


def to_do(mill: Mill, about: str, kind: str, *, has_lots: bool) -> tuple[str, ...]:
    """What to do now about something that was found wrong."""
    code, _, what = about.partition(" ")
    if what == BAG_SCALE:
        steps = STEPS[BAG_SCALE]
    elif kind == STUCK and not what:
        steps = STEPS[GAUGE]
    elif kind in STEPS:
        steps = STEPS[kind]
    elif what:
        steps = ("Prove the {what} of {code} against something known, and adjust it.",)
    else:
        how = "a catch test" if code in mill.meter_by_code else "test weights"
        steps = (
            f"Stop dosing over {{code}} until it is proved with {how}.",
            LOTS,
            "Adjust it, prove it again, and record both.",
        )
    return tuple(step.format(code=code, what=what) for step in steps if has_lots or step != LOTS)
