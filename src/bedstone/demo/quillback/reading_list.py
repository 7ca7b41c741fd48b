"""What the loggers of Quillback Mill wrote in a day, as their own files: a tank's warmth, the power."""

import datetime as dt
import random

__all__ = ["reading_list_files"]

HOURS = 24
WARM_F, SD_F = 105.0, 1.1


def reading_list_files(day: dt.date) -> dict[str, str]:
    """Names and texts: the tank's temperature every hour of a day in UTC, power that flickered."""
    dice = random.Random(f"logger {day.isoformat()}")  # noqa: S311  made-up readings
    lines = ["machine,quantity,read_at,value,unit"]
    for hour in range(HOURS):
        warm_f = round(dice.gauss(WARM_F, SD_F), 1)
        lines.append(f"T01,tank temperature,{day.isoformat()} {hour:02d}:30Z,{warm_f},F")
    power = f"from,to,note\n{day.isoformat()}T02:14,{day.isoformat()}T02:15,flicker in the night\n"
    return {"lists/t01-logger.csv": "\n".join(lines) + "\n", "lists/power.csv": power}
