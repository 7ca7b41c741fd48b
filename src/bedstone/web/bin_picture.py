"""The silhouette of a bin with its level and its layers, as SVG."""

from markupsafe import Markup

from bedstone.desk.stock import BinView
from bedstone.ledger.model import FlowPattern
from bedstone.web.bin_outline import FOOT_PX, HEIGHT_PX, WIDTH_PX, Outline, outline_of
from bedstone.web.show import Show

__all__ = ["bin_picture"]


def bin_picture(view: BinView, show: Show, *, size: float = 1.0) -> Markup:
    """What a bin looks like now: filled as high as the book says, layers told apart by shade."""
    outline = outline_of(show.mill, view.bin)
    key = "".join(letter if letter.isalnum() else "-" for letter in view.bin.bin)
    words = f"{show.name(view.bin.bin)}: {show.share(view.fill_frac)} full"
    if outline.words:
        words += f"; {outline.words}"
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
            outline.path,
            outline.path,
            key,
        )
    ]
    parts.extend(layers_drawn(view, show, outline))
    parts.append(
        Markup('</g><path d="{}" fill="none" stroke="#59626a" stroke-width="2"/></svg>').format(
            outline.path
        )
    )
    return Markup("").join(parts)


def layers_drawn(view: BinView, show: Show, outline: Outline) -> list[Markup]:
    """The layers as they lie, each as high as its part of the volume reaches there."""
    part = min(1.0, max(0.0, view.fill_frac))
    whole = sum(max(0, layer.mass_mg) for layer in view.layers)
    if part <= 0:
        return []
    if whole <= 0:
        reach = outline.level_px(part)
        return [
            Markup('<rect class="level" x="0" y="{}" width="{}" height="{}"/>').format(
                round(FOOT_PX - reach, 1), WIDTH_PX, round(reach, 1)
            )
        ]
    drawn, below, foot = [], 0.0, FOOT_PX
    core = view.bin.flow == FlowPattern.FUNNEL.value  # what comes out first lies on top
    for number, layer in enumerate(reversed(view.layers) if core else view.layers):
        below += part * max(0, layer.mass_mg) / whole
        top = FOOT_PX - outline.level_px(min(1.0, below))
        height, foot = foot - top, top
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
