"""A truck of corn at the gate of Quillback Mill, as a file for the command line."""

import json

__all__ = ["load_files"]

LB_MG = 453_592.37
TESTS = (
    ("moisture", 15.8, "%"),
    ("bulk density", 56.5, "lb/bu"),
    ("foreign matter", 2.1, "%"),
    ("aflatoxin", 4.0, "ug/kg"),
)


def load_files() -> dict[str, str]:
    """Name and text of the file."""
    load = {
        "ticket": "T29117",
        "firm": "harrow",
        "ingredient": "CORN",
        "lot": "L-GATE-CORN",
        "carrier": "dustyroad",
        "carrier_kind": "truck",
        "cargoes": ["grain", "fertiliser", "grain"],
        "cleaned": "washed",
        "wash_ticket": "W-3302",
        "seals": "intact",
        "papers": "right",
        "odour": "as usual",
        "insects": "none",
        "foreign": "none",
        "tests": [{"test": test, "value": value, "unit": unit} for test, value, unit in TESTS],
        "weighbridge": "WB1",
        "gross_mg": round(42_000 * LB_MG),
        "tare_mg": round(30_000 * LB_MG),
    }
    return {"lists/load.json": json.dumps(load, indent=2) + "\n"}
