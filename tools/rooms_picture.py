"""The picture of the rooms: an SVG drawn from import-linter's layers in pyproject.toml."""

import tomllib
from html import escape
from pathlib import Path

__all__ = ["layers", "picture"]

ROOT = Path(__file__).parents[1]

WORDS = {
    "start": "joins the parts",
    "cli": "the command line",
    "store": "the record kept; the folder read and written",
    "web": "pages for office and floor",
    "demo": "Quillback Mill and its simulator",
    "papers": "batch sheet, day sheet as PDF",
    "desk": "the day's acts: read the record, ask the stations, append facts",
    "formulation": "least cost, odds on the tag",
    "receiving": "may a load come in",
    "storage": "bins, levels, cover",
    "pelleting": "steam, die, heat",
    "cooling": "the cooler's limit",
    "quality": "drift, balance, cause",
    "planning": "order of running, timetable, verifier",
    "batching": "draws, tolerances, mixing",
    "tracing": "the lot graph",
    "mill": "machines, bins, products, limits; residue along machines",
    "ledger": "facts, movements, chain, stock, layers",
    "materials": "ingredients and their physics",
    "quantities": "units, moisture bases, scale divisions",
    "errors": "the one error tree",
}
WIDTH, HIGH, GAP, SIDE = 880, 52, 12, 20


def layers() -> list[list[str]]:
    """Rooms from the top down, those on one floor together."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (house,) = (
        contract
        for contract in settings["tool"]["importlinter"]["contracts"]
        if contract["id"] == "house"
    )
    return [[room.strip(" ()") for room in layer.split("|")] for layer in house["layers"]]


def picture() -> str:
    """The SVG text: each floor may use the floors below it, never those above or beside it."""
    floors = layers()
    tall = SIDE * 2 + len(floors) * (HIGH + GAP) - GAP + 34
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {tall}" role="img" '
            'font-family="sans-serif">'
        ),
        "<title>The rooms of the house</title>",
        "<desc>Floors from the top down; a room uses only rooms on floors below its own.</desc>",
        f'<rect width="{WIDTH}" height="{tall}" fill="#ffffff"/>',
    ]
    top = SIDE
    for floor in floors:
        wide = (WIDTH - 2 * SIDE - GAP * (len(floor) - 1)) / len(floor)
        for place, room in enumerate(floor):
            parts += _box(room, SIDE + place * (wide + GAP), top, wide)
        top += HIGH + GAP
    parts.append(
        f'<text x="{SIDE}" y="{top + 18}" font-size="14" fill="#333333">A room imports only from '
        "floors below its own. The store is imported by start alone.</text>"
    )
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _box(room: str, left: float, top: float, wide: float) -> list[str]:
    middle = left + wide / 2
    size = 13 if wide > 300 else 11  # noqa: PLR2004 - pixels, chosen by eye
    return [
        (
            f'<rect x="{left:.1f}" y="{top}" width="{wide:.1f}" height="{HIGH}" rx="4" '
            'fill="#f4f4f2" stroke="#666666"/>'
        ),
        (
            f'<text x="{middle:.1f}" y="{top + 21}" font-size="16" font-weight="bold" '
            f'text-anchor="middle" fill="#111111">{escape(room)}</text>'
        ),
        (
            f'<text x="{middle:.1f}" y="{top + 41}" font-size="{size}" '
            f'text-anchor="middle" fill="#333333">{escape(WORDS[room])}</text>'
        ),
    ]
