"""A plot of the pellet line: a frame with round ticks, lines, bands and words, as SVG."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

__all__ = ["Plot", "round_ticks", "svg", "words_at"]

Points = Sequence[tuple[float, float]]
ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)


def round_ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round numbers from the one at or below ``low`` to the one at or above ``high``."""
    span = (high - low) or 1.0
    power = 10.0 ** math.floor(math.log10(span / most))
    step = next(power * one for one in ROUND if span / (power * one) <= most)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [step * number for number in range(first, last + 1)]


def svg(width: float, height: float, label: str, parts: Sequence[Markup]) -> Markup:
    """A whole picture with what it shows in words."""
    top = Markup(
        '<svg xmlns="http://www.w3.org/2000/svg" class="line-picture" viewBox="0 0 {} {}" '
        'role="img" aria-label="{}">'
    ).format(round(width), round(height), label)
    return Markup("").join([top, *parts, Markup("</svg>")])


def words_at(x: float, y: float, words: str, *, anchor: str = "start", css: str = "") -> Markup:
    """Words at a place of a picture."""
    return Markup('<text x="{}" y="{}" text-anchor="{}" class="{}">{}</text>').format(
        round(x, 1), round(y, 1), anchor, css, words
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """A frame on a picture, and where values lie in it."""

    left: float
    top: float
    width: float
    height: float
    across: tuple[float, float]
    up: tuple[float, float]

    def x(self, value: float) -> float:
        """Place of a value from the left."""
        low, high = self.across
        return round(self.left + (value - low) / ((high - low) or 1.0) * self.width, 1)

    def y(self, value: float) -> float:
        """Place of a value from the top."""
        low, high = self.up
        return round(
            self.top + self.height - (value - low) / ((high - low) or 1.0) * self.height, 1
        )

    @property
    def bottom(self) -> float:
        """The lower edge."""
        return self.top + self.height

    @property
    def right(self) -> float:
        """The right edge."""
        return self.left + self.width

    def frame(
        self,
        ticks_across: Sequence[tuple[float, str]],
        ticks_up: Sequence[tuple[float, str]],
        *,
        title: str = "",
    ) -> list[Markup]:
        """Ground, grid with its numbers, and a title above."""
        parts = [
            Markup('<rect class="lane" x="{}" y="{}" width="{}" height="{}"/>').format(
                self.left, self.top, self.width, self.height
            )
        ]
        for value, words in ticks_up:
            y = self.y(value)
            parts += [
                self._rule(self.left, y, self.right, y, "grid"),
                words_at(self.left - 6, y + 5, words, anchor="end", css="soft"),
            ]
        for value, words in ticks_across:
            x = self.x(value)
            parts += [
                self._rule(x, self.top, x, self.bottom, "grid"),
                words_at(x, self.bottom + 18, words, anchor="middle", css="soft"),
            ]
        if title:
            parts.append(words_at(self.left, self.top - 8, title))
        return parts

    def line(self, points: Points, css: str) -> Markup:
        """A line through points."""
        places = " ".join(f"{self.x(a)},{self.y(b)}" for a, b in points)
        return Markup('<polyline class="{}" points="{}" fill="none"/>').format(css, places)

    def band(self, low: Points, high: Points, css: str = "interval") -> Markup:
        """The ground between two lines."""
        places = " ".join(f"{self.x(a)},{self.y(b)}" for a, b in (*low, *reversed(high)))
        return Markup('<polygon class="{}" points="{}"/>').format(css, places)

    def upright(self, value: float, css: str) -> Markup:
        """An upright line through the whole frame."""
        x = self.x(value)
        return self._rule(x, self.top, x, self.bottom, css)

    def level(self, value: float, css: str) -> Markup:
        """A level line through the whole frame."""
        y = self.y(value)
        return self._rule(self.left, y, self.right, y, css)

    @staticmethod
    def _rule(x1: float, y1: float, x2: float, y2: float, css: str) -> Markup:
        return Markup('<line class="{}" x1="{}" y1="{}" x2="{}" y2="{}"/>').format(
            css, x1, y1, x2, y2
        )
