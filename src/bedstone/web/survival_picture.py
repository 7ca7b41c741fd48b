"""What heat leaves of an additive against the conditioner's temperature, as a picture."""

from markupsafe import Markup

from bedstone.desk.line_heat import AdditiveHeat, left_words, most_words
from bedstone.quantities.line_figures import (
    amount_words,
    temperature_number,
    temperature_unit,
    temperature_words,
)
from bedstone.web.line_plot import Plot, round_ticks, svg, words_at
from bedstone.web.show import Show

__all__ = ["survival_picture"]

TALL, WIDE = 322, 840


def survival_picture(row: AdditiveHeat, show: Show, *, set_c: float) -> Markup:
    """Left at the bag against the setting, with its interval, what is needed, the setting of the
    run and the hottest that surely keeps it; in the tag's unit where there is a tag.
    """
    scale, unit = (100.0, "%") if row.tag is None else (row.tag.put_in, row.tag.unit)
    needed = scale * row.least_left_frac
    warm = [temperature_number(one[0], show.units) for one in row.curve]
    left, low, high = ([scale * one[at] for one in row.curve] for at in (1, 2, 3))
    up = round_ticks(0.0, max(*high, needed), 5)
    plot = Plot(
        left=84, top=56, width=600, height=220, across=(warm[0], warm[-1]), up=(0.0, up[-1])
    )
    ticks = round_ticks(warm[0], warm[-1], 8)
    name = "needed" if row.tag is None else "tag"
    parts = [
        *plot.frame(
            [(one, f"{one:g}") for one in ticks if warm[0] <= one <= warm[-1]],
            [(one, f"{one:,g}") for one in up],
        ),
        words_at(plot.left, 18, f"Left at the bag, {unit}"),
        plot.band(list(zip(warm, low, strict=True)), list(zip(warm, high, strict=True))),
        plot.line(list(zip(warm, left, strict=True)), "limit"),
        plot.level(needed, "needed"),
        words_at(plot.right + 6, plot.y(needed) + 5, f"{name}: {amount_words(needed)}"),
        *_marks(plot, row, show, set_c),
    ]
    label = (
        f"{row.what} against the conditioner's temperature: at {temperature_words(set_c, show.units)} "
        f"{left_words(row)}; {most_words(row, show.units)}"
    )
    return svg(WIDE, TALL, label, parts)


def _marks(plot: Plot, row: AdditiveHeat, show: Show, set_c: float) -> list[Markup]:
    """The setting and the hottest that surely keeps it, named above, each on its own side."""
    marks = [("set", temperature_number(set_c, show.units), "nowline")]
    if row.hottest_c is not None:
        marks.append(("hottest", temperature_number(row.hottest_c, show.units), "needed"))
    marks.sort(key=lambda one: one[1])
    parts = []
    for number, (name, at, css) in enumerate(marks):
        if plot.across[0] <= at <= plot.across[1]:
            side = "end" if number == 0 else "start"
            parts += [
                plot.upright(at, css),
                words_at(plot.x(at), plot.top - 8, f"{name}: {at:.0f}", anchor=side),
            ]
    axis = f"conditioner, {temperature_unit(show.units)}"
    parts.append(words_at(plot.right, plot.bottom + 40, axis, anchor="end", css="soft"))
    return parts
