"""How far each run has come after the mixer, as the record says."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bedstone.desk.record import Record
from bedstone.ledger.model import Movement
from bedstone.mill.model import Mill

__all__ = ["Stage", "shared", "stages_of"]

PELLETED = "pelleting.run_pelleted/1"
PACKED = "finishing.run_packed/1"
SHIPPED = "finishing.shipped/1"


@dataclass(frozen=True, kw_only=True)
class Stage:
    """What has happened to a run, and the pellet line on its way with the bins around it."""

    pelleted: frozenset[str] = frozenset()  # batches
    bags: int = 0
    shipped_bags: int = 0
    shipped_mg: int = 0
    steam_mg: int = 0
    water_mg: int = 0  # that left with the air
    water_sd_mg: int = 0  # of what was reckoned from readings
    pellet_line: str = ""
    before_pellets: str = ""
    after_pellets: str = ""

    def on_route(self, route: Sequence[str], mill: Mill) -> "Stage":
        """The same with the pellet line that a route goes over, if it goes over one."""
        for number, place in enumerate(route):
            machine = mill.machine_by_code.get(place)
            if machine is None or machine.kind != "pellet line" or number in (0, len(route) - 1):
                continue
            return replace(
                self,
                pellet_line=place,
                before_pellets=route[number - 1],
                after_pellets=route[number + 1],
            )
        return self


def stages_of(record: Record) -> dict[str, Stage]:
    """The stage of every run that has been pelleted, packed or shipped."""
    found: dict[str, Stage] = {}
    for one in record.facts(kinds=(PELLETED, PACKED, SHIPPED)):
        content = one.fact.content
        run = str(content.get("run"))
        stage = found.get(run, Stage())
        bags = content.get("bags")
        number = bags if isinstance(bags, int) else 0
        if one.fact.kind == PELLETED:
            listed = content.get("batches")
            names = listed if isinstance(listed, list) else []
            stage = _with_water(stage, one.fact.movements)
            stage = replace(stage, pelleted=stage.pelleted | {str(name) for name in names})
        elif one.fact.kind == PACKED:
            stage = replace(stage, bags=stage.bags + number)
        else:
            gone_mg = sum(
                move.mass_mg for move in one.fact.movements if move.to_place.startswith("customer/")
            )
            stage = replace(
                stage,
                shipped_bags=stage.shipped_bags + number,
                shipped_mg=stage.shipped_mg + gone_mg,
            )
        found[run] = stage
    return found


def _with_water(stage: Stage, movements: Sequence[Movement]) -> Stage:
    """The stage with the water that steam brought and that left with the air."""
    gone = [move for move in movements if (move.to_place, move.material) == ("air", "water")]
    return replace(
        stage,
        steam_mg=stage.steam_mg
        + sum(move.mass_mg for move in movements if move.from_place == "steam"),
        water_mg=stage.water_mg + sum(move.mass_mg for move in gone),
        # readings of a run are off together: its batches' errors add up
        water_sd_mg=stage.water_sd_mg + sum(move.mass_sd_mg for move in gone),
    )


def shared(whole_mg: int, masses_mg: Sequence[int]) -> list[int]:
    """A mass shared out in proportion, to the last milligram."""
    total_mg = sum(masses_mg)
    parts = [whole_mg * mass_mg // total_mg if total_mg else 0 for mass_mg in masses_mg]
    if parts:
        parts[-1] += whole_mg - sum(parts)
    return parts
