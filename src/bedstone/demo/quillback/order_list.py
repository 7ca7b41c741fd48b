"""A list of orders as a customer of Quillback Mill writes it, and the mapping that reads it."""

import csv
import datetime as dt
import io
from collections.abc import Mapping

__all__ = ["order_list_files"]

MAPPING = """\
# How lists of orders that customers send are read: one section for each customer.
# What stands between { and } is the name of a column of theirs.

[depot]
order = "FD-{Slip no.}"
customer = "depot"
product = "{Feed}"
mass = "{How many}"
unit = "{Of what}"
pack = "bags"
due = "{Wanted by}"
note = "{Remarks}"
dates = "MM/DD/YYYY"
due_time = "15:00"

[depot.words.product]
"Layer 16 % mash" = "LAYER-16"
"Pig starter 20" = "SWINE-ST"

[depot.words.unit]
"sacks" = "bags"
"pounds" = "lb"
"""
HEADER = ("Slip no.", "Feed", "How many", "Of what", "Wanted by", "Remarks")


def order_list_files(day: dt.date) -> Mapping[str, str]:
    """Return files for the demo mill's folder by name; the orders are for the week after ``day``."""
    wanted = (day + dt.timedelta(days=7)).strftime("%m/%d/%Y")
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(HEADER)
    rows.writerow(("2207", "Layer 16 % mash", "80", "sacks", wanted, "two pallets"))
    rows.writerow(("2208", "Pig starter 20", "3,000", "pounds", wanted, ""))
    return {"order_mappings.toml": MAPPING, "lists/depot.csv": out.getvalue()}
