"""What the laboratory of Quillback Mill kept in a list of its own: ground grain on the sieves."""

import datetime as dt
import math
import random

__all__ = ["lab_list_files"]

STACK_UM = (4760, 3360, 2380, 1680, 1190, 840, 590, 420, 297, 210, 149, 105, 74, 53)
GROUND_UM = {"CORN-G": 640.0, "BARLEY-G": 690.0}
SPREAD, SAMPLE_G = 2.1, 100.0


def lab_list_files(day: dt.date) -> dict[str, str]:
    """Name and text: a stack of sieves for each ground grain in the morning of a day, in UTC."""
    dice = random.Random(f"sieves {day.isoformat()}")  # noqa: S311  made-up tests
    lines = [f"of,tested_at,sample_g,{','.join(str(one) for one in STACK_UM)},pan"]
    for number, (ground, mean_um) in enumerate(GROUND_UM.items()):
        below = [
            0.5 * (1 + math.erf(math.log(one / mean_um) / math.log(SPREAD) / math.sqrt(2)))
            for one in STACK_UM
        ]
        parts = [upper - lower for upper, lower in zip((1.0, *below), (*below, 0.0), strict=True)]
        masses = [f"{SAMPLE_G * part * dice.gauss(0.996, 0.01):.2f}" for part in parts]
        when = f"{day.isoformat()} 12:{20 * number:02d}Z"
        lines.append(f"{ground},{when},{SAMPLE_G:g},{','.join(masses)}")
    return {"lists/sieves.csv": "\n".join(lines) + "\n"}
