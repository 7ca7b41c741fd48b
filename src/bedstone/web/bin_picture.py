"""The silhouette of a bin with its level and its layers, as SVG."""

from markupsafe import Markup

from bedstone.desk.stock import BinView
from bedstone.ledger.model import FlowPattern
from bedstone.web.show import Show

__all__ = ["bin_picture"]

WIDTH_PX, HEIGHT_PX = 110, 150
TOP_PX, FOOT_PX = 8, 142
OUTLINES = {
    "hopper": "M14 8H96V100L66 142H44L14 100Z",
    "tank": "M14 20Q14 8 26 8H84Q96 8 96 20V130Q96 142 84 142H26Q14 142 14 130Z",
    "floor": "M10 62H100V142H10Z",
}
SHAPES = {
    "ingredient": "hopper",
    "ground": "hopper",
    "surge": "hopper",
    "finished": "hopper",
    "flush": "hopper",
    "tank": "tank",
    "floor": "floor",
    "warehouse": "floor",
}
TOPS = {"hopper": TOP_PX, "tank": TOP_PX, "floor": 62}


def bin_picture(view: BinView, show: Show, *, size: float = 1.0) -> Markup:
    """What a bin looks like now: filled as high as the book says, layers told apart by shade."""
    shape = SHAPES.get(view.bin.kind, "hopper")
    top = TOPS[shape]
    key = "".join(letter if letter.isalnum() else "-" for letter in view.bin.bin)
    part = min(1.0, max(0.0, view.fill_frac))
    words = f"{show.name(view.bin.bin)}: {show.share(view.fill_frac)} full"
    parts = [
        Markup(
            '<svg xmlns="http://www.w3.org/2000/svg" width="{}" height="{}" viewBox="0 0 {} {}" '
            'role="img" aria-label="{}"><defs><clipPath id="clip-{}"><path d="{}"/></clipPath>'
            '</defs><path class="shell" d="{}"/><g clip-path="url(#clip-{})">'
        ).format(
            round(WIDTH_PX * size),
            round(HEIGHT_PX * size),
            WIDTH_PX,
            HEIGHT_PX,
            words,
            key,
            OUTLINES[shape],
            OUTLINES[shape],
            key,
        )
    ]
    parts.extend(layers_drawn(view, show, top=top, part=part))
    parts.append(
        Markup('</g><path d="{}" fill="none" stroke="#59626a" stroke-width="2"/></svg>').format(
            OUTLINES[shape]
        )
    )
    return Markup("").join(parts)


def layers_drawn(view: BinView, show: Show, *, top: int, part: float) -> list[Markup]:
    """The layers as they lie, each as high as its share."""
    whole = sum(max(0, layer.mass_mg) for layer in view.layers)
    reach = (FOOT_PX - top) * part
    if part <= 0:
        return []
    if whole <= 0:
        return [
            Markup('<rect class="level" x="0" y="{}" width="{}" height="{}"/>').format(
                round(FOOT_PX - reach, 1), WIDTH_PX, round(reach, 1)
            )
        ]
    drawn, foot = [], float(FOOT_PX)
    core = view.bin.flow == FlowPattern.FUNNEL.value  # what comes out first lies on top
    for number, layer in enumerate(reversed(view.layers) if core else view.layers):
        height = reach * max(0, layer.mass_mg) / whole
        foot -= height
        css = "level maybe" if not layer.certain else "level alt" if number % 2 else "level"
        drawn.append(
            Markup(
                '<rect class="{}" x="0" y="{}" width="{}" height="{}"><title>{}</title></rect>'
            ).format(
                css,
                round(foot, 2),
                WIDTH_PX,
                round(height + 0.4, 2),
                f"{layer.lot or 'lot not known'}, {show.mass(layer.mass_mg)}, "
                f"{'certain' if layer.certain else 'possible'}",
            )
        )
    return drawn
