"""The hand-written mill with its ways joined up, so that the planner can plan it whole."""

from dataclasses import replace

from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Limit, Mill, Route
from fakes.desk_day import a_desk_mill, a_folder, an_order
from fakes.plans import at

__all__ = ["joint_folder", "joint_mill"]

WAYS = {
    ("MX1", "SB1"): 4.0,
    ("SB1", "PL1"): 2.0,
    ("PL1", "FB1"): 3.0,
    ("FB1", "SK1"): 2.0,
    ("MX1", "FB1"): 3.0,
    ("MX1", "FB2"): 3.0,
    ("FB2", "LO1"): 2.0,
    ("FB1", "LO1"): 2.0,
    ("PL1", "FL1"): 0.0,
    ("MX1", "FL1"): 0.0,
    ("SK1", "FL1"): 0.0,
    ("LO1", "FL1"): 0.0,
    ("HA1", "MX1"): 0.0,
}


def joint_mill() -> Mill:
    """One mixer that all feeds share, a pellet line, a sacking line and a load-out."""
    mill = a_desk_mill()
    return replace(
        mill,
        settings=replace(mill.settings, labour_usd_h=300.0),
        limits=(
            *mill.limits,
            Limit(species="pig", substance="monensin", kind="level", level_mg_kg=200.0, source="x"),
        ),
        routes=tuple(
            Route(start=start, end=end, hold_up_kg=kept) for (start, end), kept in WAYS.items()
        ),
        machines=tuple(
            replace(row, hold_up_kg=6.0, discharge_s=60.0, fill_s=240.0, clean_out_s=3600.0)
            if row.machine == "MX1"
            else replace(row, clean_out_s=3600.0)
            for row in mill.machines
        ),
        products=tuple(
            replace(row, route="MX1 > FB1|FB2 > LO1") if row.form == "mash" else row
            for row in mill.products
        ),
    )


def joint_folder() -> LoadedFolder:
    """Orders of a medicated feed, a pig feed rich in copper, and a sheep feed that may get neither."""
    return a_folder(
        mill=joint_mill(),
        orders=(
            an_order(mass_kg=3628.8),
            an_order(
                "4105", product="BROIL-M", pack="bulk", customer="tollgate", mass_kg=1800.0,
                due_at=at("12:00"),
            ),
            an_order(
                "4106", product="PIG-FIN", pack="bulk", customer="stile", mass_kg=3600.0,
                due_at=at("13:00"),
            ),
        ),
    )  # fmt: skip
